"""The quantities of one section, each with its formula and the numbers in it, and what they cost."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from scoring.scope.cover import Chosen
from scoring.scope.ground import UM, Cell, metres_of
from scoring.scope.methods import BY_NAME, Method
from scoring.scope.takeoff import RECONNECTS, UNIT, Cut, Row, Takeoff
from scoring.scope.trench import pit_volume_m3
from scoring.scope.types import SCENARIOS, Kind, Measure, Quantity, Scenario, Span


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a bill: its quantity in each scenario and its exact price in whole numbers."""

    item: str
    kind: Kind
    amounts: dict[Scenario, Decimal]
    prices: dict[Scenario, int]
    formula: str
    measures: tuple[Measure, ...]


@dataclass(frozen=True, slots=True)
class Extra:
    """Something charged by the piece: set-up, pits, a clean-out, what is paid once per plan."""

    item: str
    number: int
    price: Span
    formula: str


class Bill:
    """Everything one section takes."""

    def __init__(self, takeoff: Takeoff, chosen: Chosen, once: Sequence[Extra]) -> None:
        self.takeoff = takeoff
        self.chosen = chosen
        self.method: Method = BY_NAME[chosen.method]
        self.length_m = metres_of(chosen.to_um - chosen.from_um)
        self.lines = [self._piece(extra) for extra in (*once, *set_up_extras(takeoff, self.method))]
        pits = {"pipe_bursting": 2, "new_clean_out": 1}.get(chosen.method, 0)
        if pits:
            self.lines.append(self._pits(pits))
        if self.method.cures:
            self.lines += self._along()

    def price(self, scenario: Scenario) -> int:
        """Return the exact price in whole numbers."""
        return sum(line.prices[scenario] for line in self.lines)

    def dug_m3(self) -> Decimal:
        """Return the volume dug at likely depth."""
        dug = (line.amounts["likely"] for line in self.lines if line.item in ("excavation", "pit_excavation"))
        return sum(dug, Decimal(0))

    def _pits(self, number: int) -> Line:
        """Return the volume of the pits, held vertical, at the greatest depth of the line; it is in their price."""
        trench, depth_m = self.takeoff.book.trench, self.takeoff.ground.deepest_m
        volume = number * pit_volume_m3(trench.pit_length_m, trench.pit_width_m, depth_m, Decimal(0))
        sides = (Measure(Decimal(number), "each"), *_lengths(trench.pit_length_m, trench.pit_width_m, depth_m))
        free, amounts = dict.fromkeys(SCENARIOS, 0), dict.fromkeys(SCENARIOS, volume)
        return Line("pit_excavation", "volume", amounts, free, "{} × {} × {} × {} deep", sides)

    def _piece(self, extra: Extra) -> Line:
        amounts = {scenario: Decimal(extra.number) for scenario in SCENARIOS}
        prices = {scenario: extra.number * int(extra.price.pick(scenario) * UNIT) for scenario in SCENARIOS}
        return Line(extra.item, "each", amounts, prices, extra.formula, ())

    def _along(self) -> list[Line]:
        first, last = self.chosen.from_um, self.chosen.to_um
        sums = _Sums(self.takeoff, self.method, first, last)
        lines = [self._line(sums, item) for item in sums.items]
        lines += self._reconnections()
        lines += self._restorations(first, last)
        loose = next((line for line in lines if line.item == "spoil_haul"), None)
        if loose is not None:
            lines.append(self._loads(loose))
        lines.append(self._days())
        return lines

    def _line(self, sums: "_Sums", item: str) -> Line:
        amounts, prices = sums.amounts[item], sums.prices[item]
        formula, measures = self._formula(item, sums)
        return Line(item, sums.kinds[item], amounts, prices, formula, measures)

    def _formula(self, item: str, sums: "_Sums") -> tuple[str, tuple[Measure, ...]]:
        amount = sums.amounts[item]["likely"]
        length = Measure(self.length_m, "length")
        ends = (Measure(metres_of(self.chosen.to_um), "length"), Measure(metres_of(self.chosen.from_um), "length"))
        if item in (self.method.name, "clean_before_lining"):
            return "{} − {}", ends
        if item == "excavation":
            return self._excavation(sums, amount, length)
        if item == "shoring":
            return "2 walls × {} × {}", (Measure(_over(amount, 2 * self.length_m), "length"), length)
        if item == "backfill":
            parts = (sums.likely("excavation"), sums.likely("embedment"), sums.likely("pipe_in_trench"))
            return "excavation {} − embedment {} − pipe {}", tuple(Measure(part, "volume") for part in parts)
        if item == "spoil":
            kept = sums.likely("excavation") - amount
            used = (sums.likely("excavation"), kept)
            return "excavation {} − put back {}", tuple(Measure(part, "volume") for part in used)
        if item == "spoil_haul":
            swell = Measure(self.takeoff.book.trench.swell_percent, "percent")
            return "{} × (1 + {})", (Measure(sums.likely("spoil"), "volume"), swell)
        if item == "traffic_control":
            rates = self.takeoff.book.methods[self.method.name]
            street_m = amount * rates.output_m_per_day
            return "{} of street ÷ {} a day", (Measure(street_m, "length"), Measure(rates.output_m_per_day, "length"))
        return self._embedded(item, sums, amount, length)

    def _excavation(self, sums: "_Sums", amount: Decimal, length: Measure) -> tuple[str, tuple[Measure, ...]]:
        cut = sums.only_cut()
        if cut is None or cut.slope:
            return "{} mean section × {}", (Measure(_over(amount, self.length_m), "section"), length)
        depth_m = _over(amount, self.length_m * cut.width_m)
        return "{} wide × {} deep × {}", (Measure(cut.width_m, "length"), Measure(depth_m, "length"), length)

    def _embedded(self, item: str, sums: "_Sums", amount: Decimal, length: Measure) -> tuple[str, tuple[Measure, ...]]:
        cut, trench = sums.only_cut(), self.takeoff.book.trench
        if cut is None or cut.slope:
            return "{} mean section × {}", (Measure(_over(amount, self.length_m), "section"), length)
        width = Measure(cut.width_m, "length")
        outside = Measure(cut.pipe.outside_m, "length")
        bedding = Measure(trench.bedding_m, "length")
        if item == "bedding":
            return "{} wide × {} × {}", (width, bedding, length)
        if item == "pipe_in_trench":
            return "π/4 × {} squared × {}", (outside, length)
        high = Measure(_over(amount + sums.likely("pipe_in_trench"), self.length_m * cut.width_m), "length")
        pipe = Measure(sums.likely("pipe_in_trench"), "volume")
        return "{} wide × {} high (bedding, pipe, cover) × {} − pipe {}", (width, high, length, pipe)

    def _reconnections(self) -> list[Line]:
        if self.method.name not in RECONNECTS:
            return []
        first, last = self.chosen.from_um, self.chosen.to_um
        number = sum(1 for at in self.takeoff.connections_um if first <= at <= last)
        if not number:
            return []
        return [self._piece(Extra("connection", number, self.takeoff.book.connection, "connections in the section"))]

    def _restorations(self, first: int, last: int) -> list[Line]:
        cut_back = self.takeoff.book.trench.cut_back_m
        shift = int(cut_back * UM)
        stretches: dict[str, list[tuple[Cell, int]]] = {}
        for cell, length_um in _overlaps(self.takeoff, first - shift, last + shift):
            stretches.setdefault(f"restore_{cell.surface}", []).append((cell, length_um))
        lines = []
        for item, cells in stretches.items():
            if self.takeoff.restoration_row(self.method, cells[0][0], "likely") is not None:
                lines.append(self._restoration(item, cells, cut_back))
        return lines

    def _restoration(self, item: str, cells: Sequence[tuple[Cell, int]], cut_back: Decimal) -> Line:
        amounts: dict[Scenario, Decimal] = {}
        prices: dict[Scenario, int] = {}
        for scenario in SCENARIOS:
            rows = [(self.takeoff.restoration_row(self.method, cell, scenario), um) for cell, um in cells]
            amounts[scenario] = sum((row.per_m * um / UM for row, um in rows if row), Decimal(0))
            prices[scenario] = sum(row.rate(scenario) * um for row, um in rows if row)
        length_m = metres_of(sum(um for _, um in cells))
        width_m = _over(amounts["likely"], length_m) - 2 * cut_back
        measures = (Measure(width_m, "length"), Measure(cut_back, "length"), Measure(length_m, "length"))
        formula = "({} wide + 2 × {}) × {}, cut-back at the ends included"
        return Line(item, "area", amounts, prices, formula, measures)

    def _loads(self, loose: Line) -> Line:
        truck = self.takeoff.book.trench.truck_volume_m3
        amounts = {
            scenario: (loose.amounts[scenario] / truck).to_integral_value(rounding=ROUND_CEILING)
            for scenario in SCENARIOS
        }
        measures = (Measure(loose.amounts["likely"], "volume"), Measure(truck, "volume"))
        free = dict.fromkeys(SCENARIOS, 0)
        return Line("truck_loads", "loads", amounts, free, "{} ÷ {} a load, rounded up", measures)

    def _days(self) -> Line:
        rates = self.takeoff.book.methods[self.method.name]
        days = rates.set_up_days + self.length_m / rates.output_m_per_day
        measures = (
            Measure(rates.set_up_days, "days"),
            Measure(self.length_m, "length"),
            Measure(rates.output_m_per_day, "length"),
        )
        amounts, free = dict.fromkeys(SCENARIOS, days), dict.fromkeys(SCENARIOS, 0)
        return Line("days", "days", amounts, free, "{} to set up + {} ÷ {} a day", measures)


