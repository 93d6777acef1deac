"""A grading as a JSON-like document, names as in the contract. Lengths in metres, sizes in millimetres."""

from decimal import Decimal
from typing import Any, Final

from scoring.grading.coverage import Coverage
from scoring.grading.density import Density
from scoring.grading.grading import Grading, SegmentGrading
from scoring.grading.guidance import Guidance
from scoring.grading.summaries import Summary
from scoring.types import Alarm, GradedFinding
from scoring.units import plain

CAUTION: Final = (
    "A grade is a decision aid: local code, the sewer authority and licensed plumbers and engineers decide. "
    "A recording is not a pressure test."
)
_UPSTREAM_OPEN: Final = "not_reached"


def grading_document(grading: Grading) -> dict[str, Any]:
    """Return the grading as nested dicts and lists of str, int, bool, Decimal and None.

    Shares to four decimals (half even), mean grades to three (half up), lengths to four.
    """
    return {
        "scheme": {
            "id": grading.scheme.id,
            "version": grading.scheme.version,
            "title": grading.scheme.title,
            "best": grading.scheme.best,
            "worst": grading.scheme.worst,
            "nothing_found": grading.scheme.nothing_found,
            "source": grading.scheme.source,
            "time_left_source": grading.scheme.time_left_source,
        },
        "verdict": verdict(grading),
        **_sums(grading),
        "coverage": _coverage(grading.coverage),
        "defects": [_finding(finding) for finding in grading.findings],
        "unplaced": list(grading.unplaced),
        "segments": [_segment(segment) for segment in grading.segments],
        "guidance": [_guidance(line) for line in grading.guidance],
        "alarms": [alarm_document(alarm) for alarm in grading.alarms],
        "cautions": [CAUTION],
    }


def verdict(grading: Grading) -> str:
    """The overall grade and what it rests on in one breath: "grade 4 on 92 % seen"."""
    share = grading.coverage.length_share
    grade = grading.overall.grade
    is_nothing = grade is None or grade == grading.scheme.nothing_found
    if is_nothing and not share:
        return "nothing could be judged"
    said = "nothing found" if is_nothing else f"grade {grade}"
    if share is None:
        return f"{said}, length not known"
    return f"{said} on {_whole_percent(share)} % seen{_beyond(grading.coverage)}"


def _beyond(coverage: Coverage) -> str:
    """A stop short leaves the rest unseen, and every verdict after it says so."""
    is_open = coverage.is_upstream_end_open or any(stretch.to_m is None for stretch in coverage.unseen)
    return " of what was reached, the rest not seen" if is_open else ""


def alarm_document(alarm: Alarm) -> dict[str, Any]:
    """Return one alarm, position in metres."""
    return {"code": alarm.code, "detail": alarm.detail, "at": _plain(alarm.at_m), "ref": alarm.ref}


def _sums(grading: Grading | SegmentGrading) -> dict[str, Any]:
    return {
        "structural": _summary(grading.structural),
        "service": _summary(grading.service),
        "overall": _summary(grading.overall),
    }


def _summary(summary: Summary) -> dict[str, Any]:
    return {
        "grade": summary.grade,
        "counts": {str(grade): count for grade, count in summary.counts.items()},
        "worst_two": [{"grade": one.grade, "count": one.count} for one in summary.worst_two],
        "weighted_count": summary.weighted_count,
        "mean_grade": _plain(summary.mean_grade),
        "two_grade_sum": summary.two_grade_sum,
        "damage_length": _plain(summary.damage_length_m),
        "time_left": summary.time_left,
        "density": None if summary.density is None else _density(summary.density),
    }


def _density(density: Density) -> dict[str, Any]:
    return {
        "s": _plain(density.s),
        "s_max": _plain(density.s_max),
        "f": _plain(density.f),
        "s_m": _plain(density.s_m),
        "extent": density.extent,
    }


def _coverage(coverage: Coverage) -> dict[str, Any]:
    unseen: list[dict[str, Any]] = [
        {"from": _plain(stretch.from_m), "to": _plain(stretch.to_m), "reason": stretch.reason}
        for stretch in coverage.unseen
    ]
    if coverage.is_upstream_end_open:  # open toward the building, as `to: null` is toward the main
        unseen.insert(0, {"from": None, "to": _plain(coverage.from_m), "reason": _UPSTREAM_OPEN})
    return {
        "length_share": _plain(coverage.length_share),
        "joints_seen": coverage.joints_seen,
        "joints_affected": coverage.joints_affected,
        "joints_sound": coverage.joints_sound,
        "joints_expected": coverage.joints_expected,
        "joints_not_seen": coverage.joints_not_seen,
        "joints_not_recorded": coverage.joints_not_recorded,
        "joint_spacing_from": coverage.joint_spacing_from,
        "joint_spacing_share": _plain(coverage.joint_spacing_share),
        "unseen": unseen,
    }


def _finding(finding: GradedFinding) -> dict[str, Any]:
    return {
        "ref": finding.ref,
        "aspect": finding.aspect,
        "grade": finding.grade,
        "rule": finding.rule,
        "source": finding.source,
        "measure": finding.measure,
        "also": list(finding.also),
    }


def _guidance(line: Guidance) -> dict[str, Any]:
    years = line.look_again_years
    return {
        "ref": line.ref,
        "rule": line.rule,
        "says": line.says,
        "look_again_years": None if years is None else list(years),
        "source": line.source,
    }


def _segment(graded: SegmentGrading) -> dict[str, Any]:
    return {
        "from": _plain(graded.segment.from_m),
        "to": _plain(graded.segment.to_m),
        "material": graded.segment.material,
        "diameter": _plain(graded.segment.diameter_mm),
        **_sums(graded),
        "coverage": _coverage(graded.coverage),
    }


def _whole_percent(share: Decimal) -> int:
    """Rounded to whole, but 100 only for the whole and 0 only for nothing."""
    percent = int((share * 100).to_integral_value())
    if share < 1:
        percent = min(percent, 99)
    return max(percent, 1) if share > 0 else percent


def _plain(number: Decimal | None) -> Decimal | None:
    return None if number is None else plain(number)
