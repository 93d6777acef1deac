"""Which tags a lateral gets: one per defect, feature, boundary and unseen stretch, in words."""

from collections.abc import Mapping
from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import Document, ReportInput, Units, number, part, rows, text
from inspections.reports.findings import Finding, access_points, findings_of, grade_words
from inspections.reports.grades import gauge_of, worst_first
from inspections.reports.pipeline import unseen_stretches
from inspections.reports.stage import Stage
from inspections.reports.tags import Shape, Tag

Place = tuple[str, str, Decimal | None, Shape]  # title, detail, station, shape of the sign

_UPSTREAM, _DOWNSTREAM = ", upstream", ", downstream"  # ends of the titles of open ends


def defect_tags(stage: Stage) -> list[Tag]:
    """Return one tag per defect."""
    scheme = part(part(stage.source.lateral, "grading"), "scheme")
    return [_defect_tag(stage, found, scheme) for found in findings_of(stage.source.lateral)]


def _defect_tag(stage: Stage, found: Finding, scheme: Document) -> Tag:
    defect, grades = found.defect, worst_first(scheme, found.grades)
    detail = [words.place(defect, stage.source.units), grade_words(found), words.clock(defect)]
    return Tag(
        stage.x_of(number(defect, "station")),
        _shape(defect, grades),
        found.sign,
        words.defect_name(defect),
        " · ".join(part for part in detail if part),
        gauge_of(scheme, number(grades[0], "grade")) if grades else None,
    )


def _shape(defect: Document, grades: list[Document]) -> Shape:
    if defect.get("kind") == "foreign_line":
        return "alarm"
    if not grades:
        return "ungraded"
    return "service" if grades[0].get("aspect") == "service" else "structural"


_BOUNDARY_WORDS: Mapping[str, str] = {
    "building_wall": "building wall",
    "property_line": "property line",
    "main": "public main",
}


def place_tags(stage: Stage) -> list[Tag]:
    """Return the tags below the pipe: access points, features other than sound joints, boundaries, unseen."""
    if not stage.extent.is_known:
        return []
    found = [
        (_anchor(stage, station, shape, title), title, detail, shape)
        for title, detail, station, shape in _places(stage.source)
        if station is not None
    ]
    return [
        Tag(x, shape, _letter(place), title, detail) for place, (x, title, detail, shape) in enumerate(sorted(found))
    ]


def _anchor(stage: Stage, station: Decimal, shape: Shape, title: str) -> float:
    """An end nobody has seen is pointed at where it is drawn: beyond the stations."""
    reach = stage.tail / 2 - 3
    if shape == "unseen" and title.endswith(_UPSTREAM) and stage.extent.is_open_upstream:
        return stage.left - reach
    if shape == "unseen" and title.endswith(_DOWNSTREAM) and stage.extent.is_open_downstream:
        return stage.right + reach
    return stage.x(station)


def _letter(place: int) -> str:
    return chr(ord("A") + place) if place < 26 else _letter(place // 26 - 1) + _letter(place % 26)


def _places(source: ReportInput) -> list[Place]:
    found: dict[Place, None] = {}
    for make in (_access_places, _feature_places, _unseen_places, _boundary_places):
        found.update(dict.fromkeys(make(source)))
    return list(found)


def _access_places(source: ReportInput) -> list[Place]:
    return [
        (title, words.length(station, source.units), station, "feature") for title, station in access_points(source)
    ]


def _feature_places(source: ReportInput) -> list[Place]:
    """Features but for sound joints, access points (placed by name) and a main that is a boundary too."""
    lateral = source.lateral
    mains = [number(row, "station") for row in rows(lateral, "boundaries") if row.get("kind") == "main"]
    return [
        _feature(row, source.units)
        for row in rows(lateral, "features")
        if row.get("kind") not in ("joint", "access_point")
        and not (row.get("kind") == "main" and number(row, "station") in mains)
    ]


def _unseen_places(source: ReportInput) -> list[Place]:
    return [_unseen(row, source.units) for row in unseen_stretches(source.lateral)]


def _boundary_places(source: ReportInput) -> list[Place]:
    found: list[Place] = []
    for row in rows(source.lateral, "boundaries"):
        kind, station = text(row, "kind"), number(row, "station")
        title = _BOUNDARY_WORDS.get(kind, words.phrase(kind or "boundary"))
        found.append((title, f"boundary · {words.length(station, source.units)}", station, "boundary"))
    return found


def _unseen(row: Document, units: Units) -> Place:
    start, end = number(row, "from"), number(row, "to")
    reason = words.unseen_reason(row.get("reason"))
    title = reason if row.get("reason") == "not_reached" else f"not seen: {reason}"
    if start is None or end is None:
        open_way = _DOWNSTREAM if end is None else _UPSTREAM
        return title + open_way, words.stretch(start, end, units), start if end is None else end, "unseen"
    return title, words.stretch(start, end, units), (start + end) / 2, "unseen"


def _feature(row: Document, units: Units) -> Place:
    title = words.phrase(row.get("kind") or "feature")
    detail = " · ".join(part for part in (words.place(row, units), words.clock(row), text(row, "label")) if part)
    return title, detail, number(row, "station"), "feature"
