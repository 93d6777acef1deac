"""Everything one section takes: its lines along the line, at its ends, by the piece and once."""

from collections.abc import Sequence
from decimal import ROUND_CEILING, Decimal
from typing import Final

from scoring.scope.extents import Extents
from scoring.scope.formulas import Formulas, over
from scoring.scope.ground import UM, Cell, ceil_um, metres_of
from scoring.scope.labels import Chosen
from scoring.scope.lines import Amounts, Extra, Line, Piece, by_the_piece, derived, metres, rising
from scoring.scope.methods import BY_NAME, Method
from scoring.scope.rows import UNIT, Row
from scoring.scope.takeoff import DIGGING, RECONNECTS, Takeoff
from scoring.scope.trench import FIVE_FEET_M
from scoring.scope.types import SCENARIOS, Measure, Scenario, Span

# Items without a price of their own, and the one that pays for them.
_PRICED_IN: Final = {"bedding": "embedment", "pipe_in_trench": "the price per length", "spoil": "spoil_haul"}


class Bill:
    """The lines of one section. `extents` says from where to where it goes in the low, likely and high case."""

    def __init__(self, takeoff: Takeoff, chosen: Chosen, extents: Extents, once: Sequence[Extra]) -> None:
        self.takeoff, self.chosen, self.extents = takeoff, chosen, extents
        self.method: Method = BY_NAME[chosen.method]
        self.length_m = metres_of(chosen.to_um - chosen.from_um)
        extras = (*once, *set_up_extras(takeoff, self.method, chosen))
        self.lines = [by_the_piece(extra) for extra in extras]
        pits = {"pipe_bursting": 2, "new_clean_out": 1}.get(chosen.method, 0)
        if pits:
            self.lines += self._pits(pits)
        if self.method.cures:
            self.lines += self._along()

    def price(self, scenario: Scenario) -> int:
        """Return the exact price in whole numbers."""
        return sum(line.price(scenario) for line in self.lines)

    def dug_m3(self) -> Decimal:
        """Return the volume dug at likely depth."""
        dug = (line.amount("likely") for line in self.lines if line.item in ("excavation", "pit_excavation"))
        return sum(dug, Decimal(0))

    def _pits(self, number: int) -> list[Line]:
        """Return the pits, upright and held on four sides whatever the trenches are; their price has it all in it."""
        trench, takeoff, pits = self.takeoff.book.trench, self.takeoff, Measure(Decimal(number), "each")
        deep = Measure(takeoff.pit_depth_m("likely"), "length")
        sides = (Measure(trench.pit_length_m, "length"), Measure(trench.pit_width_m, "length"))
        priced_in = "pit" if self.method.cures else "clean_out"
        dug: Amounts = {scenario: number * takeoff.pit_m3(scenario) for scenario in SCENARIOS}
        held: Amounts = {scenario: number * takeoff.pit_walls_m2(scenario) for scenario in SCENARIOS}
        lines = [
            derived("pit_excavation", "volume", dug, "{} × {} × {} × {} deep", (pits, *sides, deep), priced_in),
            derived("pit_shoring", "face", held, "{} × 2 × ({} + {}) × {} deep", (pits, *sides, deep), priced_in),
        ]
        return [line for line in lines if line.amount("high")]

    def _along(self) -> list[Line]:
        rows = _Rows(self.takeoff, self.method, self.extents)
        totals = {item: rows.total(item) for item in rows.items}
        ends_m = (metres_of(self.chosen.from_um), metres_of(self.chosen.to_um))
        formulas = Formulas(self.takeoff, self.method, ends_m, totals)
        lines = [self._row_line(rows, item, formulas) for item in rows.items]
        lines += self._missing_length()
        lines += self._end_walls()
        lines += self._reconnections()
        lines += self._restorations()
        loose = next((line for line in lines if line.item == "spoil_haul"), None)
        if loose is not None:
            lines.append(self._loads(loose))
        lines.append(self._days())
        return lines

    def _row_line(self, rows: "_Rows", item: str, formulas: Formulas) -> Line:
        pieces = tuple(rows.pieces[item])
        row = rows.examples[item]
        formula, measures = formulas.of(item, rows.likely_cells)
        return Line(item, row.kind, pieces, formula, measures, row.rate_item, _PRICED_IN.get(item))

    def _missing_length(self) -> list[Line]:
        """Return what is charged where the ground leaves no room for the method's minimum length."""
        least_m = self.takeoff.book.methods[self.method.name].minimum_length_m
        missing_um = max(0, ceil_um(least_m) - (self.chosen.to_um - self.chosen.from_um))
        if not missing_um:
            return []
        prices = {s: missing_um * self.takeoff.least_length_rate(self.method, s) for s in SCENARIOS}
        amounts = dict.fromkeys(SCENARIOS, metres(missing_um))
        measures = (Measure(least_m, "length"), Measure(self.length_m, "length"))
        unit_price = Span(*(Decimal(prices[s]) / missing_um * UM / UNIT for s in SCENARIOS))
        piece = Piece(self.chosen.from_um, amounts, rising(prices), unit_price)
        rate_item = f"methods/{self.method.name}/minimum_length"
        return [Line("missing_length", "length", (piece,), "minimum {} − {}", measures, rate_item)]

    def _end_walls(self) -> list[Line]:
        """Return the walls held at the two ends of a shored trench; closing them is part of setting up."""
        if self.method.name not in DIGGING or self.takeoff.book.trench.protection != "shored":
            return []
        amounts: Amounts = {}
        measures: tuple[Measure, ...] = ()
        for scenario in SCENARIOS:
            walls = [self._end_wall(at, scenario) for at in self.extents[scenario]]
            amounts[scenario] = sum((wide * deep for wide, deep in walls), Decimal(0))
            if scenario == "likely":
                measures = tuple(Measure(side, "length") for wall in walls for side in wall)
        # A longer section may end where it is shallower: the range spans what its ends may come to.
        amounts["low"], amounts["high"] = min(amounts.values()), max(amounts.values())
        if not amounts["high"]:
            return []
        return [derived("shoring_of_ends", "face", amounts, "{} × {} + {} × {}", measures, "set_up")]

    def _end_wall(self, at_um: int, scenario: Scenario) -> tuple[Decimal, Decimal]:
        cut = self.takeoff.cut(self.takeoff.ground.at(at_um), scenario)
        depth_m = self.takeoff.bottom_m(at_um, scenario)
        return cut.width_m, depth_m if depth_m >= FIVE_FEET_M else Decimal(0)

    def _reconnections(self) -> list[Line]:
        if self.method.name not in RECONNECTS:
            return []
        first, last = self.chosen.from_um, self.chosen.to_um
        at_um = tuple(at for at in self.takeoff.connections_um if first <= at <= last)
        if not at_um:
            return []
        price = self.takeoff.book.connection
        return [
            by_the_piece(
                Extra("connection", len(at_um), price, "connections in the section", "items/connection", at_um)
            )
        ]

    def _restorations(self) -> list[Line]:
        cut_back = self.takeoff.book.trench.cut_back_m
        shift = int(cut_back * UM)
        wider: Extents = {s: (first - shift, last + shift) for s, (first, last) in self.extents.items()}
        by_item: dict[str, list[tuple[Cell, dict[Scenario, int]]]] = {}
        for cell, lengths in overlaps(self.takeoff, wider):
            if self.takeoff.restoration_row(self.method, cell, "likely") is not None:
                by_item.setdefault(f"restore_{cell.surface}", []).append((cell, lengths))
        return [self._restoration(item, cells, cut_back) for item, cells in by_item.items()]

    def _restoration(self, item: str, cells: Sequence[tuple[Cell, dict[Scenario, int]]], cut_back: Decimal) -> Line:
        pieces = []
        for cell, lengths in cells:
            rows = {s: self.takeoff.restoration_row(self.method, cell, s) for s in SCENARIOS}
            pieces.append(_piece(cell, {s: row for s, row in rows.items() if row}, lengths))
        length_m = metres(sum(lengths["likely"] for _, lengths in cells))
        area_m2 = sum((piece.amounts["likely"] for piece in pieces), Decimal(0))
        width_m = max(Decimal(0), over(area_m2, length_m) - 2 * cut_back)
        measures = tuple(Measure(each, "length") for each in (width_m, cut_back, length_m))
        formula = "({} wide + 2 × {}) × {}, cut-back at the ends included"
        return Line(item, "area", tuple(pieces), formula, measures, f"items/restoration/{item[len('restore_') :]}")

    def _loads(self, loose: Line) -> Line:
        truck = self.takeoff.book.trench.truck_volume_m3
        amounts: Amounts = {s: (loose.amount(s) / truck).to_integral_value(rounding=ROUND_CEILING) for s in SCENARIOS}
        measures = (Measure(loose.amount("likely"), "volume"), Measure(truck, "volume"))
        return derived("truck_loads", "loads", amounts, "{} ÷ {} a load, rounded up", measures, "spoil_haul")

    def _days(self) -> Line:
        rates = self.takeoff.book.methods[self.method.name]
        amounts: Amounts = {
            s: rates.set_up_days + metres(last - first) / rates.output_m_per_day
            for s, (first, last) in self.extents.items()
        }
        measures = (
            Measure(rates.set_up_days, "days"),
            Measure(self.length_m, "length"),
            Measure(rates.output_m_per_day, "length"),
        )
        words = "set_up and the price per length"
        return derived("days", "days", amounts, "{} to set up + {} ÷ {} a day", measures, words)


