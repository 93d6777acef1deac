"""What one metre of a method takes in one cell: the items, how much of each, and its unit price.

The search for the cheapest plan and the priced sections read the same rows, so a plan's total is the sum the
search made least.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Final

from scoring.scope.curve import Curve
from scoring.scope.ground import Cell, Ground
from scoring.scope.limits import IRON
from scoring.scope.methods import STREETS, Method
from scoring.scope.rate_book import RateBook
from scoring.scope.rows import PER_UM, UNIT, Row, length_rate, length_row, mean_depth_m, pit_rate
from scoring.scope.trench import (
    FIVE_FEET_M,
    SLOPE_BY_SOIL,
    Earthworks,
    Pipe,
    mean_cross_section,
    new_pipe,
    pit_volume_m3,
    trench_width_m,
)
from scoring.scope.types import SCENARIOS, Scenario, Span
from scoring.types import Lateral, Site

CENT: Final = UNIT // 100

DIGGING: Final = ("spot_repair", "open_cut_replacement", "trap_removal", "inside_replacement")
LINING: Final = ("full_liner", "sectional_liner")
RECONNECTS: Final = ("full_liner", "sectional_liner", "pipe_bursting", "open_cut_replacement", "spot_repair")


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
        first, last = (depth + self._below_m(cell) for depth in cell.depths_m[scenario])
        depth_m = (first + last) / 2
        slope = self._slope(depth_m)
        areas = mean_cross_section((first, last), width_m, slope, pipe, trench.bedding_m, trench.cover_m)
        held = 2 * depth_m if self._is_shored(depth_m) else Decimal(0)
        return Cut(areas, depth_m, width_m, width_m + 2 * slope * depth_m, slope, held, pipe)

    def bottom_m(self, at_um: int, scenario: Scenario) -> Decimal:
        """Return the depth of the trench bottom at a position."""
        return self.ground.depth_m(at_um, scenario) + self._below_m(self.ground.at(at_um))

    def _below_m(self, cell: Cell) -> Decimal:
        """Return how far the trench bottom lies below the invert: the new pipe's wall and its bedding."""
        return new_pipe(cell.diameter_mm).wall_m + self.book.trench.bedding_m

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
            rows = [length_row(method, rates, cell, scenario)]
            if method.name in DIGGING:
                rows += self._earth_rows(cell, scenario)
            if method.name in LINING:
                rows.append(self._cleaning_row(cell, scenario))
            if method.digs and cell.surface in STREETS:
                per_m = 1 / rates.output_m_per_day
                rows.append(Row("traffic_control", "days", per_m, self.book.traffic_day, "items/traffic_day"))
            self._rows[key] = tuple(rows)
        return self._rows[key]

    def _earth_rows(self, cell: Cell, scenario: Scenario) -> list[Row]:
        cut = self.cut(cell, scenario)
        prices = self.book.earthworks
        areas = cut.areas
        spoil = areas.excavation if cell.surface in STREETS else areas.excavation - areas.backfill
        loose = spoil * (1 + self.book.trench.swell_percent / 100)
        rows = [
            Row("excavation", "volume", areas.excavation, prices["excavation"], "items/excavation"),
            Row("bedding", "volume", areas.bedding, None),
            Row("pipe_in_trench", "volume", areas.pipe, None),
            Row("embedment", "volume", areas.embedment, prices["bedding"], "items/bedding"),
            Row("backfill", "volume", areas.backfill, prices["backfill"], "items/backfill"),
            Row("spoil", "volume", spoil, None),
            Row("spoil_haul", "volume", loose, prices["spoil_haul"], "items/spoil_haul"),
        ]
        if cut.shored_m2:
            rows.append(Row("shoring", "face", cut.shored_m2, self.book.shoring, "items/shoring"))
        return rows

    def _cleaning_row(self, cell: Cell, scenario: Scenario) -> Row:
        name = "descaling" if cell.material in IRON else "root_cutting_and_cleaning"
        depth_m = mean_depth_m(cell, scenario)
        price = length_rate(self.book.methods[name].per_length, cell.diameter_mm, depth_m).price
        return Row("clean_before_lining", "length", Decimal(1), price, f"methods/{name}/per_length")

    def restoration_row(self, method: Method, cell: Cell, scenario: Scenario) -> Row | None:
        """Return the surface put back per metre of trench, with the cut-back on both sides."""
        if method.name not in DIGGING:
            return None
        width_m = self.cut(cell, scenario).top_width_m + 2 * self.book.trench.cut_back_m
        item = f"restore_{cell.surface}"
        price = self.book.restoration[cell.surface]
        return Row(item, "area", width_m, price, f"items/restoration/{cell.surface}")

    @cached_property
    def connections_um(self) -> list[int]:
        """Where other pipes join, each of which is connected again."""
        stations = [each.station_m for each in self.lateral.features if each.feature.kind == "connection"]
        return sorted(int(station * 10**6) for station in stations if station is not None)

    def curve(self, method: Method) -> Curve:
        """Return the rising likely cost along the line, restoration left out."""
        rates = [sum(row.rate("likely") for row in self.rows(method, cell, "likely")) for cell in self.ground.cells]
        steps: Sequence[tuple[int, int]] = ()
        if method.name in RECONNECTS:
            each = int(self.book.connection.likely * UNIT)
            steps = [(at, each) for at in self.connections_um]
        return Curve(self.ground.marks, rates, steps)

    def restoration_curve(self, method: Method) -> Curve | None:
        """Return the rising likely cost of the surface along the line; None where nothing is opened."""
        rows = [self.restoration_row(method, cell, "likely") for cell in self.ground.cells]
        if not any(rows):
            return None
        return Curve(self.ground.marks, [row.rate("likely") if row else 0 for row in rows])

    def dug_curve(self, method: Method) -> Curve:
        """Return the volume dug along the line, in whole micrometre steps of 1e-12 m3 (likely depth)."""
        if method.name not in DIGGING:
            return Curve(self.ground.marks, [0] * len(self.ground.cells))
        areas = [self.cut(cell, "likely").areas.excavation for cell in self.ground.cells]
        return Curve(self.ground.marks, [int(area * PER_UM) for area in areas])

    def pit_depth_m(self, scenario: Scenario) -> Decimal:
        """Return how deep a pit is dug: to the trench bottom under the deepest place of the line (house rule)."""
        depths = [max(cell.depths_m[scenario]) + self._below_m(cell) for cell in self.ground.cells]
        return max(depths)

    def pit_m3(self, scenario: Scenario) -> Decimal:
        """Return the volume of one pit, its walls held vertical."""
        trench = self.book.trench
        return pit_volume_m3(trench.pit_length_m, trench.pit_width_m, self.pit_depth_m(scenario), Decimal(0))

    def pit_walls_m2(self, scenario: Scenario) -> Decimal:
        """Return the wall held in one pit: four sides from 5 ft depth on, none above."""
        depth_m = self.pit_depth_m(scenario)
        around_m = 2 * (self.book.trench.pit_length_m + self.book.trench.pit_width_m)
        return around_m * depth_m if depth_m >= FIVE_FEET_M else Decimal(0)

    def pit_price(self) -> Span:
        """Return the price of a pit by its depth in each case, surface put back included."""
        low, likely, high = (
            pit_rate(self.book.pits, self.pit_depth_m(scenario)).price.pick(scenario) for scenario in SCENARIOS
        )
        return Span(min(low, likely), likely, max(likely, high))

    def least_length_rate(self, method: Method, scenario: Scenario) -> int:
        """Return the least price per micrometre of a method on this line: what a missing length is charged."""
        rates = self.book.methods[method.name]
        return min(length_row(method, rates, cell, scenario).rate(scenario) for cell in self.ground.cells)
