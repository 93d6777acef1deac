"""What a drawing consists of: a few kinds of marks on a sheet, y downward, in drawing units.

The layout makes marks, the SVG and the PDF renderers draw the same marks.
"""

from dataclasses import dataclass
from typing import Literal

from inspections.reports.typeface import text_width

Point = tuple[float, float]
Pattern = Literal["unseen", "digging", "lining", "cleaning", "grass", "hard", "water", "other"]


@dataclass(frozen=True, slots=True)
class Ink:
    """How an outline and its inside look. Grey steps only: nothing is said by hue."""

    stroke: str | None = "#000000"
    width: float = 1.0
    dash: tuple[float, ...] = ()
    fill: str | None = None
    pattern: Pattern | None = None


@dataclass(frozen=True, slots=True)
class Path:
    """A line through points, or the area inside them when closed."""

    points: tuple[Point, ...]
    ink: Ink = Ink()
    is_closed: bool = False


@dataclass(frozen=True, slots=True)
class Circle:
    """A full circle."""

    centre: Point
    radius: float
    ink: Ink = Ink()


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; `at` is on the baseline. A halo keeps it legible over lines."""

    at: Point
    words: str
    size: float = 10.0
    is_bold: bool = False
    anchor: Literal["start", "middle", "end"] = "start"
    ink: str = "#000000"
    has_halo: bool = False

    @property
    def width(self) -> float:
        """Width in drawing units, in the widest typeface the readers are likely to have."""
        return text_width(self.words, self.size, self.is_bold)


Mark = Path | Circle | Text


@dataclass(frozen=True, slots=True)
class Sheet:
    """A finished drawing: its marks in painting order and its text alternative."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    title: str
    description: str


def line(start: Point, end: Point, ink: Ink = Ink()) -> Path:
    """Return a straight line."""
    return Path((start, end), ink)


def box(x: float, y: float, width: float, height: float, ink: Ink = Ink()) -> Path:
    """Return a rectangle given by its upper left corner."""
    return Path(((x, y), (x + width, y), (x + width, y + height), (x, y + height)), ink, is_closed=True)


def polygon(points: tuple[Point, ...], ink: Ink = Ink()) -> Path:
    """Return a closed area."""
    return Path(points, ink, is_closed=True)
