"""The defects as the report numbers them, and the access points, both in order along the lateral."""

from dataclasses import dataclass
from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import Document, ReportInput, number, part, rows, text


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


def grade_words(found: Finding) -> str:
    """Return the grades of a finding in words; two aspects are told apart."""
    if not found.grades:
        return "not graded"
    if len(found.grades) == 1:
        return f"grade {words.rounded(found.grades[0].get('grade'))}"
    different = {text(row, "aspect"): words.rounded(row.get("grade")) for row in found.grades}
    if len(set(different.values())) == 1:
        return f"grade {next(iter(different.values()))} in both aspects"
    return "grade " + ", ".join(f"{grade} {aspect}" for aspect, grade in different.items())


def access_points(source: ReportInput) -> list[tuple[str, Decimal]]:
    """Return the access points with a known station: the datum, where runs started, those passed."""
    lateral = source.lateral
    by_run = {text(run, "id"): run for run in source.runs}
    found: dict[tuple[str, Decimal], None] = {}
    if lateral.get("datum"):
        found[(_short_name(part(lateral, "datum")), Decimal(0))] = None
    for row in rows(lateral, "runs"):
        station, run = number(row, "station_at_start"), by_run.get(text(row, "run"))
        if station is not None and run is not None and run.get("start_access"):
            found.setdefault((_short_name(part(run, "start_access")), station))
    for row in rows(lateral, "features"):
        station = number(row, "station")
        if row.get("kind") == "access_point" and station is not None:
            found.setdefault((text(row, "label") or "access point", station))
    return list(found)


def _short_name(access: Document) -> str:
    return text(access, "label") or words.access(access)
