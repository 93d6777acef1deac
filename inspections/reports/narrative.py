"""The verdict and the text alternative of the drawing, in plain words."""

from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import Document, ReportInput, as_number, number, part, rows, text
from inspections.reports.tagging import Finding, findings_of, grade_words, unseen_notes, worst_first
from inspections.reports.tracks import chosen_plan

_ASPECTS = ("overall", "structural", "service")


def scheme_words(scheme: Document) -> str:
    """Return the scheme with its version and the direction in which it counts."""
    name = f"{text(scheme, 'id') or 'not named'} version {text(scheme, 'version') or 'not given'}"
    return f"{name} ({words.rounded(scheme.get('best'))} best, {words.rounded(scheme.get('worst'))} worst)"


def grade_of(scheme: Document, grade: object) -> str:
    """Return a grade that cannot be read in the wrong direction."""
    best, worst = number(scheme, "best"), number(scheme, "worst")
    found = as_number(grade)
    if found is None:
        return "not graded"
    if best is None or worst is None:
        return f"grade {words.rounded(found)} (direction of the scheme not given)"
    if found == 0 and min(best, worst) >= 1:
        return "grade 0 (nothing found)"
    if worst > best:
        return f"grade {words.rounded(found)} of {words.rounded(worst)} ({words.rounded(worst)} worst)"
    return f"grade {words.rounded(found)} ({words.rounded(worst)} worst, {words.rounded(best)} best)"


def is_graded(source: ReportInput) -> bool:
    """Whether there is an overall grade to show."""
    return as_number(part(part(source.lateral, "grading"), "overall").get("grade")) is not None


def seen_share(source: ReportInput) -> str:
    """Return the share of the inspected length that was seen, in words."""
    coverage = part(part(source.lateral, "grading"), "coverage")
    return f"{words.share(coverage.get('length_share'))} of the inspected length seen"


def verdict(source: ReportInput) -> list[str]:
    """Return the verdict: the headline first, then what it rests on."""
    grading = part(source.lateral, "grading")
    if not is_graded(source):
        return [_no_verdict(source)]
    scheme = part(grading, "scheme")
    share = words.share(part(grading, "coverage").get("length_share"))
    headline = f"{grade_of(scheme, part(grading, 'overall').get('grade'))} on {share} seen"
    return [
        headline[:1].upper() + headline[1:] + f", by the scheme {scheme_words(scheme)}.",
        *_worst_sentence(source),
        *_aspect_sentences(source),
        *_reach_sentences(source),
        *_time_left(source),
    ]


def _no_verdict(source: ReportInput) -> str:
    if number(source.lateral, "from") is None or not source.runs:
        return "No verdict: nothing has been inspected, so nothing is known about this pipe."
    return "No verdict yet: this pipe has been inspected but not graded."


def _worst_sentence(source: ReportInput) -> list[str]:
    scheme = part(part(source.lateral, "grading"), "scheme")
    graded = [found for found in findings_of(source.lateral) if found.grades]
    if not graded:
        return ["No defect was found where the pipe could be seen. Where it could not, nothing is known."]
    best = number(scheme, "best") or Decimal(0)
    worst = max(graded, key=lambda found: abs((_worst_grade(found, scheme) or best) - best))
    where = words.place(worst.defect, source.units)
    name = words.defect_name(worst.defect)
    return [
        f"The worst of {_count(len(findings_of(source.lateral)), 'finding')} is no. {worst.sign}: {name}, {where}."
    ]


def _worst_grade(found: Finding, scheme: Document) -> Decimal | None:
    return number(worst_first(scheme, found.grades)[0], "grade")


def _count(amount: int, thing: str) -> str:
    return f"{amount} {thing}" if amount == 1 else f"{amount} {thing}s"


def _aspect_sentences(source: ReportInput) -> list[str]:
    grading = part(source.lateral, "grading")
    scheme = part(grading, "scheme")
    share = words.share(part(grading, "coverage").get("length_share"))
    parts = [f"{aspect}: {grade_of(scheme, part(grading, aspect).get('grade'))}" for aspect in _ASPECTS[1:]]
    return [f"Apart, on the same {share} seen, {'; '.join(parts)}."]


def _reach_sentences(source: ReportInput) -> list[str]:
    lateral = source.lateral
    missing = [
        name
        for name, is_reached in (
            ("the building", lateral.get("reaches_building")),
            ("the public main", lateral.get("reaches_main")),
        )
        if not is_reached
    ]
    if not missing:
        return ["The line was followed from the building to the public main."]
    return [f"No camera reached {' or '.join(missing)}: beyond the stretch inspected nothing is known."]


def _time_left(source: ReportInput) -> list[str]:
    left = part(part(source.lateral, "grading"), "overall").get("time_left")
    if not left:
        return []
    return [f"Time left, by the worst grade: {words.plain(left)}. A published rule of thumb, not a forecast."]


def describe(source: ReportInput) -> tuple[str, str]:
    """Return title and description of the drawing: what a reader who cannot see it has to know."""
    lateral = source.lateral
    start, end = lateral.get("from"), lateral.get("to")
    span = "nothing inspected" if as_number(start) is None else words.stretch(start, end, source.units)
    title = f"Side view of the lateral: {span}, building on the left, public main on the right"
    said = [*_alarm_words(source), *verdict(source), *_list("Not seen", unseen_notes(source))]
    said += _list("Findings", [_finding_words(source, found) for found in findings_of(lateral)])
    said += _list("Runs", [_run_words(place, run) for place, run in enumerate(source.runs, start=1)])
    return title, " ".join([*said, *_plan_words(source)])


def _alarm_words(source: ReportInput) -> list[str]:
    return [
        f"Alarm: {words.plain(row.get('detail') or row.get('code'))}."
        for row in rows(source.lateral, "alarms")
    ]


def _list(name: str, items: list[str]) -> list[str]:
    return [f"{name}: {'; '.join(items)}."] if items else []


def _finding_words(source: ReportInput, found: Finding) -> str:
    parts = [
        words.defect_name(found.defect),
        words.place(found.defect, source.units),
        words.clock(found.defect),
    ]
    return f"{found.sign} {', '.join(part for part in [*parts, grade_words(found)] if part)}"


def _run_words(place: int, run: Document) -> str:
    direction = words.phrase(run.get("direction") or "direction not given")
    return f"run {place} {direction} from {words.access(part(run, 'start_access'))}, {words.run_end(run)}"


def _plan_words(source: ReportInput) -> list[str]:
    plan = chosen_plan(source.scope)
    if plan is None:
        return []
    sections = [
        f"{words.phrase(row.get('method') or 'method not named')} "
        f"{words.stretch(row.get('from'), row.get('to'), source.units)}"
        for row in rows(plan, "sections")
    ]
    return _list(f"Plan {words.phrase(plan.get('name') or '')}", sections or ["nothing to do"])
