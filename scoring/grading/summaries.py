"""Sums up the findings of an aspect: the worst leads, counts and lengths refine, nothing is averaged away."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from scoring.grading.applying import Applied
from scoring.grading.density import Density, Scored, density
from scoring.grading.lengths import damage_length_m, pipe_lengths
from scoring.grading.scheme import Scheme
from scoring.types import Aspect, Segment

_MEAN_DIGITS: Final = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class GradeCount:
    """A grade and how many findings have it."""

    grade: int
    count: int


@dataclass(frozen=True, slots=True)
class Summary:
    """One aspect, or the overall, of what was inspected.

    `grade` is the worst (with a density scheme the class of F), the scheme's own value where nothing was
    found. `counts` has every grade of the scheme. `mean_grade` is weighted_count / sum of counts, to three
    decimals, half up; None where nothing was found. Lengths in metres.
    """

    grade: int | None
    counts: Mapping[int, int]
    worst_two: tuple[GradeCount, ...]
    weighted_count: int
    mean_grade: Decimal | None
    two_grade_sum: int
    damage_length_m: Decimal
    time_left: str | None
    density: Density | None


def summarise(
    applied: Sequence[Applied],
    scheme: Scheme,
    segments: Sequence[Segment] = (),
    *,
    pipe_length_m: Decimal = Decimal(0),
    unplaced: Sequence[Applied] = (),
) -> Summary:
    """Sum up graded findings, each given once. `unplaced` ones count too, as a point wherever it lies."""
    counts = dict.fromkeys(scheme.grades(), 0)
    for one in applied:
        counts[one.finding.grade] += pipe_lengths(one.defect, segments)
    for one in unplaced:
        counts[one.finding.grade] += pipe_lengths(one.defect, ())
    figures = _density(applied, unplaced, scheme, pipe_length_m)
    defects = [one.defect for one in (*applied, *unplaced)]
    return _summary(counts, scheme, figures, damage_length_m(defects))


def summarise_overall(aspects: Sequence[Summary], both: Summary, scheme: Scheme) -> Summary:
    """The overall: every finding once, by the worse of its grades, led by the worse aspect.

    Density is formed for each aspect alone; the overall class is the worse of the two.
    """
    grades = [one.grade for one in aspects if one.grade is not None and one.grade != scheme.nothing_found]
    grade = max(grades, key=scheme.severity, default=scheme.nothing_found)
    return Summary(
        grade, both.counts, both.worst_two, both.weighted_count, both.mean_grade, both.two_grade_sum,
        both.damage_length_m, _time_left(scheme, grade), None,
    )  # fmt: skip


def lead_of(graded: Sequence[Applied], scheme: Scheme) -> Applied:
    """The worse of one finding's aspects; the first where they are equal."""
    return max(graded, key=lambda one: scheme.severity(one.finding.grade))


def in_aspect(graded: Sequence[Sequence[Applied]], aspect: Aspect) -> list[Applied]:
    return [one for aspects in graded for one in aspects if one.finding.aspect == aspect]


def _summary(counts: Mapping[int, int], scheme: Scheme, figures: Density | None, damage_m: Decimal) -> Summary:
    found = sorted((grade for grade in counts if counts[grade]), key=scheme.severity, reverse=True)
    worst_two = tuple(GradeCount(grade, counts[grade]) for grade in found[:2])
    weighted = sum(grade * count for grade, count in counts.items())
    number = sum(counts.values())
    mean = (Decimal(weighted) / number).quantize(_MEAN_DIGITS, ROUND_HALF_UP) if number else None
    grade = found[0] if found else scheme.nothing_found
    if figures is not None:
        grade = scheme.best + figures.steps * (1 if scheme.worst > scheme.best else -1)
    return Summary(
        grade, counts, worst_two, weighted, mean, sum(one.grade * one.count for one in worst_two), damage_m,
        _time_left(scheme, grade), figures,
    )  # fmt: skip


def _time_left(scheme: Scheme, grade: int | None) -> str | None:
    return None if scheme.time_left is None or grade is None else scheme.time_left.get(grade)


def _density(
    applied: Sequence[Applied], unplaced: Sequence[Applied], scheme: Scheme, pipe_length_m: Decimal
) -> Density | None:
    if scheme.density is None:
        return None
    scored = [
        Scored(one.score, one.defect.at_m, one.defect.to_m or one.defect.at_m)
        for one in applied
        if one.score is not None
    ]
    scored += [Scored(one.score, None, None) for one in unplaced if one.score is not None]
    return density(scored, pipe_length_m, scheme.density)
