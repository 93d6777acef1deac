"""What one metre of a method takes in one cell: the items, how much of each, and its unit price.

The search for the cheapest plan and the priced sections read the same rows, so a plan's total is the sum the
search made least.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cached_property
from typing import Final

from scoring.scope.curve import Curve
from scoring.scope.ground import Cell, Ground
from scoring.scope.limits import IRON
from scoring.scope.methods import STREETS, Method
from scoring.scope.rate_book import DepthRate, LengthRate, MethodRates, RateBook
from scoring.scope.trench import (
    FIVE_FEET_M,
    SLOPE_BY_SOIL,
    Earthworks,
    Pipe,
    mean_cross_section,
    new_pipe,
    trench_width_m,
)
from scoring.scope.types import Kind, Scenario, Span
from scoring.types import Lateral, Site

UNIT: Final = 10**12  # whole numbers per unit of currency
CENT: Final = UNIT // 100
_PER_UM: Final = Decimal(10**6)  # a price per metre as whole numbers per micrometre

DIGGING: Final = ("spot_repair", "open_cut_replacement", "trap_removal", "inside_replacement")
LINING: Final = ("full_liner", "sectional_liner")
RECONNECTS: Final = ("full_liner", "sectional_liner", "pipe_bursting", "open_cut_replacement", "spot_repair")


@dataclass(frozen=True, slots=True)
class Row:
    """One item per metre of line: how much, and the price of one unit of it."""

    item: str
    kind: Kind
    per_m: Decimal
    price: Span | None

    def rate(self, scenario: Scenario) -> int:
        """Return the price per micrometre as a whole number."""
        if self.price is None:
            return 0
        per_m = self.per_m * self.price.pick(scenario) * _PER_UM
        return int(per_m.to_integral_value(rounding=ROUND_HALF_EVEN))


@dataclass(frozen=True, slots=True)
class Cut:
    """The trench over one cell: its mean cross-section and shape."""

    areas: Earthworks
    depth_m: Decimal  # mean, to the trench bottom
    width_m: Decimal
    top_width_m: Decimal
    slope: Decimal
    shored_m2: Decimal  # wall held per metre of trench
    pipe: Pipe


class Takeoff:
    """The rows of every method in every cell of one line, made when first asked for."""

    def __init__(self, lateral: Lateral, site: Site, ground: Ground, book: RateBook) -> None:
        self.lateral, self.site, self.ground, self.book = lateral, site, ground, book
        self._cuts: dict[tuple[int, Scenario], Cut] = {}
        self._rows: dict[tuple[str, int, Scenario], tuple[Row, ...]] = {}
        self._index = {id(cell): number for number, cell in enumerate(ground.cells)}

    def number(self, cell: Cell) -> int:
        """Return a cell's number along the line."""
        return self._index[id(cell)]

    def cut(self, cell: Cell, scenario: Scenario) -> Cut:
        """Return the trench over a cell."""
        key = (self.number(cell), scenario)
        if key not in self._cuts:
            self._cuts[key] = self._open(cell, scenario)
        return self._cuts[key]

    def _open(self, cell: Cell, scenario: Scenario) -> Cut:
        trench = self.book.trench
        pipe = new_pipe(cell.diameter_mm)
        width_m = trench_width_m(pipe.outside_m, trench.minimum_width_m)
        below = pipe.wall_m + trench.bedding_m
        first, last = (depth + below for depth in cell.depths_m[scenario])
        depth_m = (first + last) / 2
        slope = self._slope(depth_m)
        areas = mean_cross_section((first, last), width_m, slope, pipe, trench.bedding_m, trench.cover_m)
        held = 2 * depth_m if self._is_shored(depth_m) else Decimal(0)
        return Cut(areas, depth_m, width_m, width_m + 2 * slope * depth_m, slope, held, pipe)

    def _slope(self, depth_m: Decimal) -> Decimal:
        if self.book.trench.protection == "shored" or depth_m < FIVE_FEET_M:
            return Decimal(0)
        return SLOPE_BY_SOIL[self.site.soil or "unclassified"]

    def _is_shored(self, depth_m: Decimal) -> bool:
        return self.book.trench.protection == "shored" and depth_m >= FIVE_FEET_M

    def rows(self, method: Method, cell: Cell, scenario: Scenario) -> tuple[Row, ...]:
        """Return what a metre of a method takes in a cell, restoration left out."""
        key = (method.name, self.number(cell), scenario)
        if key not in self._rows:
            rates = self.book.methods[method.name]
            rows = [_length_row(method, rates, cell, scenario)]
            if method.name in DIGGING:
                rows += self._earth_rows(cell, scenario)
            if method.name in LINING:
                rows.append(self._cleaning_row(cell, scenario))
            if method.digs and cell.surface in STREETS:
                per_m = 1 / rates.output_m_per_day
                rows.append(Row("traffic_control", "days", per_m, self.book.traffic_day))
            self._rows[key] = tuple(rows)
        return self._rows[key]

    def _earth_rows(self, cell: Cell, scenario: Scenario) -> list[Row]:
        cut = self.cut(cell, scenario)
        prices = self.book.earthworks
        areas = cut.areas
        spoil = areas.excavation if cell.surface in STREETS else areas.excavation - areas.backfill
        loose = spoil * (1 + self.book.trench.swell_percent / 100)
        rows = [
            Row("excavation", "volume", areas.excavation, prices["excavation"]),
            Row("bedding", "volume", areas.bedding, None),
            Row("pipe_in_trench", "volume", areas.pipe, None),
            Row("embedment", "volume", areas.embedment, prices["bedding"]),
            Row("backfill", "volume", areas.backfill, prices["backfill"]),
            Row("spoil", "volume", spoil, None),
            Row("spoil_haul", "volume", loose, prices["spoil_haul"]),
        ]
        if cut.shored_m2:
            rows.append(Row("shoring", "face", cut.shored_m2, self.book.shoring))
        return rows

    def _cleaning_row(self, cell: Cell, scenario: Scenario) -> Row:
        name = "descaling" if cell.material in IRON else "root_cutting_and_cleaning"
        depth_m = _mean_depth(cell, scenario)
        price = length_rate(self.book.methods[name].per_length, cell.diameter_mm, depth_m).price
        return Row("clean_before_lining", "length", Decimal(1), price)

    def restoration_row(self, method: Method, cell: Cell, scenario: Scenario) -> Row | None:
        """Return the surface put back per metre of trench, with the cut-back on both sides."""
        if method.name not in DIGGING:
            return None
        width_m = self.cut(cell, scenario).top_width_m + 2 * self.book.trench.cut_back_m
        item = f"restore_{cell.surface}"
        return Row(item, "area", width_m, self.book.restoration[cell.surface])

    @cached_property
    def connections_um(self) -> list[int]:
        """Where other pipes join, each of which is connected again."""
        stations = [each.station_m for each in self.lateral.features if each.feature.kind == "connection"]
        return sorted(int(station * 10**6) for station in stations if station is not None)

    def curve(self, method: Method, scenario: Scenario) -> Curve:
        """Return the rising cost along the line, restoration left out."""
        rates = [sum(row.rate(scenario) for row in self.rows(method, cell, scenario)) for cell in self.ground.cells]
        steps: Sequence[tuple[int, int]] = ()
        if method.name in RECONNECTS:
            each = int(self.book.connection.pick(scenario) * UNIT)
            steps = [(at, each) for at in self.connections_um]
        return Curve(self.ground.marks, rates, steps)

    def restoration_curve(self, method: Method, scenario: Scenario) -> Curve | None:
        """Return the rising cost of the surface along the line; None where nothing is opened."""
        rows = [self.restoration_row(method, cell, scenario) for cell in self.ground.cells]
        if not any(rows):
            return None
        return Curve(self.ground.marks, [row.rate(scenario) if row else 0 for row in rows])

    def dug_curve(self, method: Method) -> Curve:
        """Return the volume dug along the line, in whole micrometre steps of 1e-12 m3 (likely depth)."""
        if method.name not in DIGGING:
            return Curve(self.ground.marks, [0] * len(self.ground.cells))
        areas = [self.cut(cell, "likely").areas.excavation for cell in self.ground.cells]
        return Curve(self.ground.marks, [int(area * _PER_UM) for area in areas])

    def pit_price(self) -> Span:
        """Return the price of a pit: by the greatest depth of the line, surface put back included."""
        return pit_rate(self.book.pits, self.ground.deepest_m).price


def _length_row(method: Method, rates: MethodRates, cell: Cell, scenario: Scenario) -> Row:
    rate = length_rate(rates.per_length, cell.diameter_mm, _mean_depth(cell, scenario))
    price = rate.price
    extra = rates.surface_extra.get(cell.surface)
    if extra is not None:
        price = Span(price.low + extra.low, price.likely + extra.likely, price.high + extra.high)
    return Row(method.name, "length", Decimal(1), price)


def _mean_depth(cell: Cell, scenario: Scenario) -> Decimal:
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
