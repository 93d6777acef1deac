"""Applies a scheme to one finding: which rows fit, which one leads, what else applied."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from scoring.grading.faults import KindUnknown
from scoring.grading.kinds import ASPECTS, FLAG_FIELDS, KINDS, MEASURE_WORDS, WORD_FIELDS
from scoring.grading.scheme import Row, Scheme
from scoring.types import Aspect, Defect, GradedFinding, Segment

_ORDER = {"always": 0, "measured": 1, "unmeasured": 2}  # which of equally bad rows is named first


@dataclass(frozen=True, slots=True)
class Applied:
    """A graded finding together with the defect it is of and the score of its row, where there is one."""

    finding: GradedFinding
    defect: Defect
    score: Decimal | None


def apply_scheme(defect: Defect, scheme: Scheme, segments: Sequence[Segment] = ()) -> tuple[Applied, ...]:
    """Grade one finding in each aspect it counts in: structural first, at least one.

    The worst of all rows that apply wins. Rows for "nothing measured" apply only where no measured row of
    the aspect does. Raises KindUnknown for a kind the contract does not name.
    """
    if defect.kind not in KINDS:
        raise KindUnknown(defect.kind)
    size_mm = nominal_size_mm(defect, segments)
    worded = scheme.as_worded(defect)
    fitting = [row for row in scheme.rows if row.fits(worded, size_mm)]
    return tuple(
        applied for aspect in ASPECTS if (applied := _in_aspect(aspect, worded, defect, fitting, scheme)) is not None
    )


def nominal_size_mm(defect: Defect, segments: Sequence[Segment]) -> Decimal | None:
    """The smallest nominal size of the segments the finding touches (the stricter), None where unknown."""
    last_m = defect.at_m if defect.to_m is None else defect.to_m
    sizes = [
        segment.diameter_mm
        for segment in segments
        if segment.diameter_mm is not None and segment.from_m <= last_m and defect.at_m <= segment.to_m
    ]
    return min(sizes, default=None)


def _in_aspect(
    aspect: Aspect, worded: Defect, defect: Defect, fitting: Sequence[Row], scheme: Scheme
) -> Applied | None:
    rows = [row for row in fitting if row.aspect == aspect]
    if any(row.applies == "measured" for row in rows):
        rows = [row for row in rows if row.applies != "unmeasured"]
    if not rows:
        return None
    # sorted is stable: equally bad rows keep the order of the document
    ranked = sorted(rows, key=lambda row: (-scheme.severity(row.grade), _ORDER[row.applies]))
    lead = ranked[0]
    also = tuple(dict.fromkeys(row.rule for row in ranked[1:] if row.rule != lead.rule))
    finding = GradedFinding(
        defect.ref, aspect, lead.grade, lead.rule, lead.source, _measure_in_words(lead, worded), also
    )
    return Applied(finding, defect, lead.score)


def _measure_in_words(row: Row, defect: Defect) -> str | None:
    """What the row went by: the measure with its value and range, else the words and flags asked for."""
    if row.measure is not None and row.values is not None:
        name, unit = MEASURE_WORDS[row.measure]
        value: Decimal = getattr(defect, row.measure)
        return f"{name} {value:f} {unit} ({row.values.in_words(unit)})"
    said = [f"{name} {getattr(defect, name) or 'not given'}" for name in WORD_FIELDS if getattr(row, name) is not None]
    said += [name.replace("_", " ") for name in FLAG_FIELDS if getattr(row, name)]
    return ", ".join(said) or None
