"""The stage of a drawing: how stations become places on the sheet, and how thick things are drawn."""

import math
from dataclasses import dataclass
from decimal import Decimal

from inspections.reports.content import ReportInput
from inspections.reports.pipeline import (
    PIPE_HEIGHT,
    UNKNOWN_HEIGHT,
    Extent,
    Piece,
    Profile,
    extent_of,
    half_height_at,
    pieces_of,
    profile_of,
)

WIDE = 800.0
NARROW = 360.0


@dataclass(frozen=True, slots=True)
class Stage:
    """Everything the bands of the drawing share."""

    source: ReportInput
    width: float
    left: float  # x of the start of the extent
    right: float  # x of its end
    tail: float  # drawn length of an end nobody has seen the end of
    extent: Extent
    pieces: tuple[Piece, ...]
    profile: Profile
    half_heights: tuple[tuple[float, float, float], ...]
    thickened: float | None  # how many times too thick the pipe is drawn

    @property
    def is_narrow(self) -> bool:
        """Whether the sheet is made for the width of a phone."""
        return self.width < 500

    @property
    def words_width(self) -> float:
        """Widest words of a tag."""
        return 185.0 if self.is_narrow else 210.0

    @property
    def per_length(self) -> float:
        """Drawing units per unit of length along the pipe."""
        return (self.right - self.left) / (self.extent.end - self.extent.start)

    def x(self, station: Decimal | float) -> float:
        """Return the place of a station; stations beyond the extent are drawn at its ends."""
        held = min(max(float(station), self.extent.start), self.extent.end)
        return self.left + (held - self.extent.start) * self.per_length

    def x_of(self, station: Decimal | float | None) -> float | None:
        """Return the place of a station, None where it has none or where nothing is to scale."""
        return None if station is None or not self.extent.is_known else self.x(station)

    def half_height(self, station: Decimal | float) -> float:
        """Return half the drawn height of the pipe at a station."""
        return half_height_at(self.half_heights, float(station))

    def middle(self, station: Decimal | float) -> float:
        """Return the drawn depth of the middle of the pipe below the ground."""
        return self.profile.middle(float(station))

    @property
    def deepest(self) -> float:
        """The drawn depth of the lowest point of the pipe."""
        stations = [self.extent.start, self.extent.end, *(station for station, _ in self.profile.knots)]
        return max(self.middle(station) for station in stations) + PIPE_HEIGHT / 2


def set_stage(source: ReportInput, width: float) -> Stage:
    """Return the stage for a sheet of one width."""
    extent = extent_of(source.lateral)
    pieces = tuple(pieces_of(source, extent))
    tail = 26.0 if width < 500 else 40.0
    left = 42.0 + (tail if extent.is_open_upstream else 8.0)
    right = width - 14.0 - (tail if extent.is_open_downstream else 12.0)
    widest = max((piece.diameter or 0.0 for piece in pieces), default=0.0)
    per_size = PIPE_HEIGHT / widest if widest > 0 else None
    halves = tuple(
        (
            piece.start,
            piece.end,
            (piece.diameter * per_size if piece.diameter and per_size else UNKNOWN_HEIGHT) / 2,
        )
        for piece in pieces
    )
    per_length = (right - left) / (extent.end - extent.start)
    thickened = per_size / per_length if per_size is not None and extent.is_known else None
    return Stage(
        source,
        width,
        left,
        right,
        tail,
        extent,
        pieces,
        profile_of(source.lateral, halves),
        halves,
        thickened,
    )


def nice_step(span: float, most: int) -> float:
    """Return the smallest step of 1, 2 or 5 times a power of ten that gives at most about `most` parts."""
    rough = span / max(most, 1)
    power = 10.0 ** math.floor(math.log10(rough)) if rough > 0 else 1.0
    return next(step * power for step in (1, 2, 5, 10, 20) if step * power >= rough)


def nice_ticks(start: float, end: float, most: int) -> list[float]:
    """Return round values from start to end, at most about `most` of them."""
    step = nice_step(end - start, most)
    first, last = math.ceil(start / step - 1e-9), math.floor(end / step + 1e-9)
    return [round(index * step, 6) for index in range(first, last + 1)]
