"""The side view over the pipe: ground, what lies on it, soil, depth scale, building, boundaries, risers."""

from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import number, rows, text
from inspections.reports.findings import access_points
from inspections.reports.marks import Ink, Mark, Pattern, Text, box, line, polygon
from inspections.reports.stage import Stage, nice_ticks
from inspections.reports.typeface import shortened, text_width

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
        marks += _surface_name(words.phrase(row.get("kind") or ""), x + 3, ground + _BAND + 10, width - 6)
    return marks


def _surface_name(name: str, x: float, y: float, width: float) -> list[Mark]:
    """Return the name of a surface where it fits, else its last word: half a word tells nobody what lies there."""
    fits = next((said for said in (name, name.rpartition(" ")[2]) if said and text_width(said, 9) <= width), None)
    return [Text((x, y), fits, 9, ink="#333333")] if fits else []


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


def draw_accesses(stage: Stage, ground: float) -> list[Mark]:
    """Return a riser from the pipe to the ground for every access point with a known station."""
    marks: list[Mark] = []
    for _, station in access_points(stage.source) if stage.extent.is_known else []:
        x, y = stage.x(station), ground + stage.middle(station) - stage.half_height(station)
        marks.append(box(x - 3.5, ground - 2, 7, y - ground + 3, Ink(width=1.2, fill="#ffffff")))
        marks.append(box(x - 5.5, ground - 4, 11, 4, Ink(width=1.0, fill="#000000")))
    return marks
