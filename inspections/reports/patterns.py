"""The pattern fills: hatching says what hue would say elsewhere, so it survives a black-and-white copy."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from inspections.reports.marks import Pattern, Point


@dataclass(frozen=True, slots=True)
class Tile:
    """One square of a pattern, repeated in both directions."""

    side: float
    strokes: tuple[tuple[Point, Point], ...]
    width: float = 0.8
    ink: str = "#000000"


PATTERNS: Final[Mapping[Pattern, Tile]] = {
    "unseen": Tile(6, (((0, 6), (6, 0)), ((0, 0), (6, 6))), 0.6),
    "digging": Tile(5, (((0, 5), (5, 0)), ((-1, 1), (1, -1)), ((4, 6), (6, 4))), 1.1),
    "lining": Tile(4, (((0, 1), (4, 1)), ((0, 3), (4, 3))), 0.7),
    "cleaning": Tile(5, (((1.5, 2.5), (3, 2.5)),), 1.5),
    "grass": Tile(6, (((1, 6), (1.8, 2)), ((4, 6), (3.4, 3))), 0.7, "#333333"),
    "hard": Tile(6, (((0, 3), (6, 3)), ((2, 0), (2, 3)), ((5, 3), (5, 6))), 0.5, "#333333"),
    "water": Tile(6, (((0, 2), (4, 2)), ((3, 5), (6, 5))), 0.7),
    "other": Tile(6, (((3, 0), (3, 6)),), 0.6),
}
