"""What a bid says, and what holding it against a plan gives. Money is in the currency of the scope."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from scoring.scope.types import Span
from scoring.units import Units


@dataclass(frozen=True, slots=True)
class BidLine:
    """One line as the bidder wrote it.

    With a unit price it is so many units of an item; without one its extension is a lump sum: for an item, for a
    whole section (no item), or for the whole plan (neither). `number` and `section` count from 1.
    """

    number: int
    section: int | None
    item: str | None
    quantity: Decimal | None
    unit: str | None
    unit_price: Decimal | None
    extension: Decimal | None


@dataclass(frozen=True, slots=True)
class Bid:
    """A contractor's bid. `total` is what was written under the lines, if anything was."""

    id: str
    bidder: str
    currency: str
    lines: tuple[BidLine, ...]
    total: Decimal | None = None
    exclusions: tuple[str, ...] = ()
    received_on: date | None = None
    valid_until: date | None = None


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing to know about a bid, with a stable code; `line` is the number of the line it is about."""

    code: str
    detail: str
    line: int | None = None


@dataclass(frozen=True, slots=True)
class CorrectedLine:
    """What a line comes to once its unit price governs over its extension."""

    number: int
    extension: Decimal
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class Corrected:
    """A bid with its arithmetic done again; what was written stays as written beside it."""

    lines: tuple[CorrectedLine, ...]
    total: Decimal
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """One line of a plan that bidders price.

    `amounts` holds quantity and unit in each system of units; `cost` is the likely price, None where the plan prices
    the line together with others; `prices` the range of one unit, None where the rate book has no row for it.
    """

    section: int
    item: str
    amounts: Mapping[Units, tuple[Decimal, str]]
    cost: Decimal | None
    prices: Mapping[Units, Span] | None


@dataclass(frozen=True, slots=True)
class AskedSection:
    """One section of a plan, with its lines."""

    number: int
    method: str
    cures: tuple[str, ...]
    ends_m: tuple[Decimal, Decimal]
    cost: Span
    lines: tuple[Asked, ...]
    zones: tuple[Decimal, ...] = ()  # its likely cost in each zone, from the building down; empty: not known


@dataclass(frozen=True, slots=True)
class AskedPlan:
    """The plan that is bid on."""

    name: str
    currency: str
    total: Span
    sections: tuple[AskedSection, ...]

    @property
    def lines(self) -> tuple[Asked, ...]:
        """All lines of all sections, in order."""
        return tuple(line for section in self.sections for line in section.lines)


@dataclass(frozen=True, slots=True)
class HeldLine:
    """One line of a bid beside what the plan says there."""

    written: BidLine
    extension: Decimal
    covers: tuple[Asked, ...]
    at_asked_quantity: Decimal
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class HeldBid:
    """One bid held against the plan. `rank` 1 is the lowest corrected total; equal totals share a rank."""

    bid: Bid
    lines: tuple[HeldLine, ...]
    missing: tuple[Asked, ...]
    total: Decimal
    at_asked_quantities: Decimal
    remarks: tuple[Remark, ...]
    rank: int = 0

    @property
    def is_complete(self) -> bool:
        """Whether every line the plan prices is priced."""
        return not self.missing


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A bid that is not compared, and why."""

    bid: Bid
    code: str
    detail: str


@dataclass(frozen=True, slots=True)
class Paid:
    """What one payer carries of a bid, to the cent."""

    payer: str
    amount: Decimal
    rule: str
    source: str


@dataclass(frozen=True, slots=True)
class Shared:
    """Who pays the lowest complete bid; the amounts add up to its corrected total."""

    bid: Bid
    total: Decimal
    paid: tuple[Paid, ...]
    not_shared: Decimal  # lines the plan does not have: no programme pays a share of them
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """All bids on one plan, the lowest first."""

    plan: AskedPlan
    bids: tuple[HeldBid, ...]
    left_out: tuple[LeftOut, ...] = field(default=())

    @property
    def lowest(self) -> HeldBid | None:
        """The lowest bid, complete or not."""
        return self.bids[0] if self.bids else None

    @property
    def lowest_complete(self) -> HeldBid | None:
        """The lowest bid that prices everything."""
        return next((held for held in self.bids if held.is_complete), None)
