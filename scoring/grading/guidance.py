"""What public guidance for house drains says to single findings: look again when, repair, report at all.

An aid beside the grades, never instead of them. Each line names its source; where the source says minor,
moderate or severe without a number, they are read off the degree or the grade by house rule.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from scoring.grading.applying import nominal_size_mm
from scoring.types import Defect, GradedFinding, Segment

_SEATTLE: Final = "Seattle Public Utilities, side sewers"
_BY_GRADE: Final = "minor, moderate, severe by the grade (house rule)"
_SEATTLE_SAG: Final = f"{_SEATTLE}, sag; above 50 % severe (band inferred)"
_SEATTLE_CRACK: Final = f"{_SEATTLE}, crack; {_BY_GRADE}"
_SEATTLE_JOINT: Final = f"{_SEATTLE}, and City of Tacoma, joint offset; {_BY_GRADE}"
_REPORTING: Final = "InterNACHI sewer-scope standard of practice 3.1 (restated)"

_REPORTED_OFFSET_MM: Final = Decimal("6.35")  # over 1/4 in
_REPORTED_WATER_MM: Final = Decimal("25.4")  # over 1 in of standing water
_SEVERITY_OF_DEGREE: Final = {"slight": 0, "moderate": 1, "severe": 2}


@dataclass(frozen=True, slots=True)
class Guidance:
    """One line of guidance on one finding; `look_again_years` from-to where the source gives years."""

    ref: str
    rule: str
    says: str
    look_again_years: tuple[int, int] | None
    source: str


@dataclass(frozen=True, slots=True)
class _Line:
    says: str
    years: tuple[int, int] | None = None


_SAG: Final = (
    _Line("minor, no repair"),
    _Line("moderate, look again in 2 to 5 years", (2, 5)),
    _Line("severe, repair"),
)
_CRACK: Final = (
    _Line("minor, look again in 3 to 5 years", (3, 5)),
    _Line("moderate, look again every 1 to 2 years and budget a repair", (1, 2)),
    _Line("severe, repair"),
)
_JOINT: Final = (
    _Line("minor, nothing to do"),
    _Line("moderate, no soil exposed, look again in a few years"),
    _Line("severe or soil exposed, repair"),
)


def guidance(
    defect: Defect, severity: Decimal | None = None, segments: Sequence[Segment] = ()
) -> tuple[Guidance, ...]:
    """Return what public guidance says to a finding; nothing for kinds it does not speak of.

    `severity` is the grade as a share of the way from best to worst (0 to 1), for sources that give no number.
    """
    lines: list[Guidance] = []
    if defect.kind == "sag":
        lines += _line(defect, "guidance/sag", _SAG, _sag_step(defect), _SEATTLE_SAG)
    if defect.kind == "crack":
        lines += _line(defect, "guidance/crack", _CRACK, _step(severity), _SEATTLE_CRACK)
    if defect.kind == "displaced_joint":
        step = 2 if defect.soil_seen or defect.void_seen else _step(severity)
        lines += _line(defect, "guidance/joint-offset", _JOINT, step, _SEATTLE_JOINT)
    if reason := _reported_because(defect, segments):
        says = f"to be reported in a home inspection: {reason}"
        lines.append(Guidance(defect.ref, "guidance/reporting-limit", says, None, _REPORTING))
    return tuple(lines)


def severity_of(findings: Sequence[GradedFinding], best: int, worst: int) -> Decimal | None:
    """The structural grade of a finding as a share of the way from best to worst; None without one."""
    grades = [abs(one.grade - best) for one in findings if one.aspect == "structural"]
    return Decimal(max(grades)) / abs(worst - best) if grades else None


def _line(defect: Defect, rule: str, lines: Sequence[_Line], step: int | None, source: str) -> list[Guidance]:
    if step is None:
        return []
    return [Guidance(defect.ref, rule, lines[step].says, lines[step].years, source)]


def _sag_step(defect: Defect) -> int | None:
    """Below 25 % minor, 25 to 50 % moderate, above severe; by degree where nothing was measured."""
    if defect.percent is None:
        return _SEVERITY_OF_DEGREE.get(defect.degree or "")
    if defect.percent < 25:
        return 0
    return 1 if defect.percent <= 50 else 2


def _step(severity: Decimal | None) -> int | None:
    """Minor up to a quarter of the way to the worst, severe from three quarters (house rule)."""
    if severity is None:
        return None
    if severity <= Decimal("0.25"):
        return 0
    return 1 if severity < Decimal("0.75") else 2


def _reported_because(defect: Defect, segments: Sequence[Segment]) -> str | None:
    if defect.kind == "roots":
        return "any root"
    if defect.kind in ("crack", "fracture"):
        return "any visible crack"
    if defect.offset_mm is not None and defect.offset_mm > _REPORTED_OFFSET_MM:
        return "offset over 1/4 in"
    size_mm = nominal_size_mm(defect, segments)
    if defect.kind == "sag" and defect.percent is not None and size_mm is not None:
        water_mm = defect.percent * size_mm / 100
        return "standing water over 1 in" if water_mm > _REPORTED_WATER_MM else None
    return None
