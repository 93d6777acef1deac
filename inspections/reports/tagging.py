"""Which tags a lateral gets: one per defect, feature, boundary and unseen stretch, in words."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import Document, ReportInput, Units, number, part, rows, text
from inspections.reports.pipeline import unseen_stretches
from inspections.reports.tags import Gauge, Shape, Tag

Place = tuple[str, str, Decimal | None, Shape]
XOf = Callable[[Decimal | float | None], float | None]


@dataclass(frozen=True, slots=True)
class Finding:
    """A defect as the report numbers it, with the grades it got."""

    sign: str
    defect: Document
    grades: tuple[Document, ...]


def findings_of(lateral: Document) -> list[Finding]:
    """Return the defects numbered along the lateral; those without a station come last."""
    graded: dict[str, list[Document]] = {}
    for row in rows(part(lateral, "grading"), "defects"):
        graded.setdefault(text(row, "ref"), []).append(row)
    ordered = sorted(rows(lateral, "defects"), key=_along)
    return [
        Finding(str(place), defect, tuple(graded.get(text(defect, "ref"), ())))
        for place, defect in enumerate(ordered, start=1)
    ]


def _along(defect: Document) -> tuple[bool, Decimal, str]:
    station = number(defect, "station")
    position = station if station is not None else number(defect, "counter")
    return station is None, position or Decimal(0), text(defect, "ref")


def steps_from_best(scheme: Document, grade: Decimal | None) -> Gauge | None:
    """Return a grade as filled cells, counted from the best end of its scheme whichever way it counts."""
    best, worst = number(scheme, "best"), number(scheme, "worst")
    if grade is None or best is None or worst is None or best == worst:
        return None
    steps = int(abs(worst - best)) + 1
    is_none_found = min(best, worst) >= 1 and grade == 0
    filled = 0 if is_none_found else int(abs(grade - best)) + 1
    return Gauge(min(filled, steps), steps)


def worst_first(scheme: Document, grades: tuple[Document, ...]) -> list[Document]:
    """Return graded rows, the worst first, whichever way the scheme counts."""
    best = number(scheme, "best") or Decimal(0)
    return sorted(grades, key=lambda row: -abs((number(row, "grade") or best) - best))


def defect_tags(source: ReportInput, x_of: XOf) -> list[Tag]:
    """Return one tag per defect."""
    scheme = part(part(source.lateral, "grading"), "scheme")
    return [_defect_tag(source, found, scheme, x_of) for found in findings_of(source.lateral)]


def _defect_tag(source: ReportInput, found: Finding, scheme: Document, x_of: XOf) -> Tag:
    defect, grades = found.defect, worst_first(scheme, found.grades)
    detail = [words.place(defect, source.units), words.clock(defect), grade_words(found)]
    return Tag(
        x_of(number(defect, "station")),
        _shape(defect, grades),
        found.sign,
        words.defect_name(defect),
        " · ".join(part for part in detail if part),
        steps_from_best(scheme, number(grades[0], "grade")) if grades else None,
    )


def _shape(defect: Document, grades: list[Document]) -> Shape:
    if defect.get("kind") == "foreign_line":
        return "alarm"
    if not grades:
        return "ungraded"
    return "service" if grades[0].get("aspect") == "service" else "structural"


def grade_words(found: Finding) -> str:
    """Return the grades of a finding in words; two aspects are told apart."""
    if not found.grades:
        return "not graded"
    if len(found.grades) == 1:
        return f"grade {words.rounded(found.grades[0].get('grade'))}"
    return ", ".join(f"{text(row, 'aspect')} grade {words.rounded(row.get('grade'))}" for row in found.grades)


_BOUNDARY_WORDS: Mapping[str, str] = {
    "building_wall": "building wall",
    "property_line": "property line",
    "main": "public main",
}


def place_tags(source: ReportInput, x_of: XOf) -> list[Tag]:
    """Return the tags below the pipe: access points, features other than sound joints, boundaries, unseen."""
    found: list[tuple[float, str, str, Shape]] = []
    for title, detail, station, shape in _places(source):
        x = x_of(station)
        if x is not None:
            found.append((x, title, detail, shape))
    found.sort()
    return [
        Tag(x, shape, _letter(place), title, detail) for place, (x, title, detail, shape) in enumerate(found)
    ]


def _letter(place: int) -> str:
    return chr(ord("A") + place) if place < 26 else _letter(place // 26 - 1) + _letter(place % 26)


def _places(source: ReportInput) -> list[Place]:
    found: dict[Place, None] = {}
    for make in (_access_places, _feature_places, _unseen_places, _boundary_places):
        found.update(dict.fromkeys(make(source)))
    return list(found)


def _access_places(source: ReportInput) -> list[Place]:
    return [
        (title, words.length(station, source.units), station, "feature")
        for title, station in access_points(source)
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
    middle = (start + end) / 2 if start is not None and end is not None else end if start is None else start
    title = f"not seen: {words.unseen_reason(row.get('reason'))}"
    return title, words.stretch(start, end, units), middle, "unseen"


def _feature(row: Document, units: Units) -> Place:
    title = words.phrase(row.get("kind") or "feature")
    detail = " · ".join(
        part for part in (words.place(row, units), words.clock(row), text(row, "label")) if part
    )
    return title, detail, number(row, "station"), "feature"


def access_points(source: ReportInput) -> list[tuple[str, Decimal]]:
    """Return the access points with a known station: the datum, where runs started, those passed."""
    lateral = source.lateral
    by_run = {text(run, "id"): run for run in source.runs}
    found: dict[tuple[str, Decimal], None] = {}
    if lateral.get("datum"):
        found[(words.access(part(lateral, "datum")), Decimal(0))] = None
    for row in rows(lateral, "runs"):
        station, run = number(row, "station_at_start"), by_run.get(text(row, "run"))
        if station is not None and run is not None and run.get("start_access"):
            found.setdefault((words.access(part(run, "start_access")), station))
    for row in rows(lateral, "features"):
        station = number(row, "station")
        if row.get("kind") == "access_point" and station is not None:
            found.setdefault((text(row, "label") or "access point", station))
    return list(found)


def unseen_notes(source: ReportInput) -> list[str]:
    """Return every unseen stretch in words, in order along the lateral."""
    return [
        f"{words.stretch(row.get('from'), row.get('to'), source.units)}: {words.unseen_reason(row.get('reason'))}"
        for row in unseen_stretches(source.lateral)
    ]
