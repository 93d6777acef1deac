"""Grades a run, a lateral or a segment: each finding with its rule, the sums over them, and the coverage."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from scoring.grading.alarms import alarms
from scoring.grading.applying import Applied, apply_scheme
from scoring.grading.coverage import Coverage, coverage
from scoring.grading.guidance import Guidance, guidance, severity_of
from scoring.grading.inspected import inspected_from_lateral, unplaced_defects
from scoring.grading.scheme import Scheme
from scoring.grading.summaries import Summary, in_aspect, lead_of, summarise, summarise_overall
from scoring.types import Alarm, Defect, GradedFinding, Inspected, Lateral, Segment, Unseen

_Graded = tuple[Applied, ...]  # one finding in each aspect it counts in


@dataclass(frozen=True, slots=True)
class SchemeUsed:
    """The scheme a grade belongs to: a grade never travels without it."""

    id: str
    version: int
    title: str
    best: int
    worst: int
    nothing_found: int | None
    source: str
    time_left_source: str | None


@dataclass(frozen=True, slots=True)
class SegmentGrading:
    """One segment: findings that lie in it, stretches cut to it."""

    segment: Segment
    structural: Summary
    service: Summary
    overall: Summary
    coverage: Coverage


@dataclass(frozen=True, slots=True)
class Grading:
    """A scheme applied. `findings` in the order of the defects, structural before service.

    `unplaced` are the refs of findings without a station: in the sums as any other, in no segment.
    """

    scheme: SchemeUsed
    findings: tuple[GradedFinding, ...]
    structural: Summary
    service: Summary
    overall: Summary
    coverage: Coverage
    segments: tuple[SegmentGrading, ...]
    alarms: tuple[Alarm, ...]
    unplaced: tuple[str, ...] = ()
    guidance: tuple[Guidance, ...] = ()


def grade(inspected: Inspected, scheme: Scheme, *, unplaced: Sequence[Defect] = ()) -> Grading:
    """Apply a scheme to what was inspected, and to findings that could not be placed on it.

    Every finding gets a grade. Raises KindUnknown for a kind the contract does not name.
    """
    graded = [apply_scheme(defect, scheme, inspected.segments) for defect in inspected.defects]
    loose = grade_defects(unplaced, scheme)
    sums = _sums(graded, loose, scheme, inspected.segments, inspected.to_m - inspected.from_m)
    return Grading(
        _used(scheme),
        tuple(one.finding for aspects in (*graded, *loose) for one in aspects),
        *sums,
        coverage(inspected),
        _segments(inspected, graded, scheme),
        alarms(inspected.defects) + alarms(unplaced, is_placed=False),
        tuple(defect.ref for defect in unplaced),
        _guidance(graded, scheme, inspected.segments) + _guidance(loose, scheme, ()),
    )


def grade_lateral(lateral: Lateral, scheme: Scheme) -> Grading:
    """Grade a reconciled lateral, the findings without a station too.

    Where no run is tied to the datum the length is unknown: `length_share` is None.
    """
    inspected = inspected_from_lateral(lateral) or Inspected(Decimal(0), Decimal(0))
    return grade(inspected, scheme, unplaced=unplaced_defects(lateral))


def grade_defects(defects: Sequence[Defect], scheme: Scheme) -> list[_Graded]:
    """Grade findings that lie nowhere in particular: nominal size and joint spacing unknown."""
    return [apply_scheme(defect, scheme) for defect in defects]


def grade_segments(inspected: Inspected, scheme: Scheme) -> tuple[SegmentGrading, ...]:
    """Grade each segment by itself, in order along the pipe."""
    graded = [apply_scheme(defect, scheme, inspected.segments) for defect in inspected.defects]
    return _segments(inspected, graded, scheme)


def _used(scheme: Scheme) -> SchemeUsed:
    return SchemeUsed(
        scheme.id, scheme.version, scheme.title, scheme.best, scheme.worst, scheme.nothing_found,
        scheme.source, scheme.time_left_source,
    )  # fmt: skip


def _guidance(graded: Sequence[_Graded], scheme: Scheme, segments: Sequence[Segment]) -> tuple[Guidance, ...]:
    return tuple(
        line
        for aspects in graded
        for line in guidance(
            aspects[0].defect,
            severity_of([one.finding for one in aspects], scheme.best, scheme.worst),
            segments,
        )
    )


def _sums(
    graded: Sequence[_Graded],
    loose: Sequence[_Graded],
    scheme: Scheme,
    segments: Sequence[Segment],
    pipe_length_m: Decimal,
) -> tuple[Summary, Summary, Summary]:
    structural, service = (
        summarise(
            in_aspect(graded, aspect), scheme, segments,
            pipe_length_m=pipe_length_m, unplaced=in_aspect(loose, aspect),
        )
        for aspect in ("structural", "service")
    )  # fmt: skip
    leads = [lead_of(aspects, scheme) for aspects in graded]
    loose_leads = [lead_of(aspects, scheme) for aspects in loose]
    both = summarise(leads, scheme, segments, unplaced=loose_leads)
    return structural, service, summarise_overall((structural, service), both, scheme)


def _segments(inspected: Inspected, graded: Sequence[_Graded], scheme: Scheme) -> tuple[SegmentGrading, ...]:
    ordered = sorted(inspected.segments, key=lambda one: (one.from_m, one.to_m))
    return tuple(_segment(segment, inspected, graded, scheme) for segment in ordered)


def _segment(segment: Segment, inspected: Inspected, graded: Sequence[_Graded], scheme: Scheme) -> SegmentGrading:
    is_last = all(other.from_m != segment.to_m for other in inspected.segments)
    within = [
        tuple(replace(one, defect=cut) for one in aspects)
        for aspects in graded
        if (cut := _cut(aspects[0].defect, segment, is_last)) is not None
    ]
    part = Inspected(
        segment.from_m,
        segment.to_m,
        (segment,),
        tuple(feature for feature in inspected.features if _holds(segment, feature.at_m, is_last)),
        tuple(aspects[0].defect for aspects in within),
        tuple(stretch for stretch in inspected.unseen if _touches(stretch, segment)),
    )
    sums = _sums(within, (), scheme, (segment,), segment.to_m - segment.from_m)
    return SegmentGrading(segment, *sums, coverage(part))


def _holds(segment: Segment, at_m: Decimal, is_last: bool) -> bool:
    """A point on the border of two segments belongs to the one that begins there."""
    return segment.from_m <= at_m < segment.to_m or (is_last and at_m == segment.to_m)


def _cut(defect: Defect, segment: Segment, is_last: bool) -> Defect | None:
    """The part of a finding that lies in the segment."""
    if defect.to_m is None or defect.to_m <= defect.at_m:
        return defect if _holds(segment, defect.at_m, is_last) else None
    from_m, to_m = max(defect.at_m, segment.from_m), min(defect.to_m, segment.to_m)
    return replace(defect, at_m=from_m, to_m=to_m) if from_m < to_m else None


def _touches(stretch: Unseen, segment: Segment) -> bool:
    return stretch.from_m < segment.to_m and (stretch.to_m is None or stretch.to_m > segment.from_m)
