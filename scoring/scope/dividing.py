"""The cost of a section divided among the zones it lies in, by where each priced item really lies."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scoring.scope.bill import Bill
from scoring.scope.ground import floor_um
from scoring.scope.lines import Line, Piece, Prices
from scoring.scope.shares import Cents, apportioned_rising
from scoring.scope.types import SCENARIOS
from scoring.types import Boundary

WHOLE: Final = "It lies in one zone."
BY_PLACE: Final = (
    "Divided by where the priced items lie: {placed}. What belongs to the work as a whole ({whole}) follows the"
    " likely price of those in each zone (house rule)."
)


@dataclass(frozen=True, slots=True)
class ZoneCost:
    """What a section costs in one zone, and between which stations of it that zone lies."""

    zone: str
    from_um: int
    to_um: int
    cents: Cents
    how: str


class Zones:
    """The zones of a lateral: inside the building, private ground, public ground."""

    def __init__(self, boundaries: Sequence[Boundary]) -> None:
        self.walls = [floor_um(each.station_m) for each in boundaries if each.kind == "building_wall"]
        self.lines = [floor_um(each.station_m) for each in boundaries if each.kind == "property_line"]

    def at(self, position_um: int) -> str:
        """Return the zone of a position; without a property line everything outside is private."""
        if self.walls and position_um < max(self.walls):
            return "inside"
        return "public" if self.lines and position_um >= min(self.lines) else "private"

    def parts(self, from_um: int, to_um: int) -> list[tuple[str, int, int]]:
        """Return the zones a stretch lies in, in order."""
        cuts = [at for at in sorted({*self.walls, *self.lines}) if from_um < at < to_um]
        return [(self.at(first), first, last) for first, last in itertools.pairwise([from_um, *cuts, to_um])]

    def divide(self, bill: Bill, cents: Cents) -> list[ZoneCost]:
        """Return what each zone of a section costs; the parts add up in every case."""
        parts = self.parts(bill.chosen.from_um, bill.chosen.to_um)
        if len(parts) == 1:
            return [ZoneCost(*parts[0], cents, WHOLE)]
        weights = self._weights(bill.lines, parts)
        how = _how(bill.lines)
        return [ZoneCost(*part, own, how) for part, own in zip(parts, apportioned_rising(cents, weights), strict=True)]

    def _weights(self, lines: Sequence[Line], parts: Sequence[tuple[str, int, int]]) -> list[Prices]:
        """Return the exact price of each part, in whole numbers."""
        own = [dict.fromkeys(SCENARIOS, 0) for _ in parts]
        for piece in _priced(lines):
            if piece.at_um is not None:
                place = self._part_of(piece.at_um, parts)
                for scenario in SCENARIOS:
                    own[place][scenario] += piece.prices[scenario]
        likely = [each["likely"] for each in own]
        if not any(likely):
            likely = [last - first for _, first, last in parts]
        for piece in _priced(lines):
            if piece.at_um is None:
                for part, weight in zip(own, likely, strict=True):
                    for scenario in SCENARIOS:
                        part[scenario] += piece.prices[scenario] * weight // sum(likely)
        return own

    def _part_of(self, at_um: int, parts: Sequence[tuple[str, int, int]]) -> int:
        """Return the part an item is paid in: that of its zone which lies nearest, else the nearest at all."""
        zone = self.at(at_um)

        def away(number: int) -> tuple[bool, int]:
            name, first, last = parts[number]
            return name != zone, max(first - at_um, at_um - last, 0)

        return min(range(len(parts)), key=away)


def _priced(lines: Sequence[Line]) -> list[Piece]:
    return [piece for line in lines for piece in line.pieces if any(piece.prices.values())]


def _how(lines: Sequence[Line]) -> str:
    named = [(line.item, all(piece.at_um is None for piece in line.pieces)) for line in lines if line.price("high")]
    placed = ", ".join(dict.fromkeys(item for item, is_whole in named if not is_whole))
    whole = ", ".join(dict.fromkeys(item for item, is_whole in named if is_whole))
    return BY_PLACE.format(placed=placed, whole=whole).replace("_", " ")
