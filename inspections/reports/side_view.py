"""The side view itself: ground, soil, pipe, what is on it and what nobody saw."""

import math
from collections.abc import Sequence
from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import Document, number, rows, text
from inspections.reports.findings import access_points, findings_of
from inspections.reports.marks import Circle, Ink, Mark, Path, Pattern, Point, Text, box, line, polygon
from inspections.reports.pipeline import UNKNOWN_HEIGHT, unseen_stretches
from inspections.reports.stage import Stage, nice_ticks
from inspections.reports.typeface import shortened

_BAND = 8.0  # height of the surface band
_SURFACES: dict[str, Pattern] = {
    "lawn": "grass",
    "planting": "grass",
    "concrete_walk": "hard",
    "driveway": "hard",
    "asphalt_street": "hard",
    "concrete_street": "hard",
    "building_slab": "hard",
}
_FINE = Ink(width=0.8)
_BOLD = Ink(width=2.0)
_INSIDE = Ink(None, fill="#ffffff")


def draw_ground(stage: Stage, ground: float) -> list[Mark]:
    """Return the soil, the ground line with what lies on it, the depth scale and the building."""
    start, end = stage.left - _tail(stage, True), stage.right + _tail(stage, False)
    bottom = ground + stage.deepest + 12
    marks: list[Mark] = [box(start, ground, end - start, bottom - ground, Ink(None, fill="#f1f1f1"))]
    marks += _surface(stage, ground)
    marks.append(line((start, ground), (end, ground), _BOLD))
    marks += _depth_scale(stage, ground)
    if not stage.extent.is_open_upstream:
        marks += _house(_wall_x(stage) - 7, ground)
    return marks


def _tail(stage: Stage, is_upstream: bool) -> float:
    is_open = stage.extent.is_open_upstream if is_upstream else stage.extent.is_open_downstream
    return stage.tail if is_open else 0.0


def _surface(stage: Stage, ground: float) -> list[Mark]:
    marks: list[Mark] = []
    edge = stage.left
    known = sorted(rows(stage.source.lateral, "surfaces"), key=lambda row: number(row, "from") or Decimal(0))
    for row in known if stage.extent.is_known else []:
        low, high = number(row, "from"), number(row, "to")
        if low is None or high is None or stage.x(high) <= edge:
            continue
        x, width = max(stage.x(low), edge), 0.0
        edge = stage.x(high)
        width = edge - x
        pattern = _SURFACES.get(text(row, "kind"), "other")
        marks.append(box(x, ground, width, _BAND, Ink(width=0.6, fill="#ffffff", pattern=pattern)))
        name = shortened(words.phrase(row.get("kind") or ""), 9, width - 6)
        if len(name) > 4:
            marks.append(Text((x + 3, ground + _BAND + 10), name, 9, ink="#333333"))
    return marks


def _depth_scale(stage: Stage, ground: float) -> list[Mark]:
    per_length = stage.profile.units_per_length
    if per_length is None:
        return []
    x, unit = 38.0, words.length_unit(stage.source.units)
    marks: list[Mark] = [line((x, ground), (x, ground + stage.deepest), _FINE)]
    for depth in nice_ticks(0.0, stage.deepest / per_length, 4)[1:]:
        y = ground + depth * per_length
        marks.append(line((x - 4, y), (x, y), _FINE))
        marks.append(Text((x - 5, y + 3), shortened(f"{words.rounded(depth)} {unit}", 8.5, x - 5), 8.5, anchor="end"))
    return marks


def draw_depth_note(stage: Stage, ground: float) -> list[Mark]:
    """Return the words that keep a flat line from being taken for a level one."""
    if stage.profile.units_per_length is not None:
        return []
    said = "depth not known: drawn flat"
    return [Text((stage.right - 22, ground + 26), said, 9, anchor="end", ink="#333333", has_halo=True)]


def _wall_x(stage: Stage) -> float:
    walls = [row for row in rows(stage.source.lateral, "boundaries") if row.get("kind") == "building_wall"]
    station = number(walls[0], "station") if walls else None
    return stage.left if station is None or not stage.extent.is_known else stage.x(station)


def _house(x: float, ground: float) -> list[Mark]:
    ink = Ink(width=1.4, fill="#ffffff")
    return [
        box(x - 19, ground - 14, 19, 14, ink),
        polygon(((x - 22, ground - 14), (x - 9.5, ground - 24), (x + 3, ground - 14)), ink),
        box(x - 8, ground - 8, 5, 8, _FINE),
    ]


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


def draw_accesses(stage: Stage, ground: float) -> list[Mark]:
    """Return a riser from the pipe to the ground for every access point with a known station."""
    marks: list[Mark] = []
    for _, station in access_points(stage.source) if stage.extent.is_known else []:
        x, y = stage.x(station), ground + stage.middle(station) - stage.half_height(station)
        marks.append(box(x - 3.5, ground - 2, 7, y - ground + 3, Ink(width=1.2, fill="#ffffff")))
        marks.append(box(x - 5.5, ground - 4, 11, 4, Ink(width=1.0, fill="#000000")))
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
            way = 1.0 if _clock_height(number(row, "clock_from")) > 0.3 else -1.0
            stub = ((x - 3, y + way * half), (x - 9, y + way * (half + 8)), (x - 3, y + way * (half + 8)))
            return [polygon((*stub, (x + 4, y + way * half)), ink)]
        case "bend":
            return [Path(((x - 5, y - half), (x, y), (x - 5, y + half)), Ink(width=1.4))]
        case "coupling":
            return [box(x - 4, y - half - 2, 8, 2 * half + 4, Ink(width=1.4))]
        case _:
            return [Circle((x, y + half), 2.5, ink)]


