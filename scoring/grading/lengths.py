"""Lengths of findings: how many pipe lengths a stretch covers, and the damage length."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final

from scoring.types import Defect, Segment

UNKNOWN_SPACING_M: Final = Decimal("1.524")  # 5 ft where the joint spacing is not known (house rule)
POINT_LENGTH_M: Final = Decimal("0.3")  # BFR Abwasser: a point damage counts 0.3 m


def half_up(number: Fraction) -> int:
    """Round a number of 0 or more to whole, a half upward (Python's round(2.5) is 2)."""
    return (number + Fraction(1, 2)).__floor__()


def length_m(defect: Defect) -> Decimal:
    """Length of a stretch; 0 for a point."""
    return Decimal(0) if defect.to_m is None else max(defect.to_m - defect.at_m, Decimal(0))


def pipe_lengths(defect: Defect, segments: Sequence[Segment]) -> int:
    """How often a finding counts: a point once, a stretch once per pipe length it covers, at least once.

    Length over joint spacing, summed over the segments the stretch lies in and rounded half up; 5 ft
    where no segment says the spacing (house rule).
    """
    if defect.to_m is None:
        return 1
    left = Fraction(length_m(defect))
    lengths = Fraction(0)
    for segment in segments:
        part = Fraction(min(defect.to_m, segment.to_m)) - Fraction(max(defect.at_m, segment.from_m))
        if part > 0 and segment.joint_spacing_m:
            lengths += part / Fraction(segment.joint_spacing_m)
            left -= part
    lengths += max(left, Fraction(0)) / Fraction(UNKNOWN_SPACING_M)
    return max(1, half_up(lengths))


def damage_length_m(defects: Iterable[Defect]) -> Decimal:
    """Sum of damage lengths: a point, and a stretch shorter than that, counts 0.3 m.

    Source: BFR Abwasser A-3.1.3; 0.3 m is the border between point and continuous damage.
    """
    return sum((max(length_m(defect), POINT_LENGTH_M) for defect in defects), Decimal(0))


def damage_points(damages: Iterable[tuple[int, Decimal | None]]) -> Decimal:
    """Sum of points times damage length (m; None for a point damage), as in BFR Abwasser A-3.1.3.

    >>> damage_points([(360, None), (140, Decimal(4))])
    Decimal('668.0')
    """
    return sum(
        (points * (POINT_LENGTH_M if length is None else max(length, POINT_LENGTH_M)) for points, length in damages),
        Decimal(0),
    )