class _Rows:
    """The rows of the cells over a section, as pieces of its lines."""

    def __init__(self, takeoff: Takeoff, method: Method, extents: Extents) -> None:
        self.items: list[str] = []
        self.pieces: dict[str, list[Piece]] = {}
        self.examples: dict[str, Row] = {}
        self.likely_cells: list[Cell] = []
        for cell, lengths in overlaps(takeoff, extents):
            if lengths["likely"]:
                self.likely_cells.append(cell)
            by_item: dict[str, dict[Scenario, Row]] = {}
            for scenario in SCENARIOS:
                for row in takeoff.rows(method, cell, scenario):
                    by_item.setdefault(row.item, {})[scenario] = row
            for item, rows in by_item.items():
                self._add(item, cell, rows, lengths)

    def _add(self, item: str, cell: Cell, rows: dict[Scenario, Row], lengths: dict[Scenario, int]) -> None:
        if item not in self.pieces:
            self.items.append(item)
            self.examples[item] = rows.get("likely") or rows["high"]
        self.pieces.setdefault(item, []).append(_piece(cell, rows, lengths))

    def total(self, item: str) -> Decimal:
        return sum((piece.amounts["likely"] for piece in self.pieces[item]), Decimal(0))


def _piece(cell: Cell, rows: dict[Scenario, Row], lengths: dict[Scenario, int]) -> Piece:
    amounts = {s: rows[s].per_m * lengths[s] / UM if s in rows else Decimal(0) for s in SCENARIOS}
    prices = {s: rows[s].rate(s) * lengths[s] if s in rows else 0 for s in SCENARIOS}
    row = rows.get("likely") or next(iter(rows.values()))
    middle = (cell.from_um + cell.to_um) // 2
    return Piece(middle, amounts, rising(prices), row.price, row.surcharge)


