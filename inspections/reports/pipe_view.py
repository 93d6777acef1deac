"""The side view of the pipe itself: its pieces, its open ends, joints and features, what nobody saw."""

import math
from decimal import Decimal

from inspections.reports.content import Document, number, rows, text
from inspections.reports.marks import Circle, Ink, Mark, Path, Point, Text, box, line, polygon
from inspections.reports.pipeline import UNKNOWN_HEIGHT, unseen_stretches
from inspections.reports.stage import Stage

_FINE = Ink(width=0.8)
_INSIDE = Ink(None, fill="#ffffff")


def outline(stage: Stage, ground: float, low: float, high: float, extra: float = 0.0) -> tuple[Point, ...]:
    """Return the outline of the drawn pipe between two stations, `extra` units thicker on each side."""
    inner = [station for station, _ in stage.profile.knots if low < station < high]
    stations = [low, *inner, high]
    half = stage.half_height((low + high) / 2) + extra
    crown = [(stage.x(station), ground + stage.middle(station) - half) for station in stations]
    invert = [(stage.x(station), ground + stage.middle(station) + half) for station in reversed(stations)]
    return (*crown, *invert)


def draw_pipe(stage: Stage, ground: float) -> list[Mark]:
    """Return the pipe by its pieces; a piece of unknown size has a broken outline."""
    marks: list[Mark] = []
    for piece in stage.pieces:
        dash = () if piece.diameter else (5.0, 3.0)
        shape = outline(stage, ground, piece.start, piece.end)
        marks.append(polygon(shape, Ink(width=1.6, fill="#ffffff", dash=dash)))
    marks += _open_end(stage, ground, True) if stage.extent.is_open_upstream else []
    marks += _open_end(stage, ground, False) if stage.extent.is_open_downstream else _main(stage, ground)
    return marks


def _open_end(stage: Stage, ground: float, is_upstream: bool) -> list[Mark]:
    """A torn end: the pipe goes on, and nobody knows how far."""
    station = stage.extent.start if is_upstream else stage.extent.end
    x, way = stage.x(station), -1.0 if is_upstream else 1.0
    y, half = ground + stage.middle(station), max(stage.half_height(station), UNKNOWN_HEIGHT / 2)
    far = x + way * (stage.tail - 10)
    torn = [(far + way * (4 if step % 2 else -1), y - half + half * step / 2) for step in range(5)]
    shape = ((x, y - half), *torn, (x, y + half))
    return [
        polygon(shape, Ink(None, fill="#ffffff")),
        polygon(shape, Ink(width=1.2, dash=(3.0, 3.0), pattern="unseen")),
        Text((x + way * (stage.tail - 5), y - half - 4), "?", 13, True, "middle", has_halo=True),
    ]


def _main(stage: Stage, ground: float) -> list[Mark]:
    """The public main, seen end on."""
    x, y = stage.right, ground + stage.middle(stage.extent.end)
    return [Circle((x, y), 14, Ink(width=2.0, fill="#ffffff")), Circle((x, y), 10.5, _FINE)]


def draw_unseen(stage: Stage, ground: float) -> list[Mark]:
    """Return a hatched cover over every stretch nobody saw."""
    marks: list[Mark] = []
    for row in unseen_stretches(stage.source.lateral) if stage.extent.is_known else []:
        low, high = number(row, "from"), number(row, "to")
        start = stage.extent.start if low is None else max(float(low), stage.extent.start)
        end = stage.extent.end if high is None else min(float(high), stage.extent.end)
        if end > start:
            marks += _cover(stage, ground, start, end)
    if not stage.extent.is_known:
        marks += _cover(stage, ground, stage.extent.start, stage.extent.end)
    return marks


def _cover(stage: Stage, ground: float, start: float, end: float) -> list[Mark]:
    shape = outline(stage, ground, start, end, 3)
    return [polygon(shape, _INSIDE), polygon(shape, Ink(width=1.0, dash=(3.0, 3.0), pattern="unseen"))]


def draw_joints(stage: Stage, ground: float) -> list[Mark]:
    """Return a line across the pipe for every joint reported, sound or not."""
    found = [row for row in rows(stage.source.lateral, "features") if row.get("kind") == "joint"]
    found += [row for row in rows(stage.source.lateral, "defects") if row.get("at_joint")]
    marks: list[Mark] = []
    for row in found if stage.extent.is_known else []:
        station = number(row, "station")
        if station is not None:
            x, y = stage.x(station), ground + stage.middle(station)
            reach = stage.half_height(station) + 2.5
            marks.append(line((x, y - reach), (x, y + reach), _FINE))
    return marks


def draw_features(stage: Stage, ground: float) -> list[Mark]:
    """Return a small picture of each trap, bend, connection and other feature on the pipe."""
    marks: list[Mark] = []
    for row in rows(stage.source.lateral, "features") if stage.extent.is_known else []:
        station = number(row, "station")
        if station is not None and row.get("kind") not in ("joint", "access_point", "main"):
            x, y = stage.x(station), ground + stage.middle(station)
            marks += _feature(text(row, "kind"), x, y, stage.half_height(station), row)
    return marks


def _feature(kind: str, x: float, y: float, half: float, row: Document) -> list[Mark]:
    ink = Ink(width=1.4, fill="#ffffff")
    match kind:
        case "trap":
            dip = ((x - 9, y + half), (x - 7, y + half + 8), (x + 7, y + half + 8), (x + 9, y + half))
            return [polygon(dip, ink), Path(((x, y - half), (x, y + half + 2)), Ink(width=2.0))]
        case "connection":
            way = 1.0 if clock_height(number(row, "clock_from")) > 0.3 else -1.0
            stub = ((x - 3, y + way * half), (x - 9, y + way * (half + 8)), (x - 3, y + way * (half + 8)))
            return [polygon((*stub, (x + 4, y + way * half)), ink)]
        case "bend":
            return [Path(((x - 5, y - half), (x, y), (x - 5, y + half)), Ink(width=1.4))]
        case "coupling":
            return [box(x - 4, y - half - 2, 8, 2 * half + 4, Ink(width=1.4))]
        case _:
            return [Circle((x, y + half), 2.5, ink)]


def clock_height(hour: Decimal | None) -> float:
    """Return the height of a clock position on the wall: -1 at the crown, 1 at the invert."""
    return -math.cos(float(hour or 12) * math.pi / 6)
