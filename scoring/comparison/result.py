"""What an earlier and a later inspection of one lateral say side by side."""

from dataclasses import dataclass
from decimal import Decimal

from scoring.types import LateralDefect


@dataclass(frozen=True, slots=True)
class Change:
    """One measure that differs by more than `doubt`, what two crews may differ by without any change.

    `doubt` is None for words (a kind, a degree) and for what is either seen or not.
    """

    measure: str
    earlier: str | bool | Decimal | None
    later: str | bool | Decimal | None
    doubt: Decimal | None
    is_worse: bool
    rule: str


@dataclass(frozen=True, slots=True)
class Compared:
    """One finding in either or both inspections, each with its station in its own lateral."""

    earlier: LateralDefect | None
    later: LateralDefect | None
    changes: tuple[Change, ...]
    reason: str
    is_certain: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """Only what both saw is compared; the rest is in `not_seen`, with the inspection that did not see it named.

    `compared_m` is the length that both saw. `is_tied` False: nothing ties the two to each other, nothing is
    compared, and `reason` says so.
    """

    is_tied: bool
    reason: str
    compared_m: Decimal
    new: tuple[Compared, ...] = ()
    grown: tuple[Compared, ...] = ()
    unchanged: tuple[Compared, ...] = ()
    repaired: tuple[Compared, ...] = ()
    not_seen: tuple[Compared, ...] = ()
    rules: str = ""
