"""Which defects are fixed, which are looked at again and when, and which are left alone."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from scoring.scope.cures import JOINT_KINDS
from scoring.scope.types import Watched
from scoring.types import GradedFinding, LateralDefect, Policy

_SEATTLE: Final = "Seattle Public Utilities, side sewers; the shorter end of the range taken (house rule)"
_BY_GRADE: Final = {1: 5, 2: 3, 3: 1}
_HOUSE: Final = "house rule: one grade above the best 5 years, two grades 3 years, more 1 year"


@dataclass(frozen=True, slots=True)
class Scale:
    """In which direction a scheme's grades count."""

    is_higher_worse: bool
    best_grade: int

    def severity(self, grade: int) -> int:
        """Return steps from the best grade; below 1 nothing worth a date was found."""
        return grade - self.best_grade if self.is_higher_worse else self.best_grade - grade

    def worst(self, grades: list[int]) -> int:
        """Return the worst of several grades."""
        return max(grades) if self.is_higher_worse else min(grades)


@dataclass(frozen=True, slots=True)
class Judged:
    """A defect with its worst grade and the aspects in which it is to be fixed."""

    found: LateralDefect
    grade: int
    to_fix: bool
    is_structural: bool


def judge(
    defects: tuple[LateralDefect, ...], findings: tuple[GradedFinding, ...], policy: Policy, scale: Scale
) -> list[Judged]:
    """Return every graded defect with its verdict, in the lateral's order."""
    graded: dict[str, list[GradedFinding]] = {}
    for finding in findings:
        graded.setdefault(finding.ref, []).append(finding)
    judged = []
    limit = scale.severity(policy.fix_from_grade)
    for found in defects:
        own = graded.get(found.defect.ref, [])
        if own:
            worst = scale.worst([finding.grade for finding in own])
            leading = [finding for finding in own if scale.severity(finding.grade) >= limit]
            is_structural = any(finding.aspect == "structural" for finding in leading or own)
            judged.append(Judged(found, worst, scale.severity(worst) >= limit, is_structural))
    return judged


def watched(each: Judged, scale: Scale, as_of: str | None) -> Watched | None:
    """Return when to look again at a defect that is not fixed; None where its grade is the best or none."""
    severity = scale.severity(each.grade)
    if severity < 1:
        return None
    years, reason, source = _interval(each.found.defect.kind, severity)
    by = None if as_of is None else years_later(as_of, years)
    return Watched(each.found.defect.ref, by, years, reason, source)


def watched_at_a_stop(each: Judged, reason: str, as_of: str | None) -> Watched:
    """Return that a defect whose extent a stop hides is looked at again, at the latest in a year."""
    by = None if as_of is None else years_later(as_of, 1)
    return Watched(each.found.defect.ref, by, 1, reason, "house rule")


def _interval(kind: str, severity: int) -> tuple[int, str, str]:
    if kind == "crack" and severity == 1:
        return 3, "Minor crack: look again in 3 to 5 years.", _SEATTLE
    if kind == "crack" and severity == 2:
        return 1, "Moderate crack: look again every 1 to 2 years and budget a repair.", _SEATTLE
    if kind == "sag" and severity == 2:
        return 2, "Moderate sag: look again in 2 to 5 years.", _SEATTLE
    if kind in JOINT_KINDS and severity == 2:
        return 3, "Moderate joint offset, no soil exposed: look again in a few years.", _SEATTLE
    years = _BY_GRADE.get(severity, 1)
    return years, f"Not bad enough to be fixed under this policy: look again in {years} years.", _HOUSE


def years_later(as_of: str, years: int) -> str:
    """Return the ISO date some years after the date of `as_of` (29 February becomes the 28th)."""
    start = date.fromisoformat(as_of[:10])
    try:
        return start.replace(year=start.year + years).isoformat()
    except ValueError:
        return start.replace(year=start.year + years, day=28).isoformat()