class _Sums:
    """What the rows of the cells come to over a section."""

    def __init__(self, takeoff: Takeoff, method: Method, first: int, last: int) -> None:
        self.items: list[str] = []
        self.kinds: dict[str, Kind] = {}
        self.amounts: dict[str, dict[Scenario, Decimal]] = {}
        self.prices: dict[str, dict[Scenario, int]] = {}
        self._cuts = []
        for cell, length_um in _overlaps(takeoff, first, last):
            self._cuts.append(takeoff.cut(cell, "likely"))
            for scenario in SCENARIOS:
                for row in takeoff.rows(method, cell, scenario):
                    self._add(row, scenario, length_um)

    def _add(self, row: Row, scenario: Scenario, length_um: int) -> None:
        if row.item not in self.kinds:
            self.items.append(row.item)
            self.kinds[row.item] = row.kind
            self.amounts[row.item] = dict.fromkeys(SCENARIOS, Decimal(0))
            self.prices[row.item] = dict.fromkeys(SCENARIOS, 0)
        self.amounts[row.item][scenario] += row.per_m * length_um / UM
        self.prices[row.item][scenario] += row.rate(scenario) * length_um

    def likely(self, item: str) -> Decimal:
        return self.amounts[item]["likely"]

    def only_cut(self) -> Cut | None:
        """Return the trench when its width, pipe and slope are the same all along."""
        shapes = {(cut.width_m, cut.pipe, cut.slope) for cut in self._cuts}
        return self._cuts[0] if len(shapes) == 1 else None


