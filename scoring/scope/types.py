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

    `formula` holds one `{}` per measure. `range` is set where low and high differ from the likely amount. A derived
    quantity has no price of its own: `priced_in` names the item that pays for it.
    """

    item: str
    kind: Kind
    amount: Decimal
    formula: str
    measures: tuple[Measure, ...] = ()
    range: tuple[Decimal, Decimal] | None = None
    amount_due: Decimal | None = None  # likely price of this line, to the cent; None: not priced by itself
    due: Span | None = None  # its price in each case
    rates: tuple["Rate", ...] = ()
    rate_item: str | None = None  # where in the rate book the unit price stands
    priced_in: str | None = None


@dataclass(frozen=True, slots=True)
class Rate:
    """A part of a quantity at one unit price (per SI unit); the price has the surface's surcharge in it."""

    amount: Decimal
    unit_price: Span
    surcharge: tuple[str, Span] | None = None


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
class ZoneShare:
    """What a section costs in one zone, between two stations, and how it was divided."""

    zone: str
    from_m: Decimal
    to_m: Decimal
    cost: Span
    how: str


@dataclass(frozen=True, slots=True)
class Shared:
    """A stretch that another section of the plan works too."""

    order: int  # of the other section
    from_m: Decimal
    to_m: Decimal
    note: str


@dataclass(frozen=True, slots=True)
class Section:
    """One piece of work: a method from a station to a station.

    `order` is its place in the order of work, 1 first. `extents_m` gives from and to in the low and the high case.
    `incomplete` says why the work there is not complete; `cures_in_part` names what it cures only as far as was seen.
    """

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
    extents_m: tuple[tuple[Decimal, Decimal], tuple[Decimal, Decimal]]
    zones: tuple[ZoneShare, ...] = ()
    cures_in_part: tuple[str, ...] = ()
    incomplete: str | None = None
    order: int = 0
    order_reasons: tuple[str, ...] = ()
    shares: tuple[Shared, ...] = ()


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
    """How good a plan is for its objective. `optimal` means: no plan is cheaper than `lower_bound`.

    Without a plan nothing is proved: `optimal` is False and there is no bound.
    """

    optimal: bool
    lower_bound: Decimal | None
    method: str


@dataclass(frozen=True, slots=True)
class Left:
    """A stretch a plan does not touch though its name promises it. None: nobody knows how far it goes."""

    from_m: Decimal | None
    to_m: Decimal | None
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One way to deal with the whole lateral.

    Not possible: nothing that must be fixed may or can be, for the `reason`; such a plan has no price at all. A plan
    that is possible has a `reason` where it leaves something that must be fixed, or part of it.
    """

    name: PlanName
    objective: str
    sections: tuple[Section, ...]
    total: Span | None
    payers: tuple[PayerShare, ...]
    dug_volume_m3: Decimal
    dug_length_m: Decimal
    against_least_cost: Decimal | None  # likely total less the likely total of `least_cost`
    leaves: tuple[Left, ...]
    proof: Proof
    is_possible: bool = True
    reason: str | None = None


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
