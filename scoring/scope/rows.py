"""One item per metre of line, with the unit price the rate book gives for it there."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

from scoring.scope.ground import Cell
from scoring.scope.methods import Method
from scoring.scope.rate_book import DepthRate, LengthRate, MethodRates
from scoring.scope.types import Kind, Scenario, Span

UNIT: Final = 10**12  # whole numbers per unit of currency
PER_UM: Final = Decimal(10**6)  # a price per metre as whole numbers per micrometre


@dataclass(frozen=True, slots=True)
class Surcharge:
    """What a surface adds to a price per metre."""

    surface: str
    price: Span


@dataclass(frozen=True, slots=True)
class Row:
    """One item per metre of line: how much, the price of one unit of it, and where the rate book says so.

    `price` has the surcharge in it. A row without a price is derived: another item's price pays for it.
    """

    item: str
    kind: Kind
    per_m: Decimal
    price: Span | None
    rate_item: str | None = None
    surcharge: Surcharge | None = None

    def rate(self, scenario: Scenario) -> int:
        """Return the price per micrometre as a whole number."""
        if self.price is None:
            return 0
        per_m = self.per_m * self.price.pick(scenario) * PER_UM
        return int(per_m.to_integral_value(rounding=ROUND_HALF_EVEN))


def length_row(method: Method, rates: MethodRates, cell: Cell, scenario: Scenario) -> Row:
    """Return a metre of the method itself in a cell."""
    base = length_rate(rates.per_length, cell.diameter_mm, mean_depth_m(cell, scenario)).price
    item, extra = f"methods/{method.name}/per_length", rates.surface_extra.get(cell.surface)
    if extra is None:
        return Row(method.name, "length", Decimal(1), base, item)
    price = Span(base.low + extra.low, base.likely + extra.likely, base.high + extra.high)
    return Row(method.name, "length", Decimal(1), price, item, Surcharge(cell.surface, extra))


def mean_depth_m(cell: Cell, scenario: Scenario) -> Decimal:
    first, last = cell.depths_m[scenario]
    return (first + last) / 2


def length_rate(rates: Sequence[LengthRate], diameter_mm: Decimal, depth_m: Decimal) -> LengthRate:
    """Return the first row that reaches the size and the depth; beyond all rows, the last one."""
    for rate in rates:
        if diameter_mm <= rate.diameter_up_to_mm and depth_m <= rate.depth_up_to_m:
            return rate
    return rates[-1]


def pit_rate(rates: Sequence[DepthRate], depth_m: Decimal) -> DepthRate:
    """Return the first row that reaches the depth; beyond all rows, the last one."""
    return next((rate for rate in rates if depth_m <= rate.depth_up_to_m), rates[-1])