def set_up_extras(takeoff: Takeoff, method: Method) -> list[Extra]:
    """Return what each section of a method costs before its first metre."""
    if not method.cures:
        return []
    extras = [Extra("set_up", 1, takeoff.book.methods[method.name].set_up, "each section")]
    if method.name == "pipe_bursting":
        extras.append(Extra("pit", 2, takeoff.pit_price(), "one at each end, surface put back included"))
    if method.name == "trap_removal":
        extras.append(Extra("clean_out", 1, takeoff.book.clean_out, "in place of the trap"))
    return extras


def set_up_price(takeoff: Takeoff, method: Method, scenario: Scenario) -> int:
    """Return the sum of the set-up extras in whole numbers."""
    extras = set_up_extras(takeoff, method)
    return sum(extra.number * int(extra.price.pick(scenario) * UNIT) for extra in extras)


def _overlaps(takeoff: Takeoff, first: int, last: int) -> list[tuple[Cell, int]]:
    """Return the cells a stretch touches with the length in each; the end cells reach beyond the line."""
    cells = takeoff.ground.cells
    found = []
    for number, cell in enumerate(cells):
        begin = first if number == 0 else max(first, cell.from_um)
        end = last if number == len(cells) - 1 else min(last, cell.to_um)
        if begin < end:
            found.append((cell, end - begin))
    return found


def _lengths(*lengths_m: Decimal) -> tuple[Measure, ...]:
    return tuple(Measure(length_m, "length") for length_m in lengths_m)


def _over(amount: Decimal, divisor: Decimal) -> Decimal:
    return amount / divisor if divisor else Decimal(0)


def quantities(bill: Bill, cents: Sequence[int]) -> tuple[Quantity, ...]:
    """Return the lines as quantities; `cents` is the likely price of each line."""
    found = []
    for line, due in zip(bill.lines, cents, strict=True):
        low, high = line.amounts["low"], line.amounts["high"]
        is_open = not low == line.amounts["likely"] == high
        found.append(
            Quantity(
                item=line.item,
                kind=line.kind,
                amount=line.amounts["likely"],
                formula=line.formula,
                measures=line.measures,
                range=(low, high) if is_open else None,
                amount_due=Decimal(due).scaleb(-2) if any(line.prices.values()) else None,
            )
        )
    return tuple(found)
