"""What a scope consists of. Lengths are metres, money is in the currency of the rate book."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal

from scoring.types import Alarm
from scoring.units import Units

Scenario = Literal["low", "likely", "high"]
# area: a surface (sy); section and face: a cross-section and a trench wall (sf)
Kind = Literal["length", "size", "area", "section", "face", "volume", "each", "days", "loads", "percent"]
PlanName = Literal["least_cost", "least_digging", "whole_line"]

SCENARIOS: tuple[Scenario, ...] = ("low", "likely", "high")


@dataclass(frozen=True, slots=True)
class Span:
    """A range that stays a range: low, likely, high."""

    low: Decimal
    likely: Decimal
    high: Decimal

    def pick(self, scenario: Scenario) -> Decimal:
        """Return one of the three figures."""
        if scenario == "low":
            return self.low
        return self.likely if scenario == "likely" else self.high


@dataclass(frozen=True, slots=True)
class Measure:
    """A number inside a formula; its kind says how it is shown in ft, in or cy."""

    value: Decimal
    kind: Kind


@dataclass(frozen=True, slots=True)
class Quantity:
    """How much of an item, in SI (m, m2, m3, each), and how that comes about.

    `formula` holds one `{}` per measure. `range` is set where the ground leaves the quantity open.
    """

    item: str
    kind: Kind
    amount: Decimal
    formula: str
    measures: tuple[Measure, ...] = ()
    range: tuple[Decimal, Decimal] | None = None
    amount_due: Decimal | None = None  # likely price of this line, to the cent; None: not priced by itself


@dataclass(frozen=True, slots=True)
class PayerShare:
    """What one payer carries of a section, with the rule that says so."""

    payer: str
    cost: Span
    rule: str
    source: str


@dataclass(frozen=True, slots=True)
class Check:
    """One engineering or rule check on a section: what it found and what to mind."""

    check: str
    governs: str
    summary: str
    source: str
    cautions: tuple[str, ...] = ()
    results: tuple[tuple[Units, Mapping[str, Any]], ...] = ()  # by system of units


@dataclass(frozen=True, slots=True)
class Section:
    """One piece of work: a method from a station to a station."""

    from_m: Decimal
    to_m: Decimal
    method: str
    cures: tuple[str, ...]
    quantities: tuple[Quantity, ...]
    checks: tuple[Check, ...]
    cost: Span
    payer_shares: tuple[PayerShare, ...]
    cautions: tuple[str, ...]
    reasons: tuple[str, ...]
    life_years: tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Watched:
    """A defect that is looked at again instead of repaired."""

    defect: str
    look_again_by: str | None  # ISO date
    look_again_in_years: int
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why one method does not serve one defect."""

    method: str
    limit: str
    detail: str
    source: str


@dataclass(frozen=True, slots=True)
class NotCurable:
    """A defect to be fixed that no allowed method can fix, and why."""

    defect: str
    reason: str
    refused: tuple[Refusal, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Proof:
    """How good a plan is for its objective. `optimal` means: no plan is cheaper than `lower_bound`."""

    optimal: bool
    lower_bound: Decimal
    method: str


@dataclass(frozen=True, slots=True)
class Left:
    """A stretch a plan does not touch though its name promises it."""

    from_m: Decimal
    to_m: Decimal
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One way to deal with the whole lateral."""

    name: PlanName
    objective: str
    sections: tuple[Section, ...]
    total: Span
    payers: tuple[PayerShare, ...]
    dug_volume_m3: Decimal
    dug_length_m: Decimal
    against_least_cost: Decimal  # likely total less the likely total of `least_cost`
    leaves: tuple[Left, ...]
    proof: Proof


@dataclass(frozen=True, slots=True)
class Scope:
    """What should be done about a lateral, with the plans to choose from."""

    plans: tuple[Plan, ...]
    monitor: tuple[Watched, ...]
    not_curable: tuple[NotCurable, ...]
    refused: tuple[tuple[str, tuple[Refusal, ...]], ...]  # per defect: the methods that do not serve it
    alarms: tuple[Alarm, ...]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]
    proof: Proof
    waiting: dict[str, object]
    currency: str
    rate_book: tuple[str, str]
    rule_set: tuple[str, str]
    rules: tuple[str, str]
    as_of: str | None
    impossible: str | None = None
