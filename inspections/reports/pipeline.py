"""The lateral as the drawing sees it: how far it goes, where its ends are open, how deep it lies."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from inspections.reports import words
from inspections.reports.content import Document, ReportInput, number, rows

PIPE_HEIGHT: Final = 20.0  # drawn height of the widest pipe
SOIL_HEIGHT: Final = 96.0  # drawn height of the deepest known depth
FLAT_DEPTH: Final = 62.0  # where the pipe is drawn when no depth is known
UNKNOWN_HEIGHT: Final = 14.0  # drawn height of a pipe whose size is not known


def unseen_stretches(lateral: Document) -> list[Document]:
    """Return what nobody saw: the stretches named, and what lies between the inspection and the line's ends.

    An end without a position is None: nobody knows how far the pipe goes on.
    """
    start, end = number(lateral, "from"), number(lateral, "to")
    wall, main = _boundary(lateral, "building_wall"), _boundary(lateral, "main")
    found = [_held(row, wall, main) for row in rows(lateral, "unseen")]
    if start is not None and _is_short_of(wall, start, lateral.get("reaches_building"), is_upstream=True):
        found.insert(0, {"from": wall, "to": start, "reason": "not_reached"})
    if end is not None and _is_short_of(main, end, lateral.get("reaches_main"), is_upstream=False):
        found.append({"from": end, "to": main, "reason": "not_reached"})
    return _once(found)


def _boundary(lateral: Document, kind: str) -> Decimal | None:
    found = [row for row in rows(lateral, "boundaries") if row.get("kind") == kind]
    return number(found[0], "station") if found else None


def _held(row: Document, wall: Decimal | None, main: Decimal | None) -> Document:
    """An open end stops where the building or the main is known to be."""
    start, end = number(row, "from"), number(row, "to")
    if end is None and start is not None and main is not None and main > start:
        end = main
    if start is None and end is not None and wall is not None and wall < end:
        start = wall
    return {**row, "from": start, "to": end}


def _is_short_of(boundary: Decimal | None, inspected: Decimal, is_reached: object, *, is_upstream: bool) -> bool:
    """Whether the inspection ended before the line does. A known boundary beyond it counts more than a claim."""
    if boundary is None:
        return not is_reached
    return boundary < inspected if is_upstream else boundary > inspected


def _once(stretches: list[Document]) -> list[Document]:
    """Drop empty stretches and those that repeat the ends of one named before."""
    found: dict[tuple[Decimal | None, Decimal | None], Document] = {}
    for row in stretches:
        ends = (number(row, "from"), number(row, "to"))
        if ends[0] is None or ends[0] != ends[1]:
            found.setdefault(ends, row)
    return list(found.values())


def unseen_notes(source: ReportInput) -> list[str]:
    """Return every unseen stretch in words, in order along the lateral."""
    return [
        f"{words.stretch(row.get('from'), row.get('to'), source.units)}: {words.unseen_reason(row.get('reason'))}"
        for row in unseen_stretches(source.lateral)
    ]


def is_whole_line(lateral: Document) -> bool:
    """Whether the inspection spans from the building to the main; stretches inside may still be unseen."""
    start, end = number(lateral, "from"), number(lateral, "to")
    if start is None or end is None:
        return False
    for row in unseen_stretches(lateral):
        low, high = number(row, "from"), number(row, "to")
        if low is None or high is None or low < start or high > end:
            return False
    return True


@dataclass(frozen=True, slots=True)
class Extent:
    """The stations the drawing spans, and which of its ends nobody has seen the end of."""

    start: float
    end: float
    is_known: bool
    is_open_upstream: bool
    is_open_downstream: bool


def extent_of(lateral: Document) -> Extent:
    """Return what the drawing has to span; `is_known` False when nothing has a station."""
    found = _stations(lateral)
    low, high = (min(found), max(found)) if found else (0.0, 0.0)
    is_known = high > low
    kinds = {row.get("kind") for row in rows(lateral, "boundaries") if number(row, "station") is not None}
    return Extent(
        low,
        high if is_known else low + 1.0,
        is_known,
        not lateral.get("reaches_building") and "building_wall" not in kinds,
        not lateral.get("reaches_main") and "main" not in kinds,
    )


def _stations(lateral: Document) -> list[float]:
    found = [number(lateral, "from"), number(lateral, "to")]
    for key in ("segments", "unseen"):
        found += [number(row, end) for row in rows(lateral, key) for end in ("from", "to")]
    for key in ("features", "boundaries"):
        found += [number(row, "station") for row in rows(lateral, key)]
    found += [number(row, end) for row in rows(lateral, "defects") for end in ("station", "to_station")]
    for row in rows(lateral, "runs"):
        found += [number(row, end) for end in ("station_at_start", "station_at_end")]
    return [float(station) for station in found if station is not None]


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the drawn pipe; `diameter` in lengths' units, None where it is not known."""

    start: float
    end: float
    diameter: float | None
    segment: Document | None


