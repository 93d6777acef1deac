"""How a quantity comes about: a formula with the section's own numbers in it."""

from decimal import Decimal

from scoring.scope.ground import Cell
from scoring.scope.methods import Method
from scoring.scope.takeoff import Cut, Takeoff
from scoring.scope.types import Measure

Formula = tuple[str, tuple[Measure, ...]]


class Formulas:
    """The formulas of one section; `totals` holds its likely quantities by item."""

    def __init__(
        self, takeoff: Takeoff, method: Method, ends_m: tuple[Decimal, Decimal], totals: dict[str, Decimal]
    ) -> None:
        self.takeoff, self.method, self.ends_m, self.totals = takeoff, method, ends_m, totals
        self.length_m = ends_m[1] - ends_m[0]
        self.length = Measure(self.length_m, "length")

    def of(self, item: str, cells: list[Cell]) -> Formula:
        """Return the formula of an item that runs along the line."""
        amount = self.totals[item]
        if item in (self.method.name, "clean_before_lining"):
            return "{} − {}", (Measure(self.ends_m[1], "length"), Measure(self.ends_m[0], "length"))
        if item == "shoring":
            return "2 walls × {} × {}", (Measure(over(amount, 2 * self.length_m), "length"), self.length)
        if item == "traffic_control":
            rates = self.takeoff.book.methods[self.method.name]
            street_m = amount * rates.output_m_per_day
            return "{} of street ÷ {} a day", (Measure(street_m, "length"), Measure(rates.output_m_per_day, "length"))
        if item in ("backfill", "spoil", "spoil_haul"):
            return self._left_over(item, amount)
        return self._dug(item, amount, self._only_cut(cells))

    def _left_over(self, item: str, amount: Decimal) -> Formula:
        excavation = self.totals["excavation"]
        if item == "backfill":
            parts = (excavation, self.totals["embedment"], self.totals["pipe_in_trench"])
            return "excavation {} − embedment {} − pipe {}", _volumes(*parts)
        if item == "spoil":
            return "excavation {} − put back {}", _volumes(excavation, excavation - amount)
        swell = Measure(self.takeoff.book.trench.swell_percent, "percent")
        return "{} × (1 + {})", (*_volumes(self.totals["spoil"]), swell)

    def _dug(self, item: str, amount: Decimal, cut: Cut | None) -> Formula:
        if cut is None:
            return "{} mean section × {}", (Measure(over(amount, self.length_m), "section"), self.length)
        width = Measure(cut.width_m, "length")
        if item == "excavation":
            depth = Measure(over(amount, self.length_m * cut.width_m), "length")
            return "{} wide × {} deep × {}", (width, depth, self.length)
        if item == "bedding":
            return "{} wide × {} × {}", (width, Measure(self.takeoff.book.trench.bedding_m, "length"), self.length)
        if item == "pipe_in_trench":
            return "π/4 × {} squared × {}", (Measure(cut.pipe.outside_m, "length"), self.length)
        pipe_m3 = self.totals["pipe_in_trench"]
        high = Measure(over(amount + pipe_m3, self.length_m * cut.width_m), "length")
        words = "{} wide × {} high (bedding, pipe, cover) × {} − pipe {}"
        return words, (width, high, self.length, *_volumes(pipe_m3))

    def _only_cut(self, cells: list[Cell]) -> Cut | None:
        """Return the trench when it is upright and its width and pipe are the same all along."""
        cuts = [self.takeoff.cut(cell, "likely") for cell in cells]
        shapes = {(cut.width_m, cut.pipe, cut.slope) for cut in cuts}
        return cuts[0] if len(shapes) == 1 and not cuts[0].slope else None


def _volumes(*volumes_m3: Decimal) -> tuple[Measure, ...]:
    return tuple(Measure(volume_m3, "volume") for volume_m3 in volumes_m3)


def over(amount: Decimal, divisor: Decimal) -> Decimal:
    """Return a quotient, 0 where there is nothing to divide by."""
    return amount / divisor if divisor else Decimal(0)