def _clock_height(hour: Decimal | None) -> float:
    """Return the height of a clock position on the wall: -1 at the crown, 1 at the invert."""
    return -math.cos(float(hour or 12) * math.pi / 6)


def draw_defects(stage: Stage, ground: float) -> list[Mark]:
    """Return each defect where it sits: at its station and clock position, with its doubt in station."""
    marks: list[Mark] = []
    for found in findings_of(stage.source.lateral) if stage.extent.is_known else []:
        station = number(found.defect, "station")
        if station is not None:
            marks += _on_the_wall(stage, ground, found.defect, float(station))
            marks += _doubt(stage, ground, found.defect, float(station))
    return marks


def _on_the_wall(stage: Stage, ground: float, defect: Document, station: float) -> list[Mark]:
    if defect.get("kind") == "foreign_line":
        return _crossing(stage.x(station), ground + stage.middle(station))
    end = number(defect, "to_station")
    x, y, half = stage.x(station), ground + stage.middle(station), stage.half_height(station)
    high, low = _wall_span(number(defect, "clock_from"), number(defect, "clock_to"))
    is_far = _is_far_side(number(defect, "clock_from"), number(defect, "clock_to"))
    if end is not None and stage.x(end) > x:
        return _along_the_wall(stage, ground, station, float(end), (high, low), is_far)
    thick = max((low - high) * half, 5.0)
    top = min(max(y + high * half, y - half), y + half - thick + 2.5)
    ink = Ink(width=1.2, fill="#ffffff" if is_far else "#000000")
    return [box(x - 2.2, top - 1, 4.4, thick, ink)]


def _crossing(x: float, y: float) -> list[Mark]:
    """Another line seen end on, crossed out: it does not belong here."""
    cross = Ink(width=2.0)
    return [
        Circle((x, y), 7.5, Ink(width=2.4, fill="#ffffff")),
        line((x - 5, y - 5), (x + 5, y + 5), cross),
        line((x - 5, y + 5), (x + 5, y - 5), cross),
    ]


def _along_the_wall(
    stage: Stage, ground: float, start: float, end: float, span: tuple[float, float], is_far: bool
) -> list[Mark]:
    inner = [station for station, _ in stage.profile.knots if start < station < end]
    half = stage.half_height((start + end) / 2)
    upper, lower = span[0] * half, max(span[1] * half, span[0] * half + 4)
    stations = [start, *inner, end]
    top = [(stage.x(at), ground + stage.middle(at) + upper) for at in stations]
    bottom = [(stage.x(at), ground + stage.middle(at) + lower) for at in reversed(stations)]
    return [polygon((*top, *bottom), Ink(width=1.0, fill="#ffffff" if is_far else "#8a8a8a"))]


def _wall_span(start: Decimal | None, end: Decimal | None) -> tuple[float, float]:
    """Return the highest and lowest point of an arc as seen from the side, -1 crown to 1 invert."""
    if start is None and end is None:
        return -1.0, 1.0
    heights = [_clock_height(hour) for hour in _hours(start, end)]
    return min(heights), max(heights)


def _hours(start: Decimal | None, end: Decimal | None) -> Sequence[Decimal]:
    first = start if start is not None else end
    last = end if end is not None else start
    if first is None or last is None:
        return []
    turn = (last - first) % 12
    steps = int(turn * 2)
    return [first + Decimal(step) / 2 for step in range(steps + 1)] + [last]


def _is_far_side(start: Decimal | None, end: Decimal | None) -> bool:
    """Looking from the right-hand side, 7 to 11 o'clock lies on the far wall."""
    hours = [hour % 12 for hour in _hours(start, end)]
    return bool(hours) and all(hour > 6 for hour in hours)


def _doubt(stage: Stage, ground: float, defect: Document, station: float) -> list[Mark]:
    deviation = number(defect, "station_sd")
    if deviation is None or deviation <= 0:
        return []
    reach = float(deviation) * 2
    x1, x2 = stage.x(station - reach), stage.x(station + reach)
    if x2 - x1 < 8:
        return []
    y = ground + stage.middle(station) - stage.half_height(station) - 5
    ends = [line((x, y - 2.5), (x, y + 2.5), _FINE) for x in (x1, x2)]
    return [line((x1, y), (x2, y), _FINE), *ends]


def draw_boundaries(stage: Stage, ground: float) -> list[Mark]:
    """Return an upright line where responsibility changes hands."""
    marks: list[Mark] = []
    for row in rows(stage.source.lateral, "boundaries") if stage.extent.is_known else []:
        station = number(row, "station")
        if station is not None:
            x = stage.x(station)
            bottom = ground + stage.deepest + 12
            marks.append(line((x, ground - 12), (x, bottom), Ink(width=1.6, dash=(8.0, 3.0, 1.5, 3.0))))
    return marks