def pieces_of(source: ReportInput, extent: Extent) -> list[Piece]:
    """Return the whole extent as pieces: the segments given, and what lies between them as unknown."""
    divisor = 12.0 if source.units == "us" else 1000.0
    pieces: list[Piece] = []
    reached = extent.start
    for segment in sorted(rows(source.lateral, "segments"), key=_by_position):
        low, high = number(segment, "from"), number(segment, "to")
        if low is None or high is None or float(high) <= reached:
            continue
        if float(low) > reached:
            pieces.append(Piece(reached, float(low), None, None))
        diameter = number(segment, "diameter")
        is_sized = diameter is not None and diameter > 0
        size = float(diameter) / divisor if diameter is not None and is_sized else None
        pieces.append(Piece(max(float(low), reached), float(high), size, segment))
        reached = float(high)
    return [*pieces, Piece(reached, extent.end, None, None)] if reached < extent.end else pieces


def _by_position(segment: Document) -> tuple[Decimal, Decimal]:
    return number(segment, "from") or Decimal(0), number(segment, "to") or Decimal(0)


@dataclass(frozen=True, slots=True)
class Profile:
    """How deep the middle of the pipe is drawn below the ground, from known depths.

    `knots` are (station, drawn depth of the middle); between two the line is straight, beyond the
    outermost it is drawn level. Empty: no depth is known.
    """

    knots: tuple[tuple[float, float], ...]
    units_per_length: float | None

    def middle(self, station: float) -> float:
        """Return the drawn depth of the middle of the pipe at a station."""
        if not self.knots:
            return FLAT_DEPTH
        if station <= self.knots[0][0]:
            return self.knots[0][1]
        for (low, above), (high, below) in zip(self.knots, self.knots[1:], strict=False):
            if station <= high:
                return above + (below - above) * (station - low) / (high - low)
        return self.knots[-1][1]


def profile_of(lateral: Document, half_heights: Sequence[tuple[float, float, float]]) -> Profile:
    """Return the depth profile; `half_heights` are (from, to, half the drawn height of the pipe there)."""
    known = _known_depths(lateral)
    deepest = max((depth for _, depth, _ in known), default=0.0)
    if deepest <= 0:
        return Profile((), None)
    per_length = SOIL_HEIGHT / deepest
    knots: dict[float, float] = {}
    for station, depth, measured_to in known:
        half = half_height_at(half_heights, station)
        drawn = depth * per_length + (half if measured_to == "crown" else -half)
        knots[station] = max(drawn, half + 4)
    return Profile(tuple(sorted(knots.items())), per_length)


def half_height_at(half_heights: Sequence[tuple[float, float, float]], station: float) -> float:
    """Return half the drawn height of the pipe at a station."""
    for low, high, half in half_heights:
        if low <= station <= high:
            return half
    return UNKNOWN_HEIGHT / 2


def _known_depths(lateral: Document) -> list[tuple[float, float, str]]:
    found = []
    for row in rows(lateral, "depths"):
        station, depth = number(row, "station"), number(row, "depth")
        if station is not None and depth is not None and depth >= 0:
            found.append((float(station), float(depth), str(row.get("to") or "invert")))
    return sorted(found)
