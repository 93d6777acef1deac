"""The verdict and the text alternative of the drawing, in plain words."""

from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import Document, ReportInput, as_number, number, part, rows, text
from inspections.reports.findings import Finding, findings_of, grade_words
from inspections.reports.grades import grade_of, scheme_words, steps_from_best, worst_first
from inspections.reports.pipeline import is_whole_line, unseen_notes
from inspections.reports.tracks import chosen_plan, no_work

_ASPECTS = ("structural", "service")
_LEADERS_SHOWN = 3


def is_graded(source: ReportInput) -> bool:
    """Whether there is an overall grade to show."""
    return as_number(part(part(source.lateral, "grading"), "overall").get("grade")) is not None


def seen_share(source: ReportInput) -> str:
    """Return what a grade rests on: the share seen, of which stretch, and whether that is the whole line."""
    lateral = source.lateral
    share = words.share(part(part(lateral, "grading"), "coverage").get("length_share"))
    start, end = number(lateral, "from"), number(lateral, "to")
    if start is None or end is None:
        return f"{share} seen of a stretch without stations"
    inspected = f"{share} seen of {words.stretch(start, end, source.units)}"
    return inspected if is_whole_line(lateral) else f"{inspected}, not the whole line"


def verdict(source: ReportInput) -> list[str]:
    """Return the verdict: the headline first, then what it rests on."""
    grading = part(source.lateral, "grading")
    if not is_graded(source):
        return [_no_verdict(source)]
    scheme = part(grading, "scheme")
    headline = f"{grade_of(scheme, part(grading, 'overall').get('grade'))} on {seen_share(source)}"
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
    worst = max(_worst_steps(found, scheme) for found in graded)
    leaders = [found for found in graded if _worst_steps(found, scheme) == worst]
    named = "; ".join(_leader(source, found) for found in leaders[:_LEADERS_SHOWN])
    more = f"; and {len(leaders) - _LEADERS_SHOWN} more" if len(leaders) > _LEADERS_SHOWN else ""
    return [f"The worst of {_count(len(findings_of(source.lateral)), 'finding')}: {named}{more}."]


def _leader(source: ReportInput, found: Finding) -> str:
    where = words.place(found.defect, source.units)
    return f"no. {found.sign} {words.defect_name(found.defect)}, {where}"


def _worst_steps(found: Finding, scheme: Document) -> Decimal:
    return steps_from_best(scheme, number(worst_first(scheme, found.grades)[0], "grade"))


def _count(amount: int, thing: str) -> str:
    return f"{amount} {thing}" if amount == 1 else f"{amount} {thing}s"


def _aspect_sentences(source: ReportInput) -> list[str]:
    grading = part(source.lateral, "grading")
    scheme = part(grading, "scheme")
    parts = [f"{aspect}: {grade_of(scheme, part(grading, aspect).get('grade'))}" for aspect in _ASPECTS]
    return [f"Apart, on the same stretch: {'; '.join(parts)}."]


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


def alarm_title(source: ReportInput, row: Document) -> str:
    """Return what an alarm is about and where, in one line."""
    at = f" at {words.length(row['at'], source.units)}" if as_number(row.get("at")) is not None else ""
    return f"Alarm: {words.phrase(row.get('code') or 'not named')}{at}"


def _alarm_words(source: ReportInput) -> list[str]:
    return [f"Alarm: {words.plain(row.get('detail') or row.get('code'))}." for row in rows(source.lateral, "alarms")]


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
    plan = chosen_plan(source)
    if plan is None:
        impossible = text(source.scope, "impossible")
        return [f"No plan: {impossible}"] if impossible else []
    sections = [
        f"{words.phrase(row.get('method') or 'method not named')} "
        f"{words.stretch(row.get('from'), row.get('to'), source.units)}"
        for row in rows(plan, "sections")
    ]
    return _list(f"Plan {words.phrase(plan.get('name') or '')}", sections or [no_work(source.scope, plan)])