def set_up_extras(takeoff: Takeoff, method: Method, chosen: Chosen | None = None) -> list[Extra]:
    """Return what each section of a method costs before its first metre, at its ends where it is known."""
    if not method.cures:
        return []
    ends = None if chosen is None else (chosen.from_um, chosen.to_um)
    rates = takeoff.book.methods[method.name]
    extras = [Extra("set_up", 1, rates.set_up, "each section", f"methods/{method.name}/set_up")]
    if method.name == "pipe_bursting":
        words = "one at each end, shoring and surface put back included"
        extras.append(Extra("pit", 2, takeoff.pit_price(), words, "items/pits", ends))
    if method.name == "trap_removal":
        middle = None if ends is None else (sum(ends) // 2,)
        extras.append(Extra("clean_out", 1, takeoff.book.clean_out, "in place of the trap", "items/clean_out", middle))
    return extras


def set_up_price(takeoff: Takeoff, method: Method) -> int:
    """Return the sum of the likely set-up extras in whole numbers."""
    return sum(extra.number * int(extra.price.likely * UNIT) for extra in set_up_extras(takeoff, method))


def overlaps(takeoff: Takeoff, extents: Extents) -> list[tuple[Cell, dict[Scenario, int]]]:
    """Return the cells a section touches in any case, with the length in each; the end cells reach beyond the line."""
    cells = takeoff.ground.cells
    found = []
    for number, cell in enumerate(cells):
        lengths: dict[Scenario, int] = {}
        for scenario, (first, last) in extents.items():
            begin = first if number == 0 else max(first, cell.from_um)
            end = last if number == len(cells) - 1 else min(last, cell.to_um)
            lengths[scenario] = max(0, end - begin)
        if any(lengths.values()):
            found.append((cell, lengths))
    return found
