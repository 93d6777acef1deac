"""How much of the pipe was really seen: exact interval arithmetic over what was not.

An unseen stretch is never "no defect"; every grade is given together with its coverage.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from scoring.grading.joints import JointCount, SpacingFrom, count_joints
from scoring.types import Inspected, Unseen

_SHARE_STEP: Final = Decimal("0.0001")
_ONE: Final = Decimal(1)

Interval = tuple[Decimal, Decimal]


@dataclass(frozen=True, slots=True)
class Coverage:
    """What share was seen, which joints, and what was not.

    `length_share` is seen / length to four decimals, half even, None where there is no length; it is never
    rounded to 1 while some of the length was unseen, nor to 0 while some was seen. A stretch beyond the end
    (a stopped camera) takes nothing off it but stays in `unseen`. Joint counts: see `JointCount`;
    `joint_spacing_share` is the share of the length where joints could be expected by their spacing.
    """

    from_m: Decimal
    to_m: Decimal
    seen_m: Decimal
    length_share: Decimal | None
    joints_seen: int
    joints_affected: int
    joints_sound: int
    joints_expected: int | None
    joints_not_seen: int | None
    joints_not_recorded: int | None
    joint_spacing_from: SpacingFrom | None
    joint_spacing_share: Decimal | None
    unseen: tuple[Unseen, ...]
    is_upstream_end_open: bool = False


def coverage(inspected: Inspected) -> Coverage:
    """Return the coverage of a run, a lateral or one segment."""
    length_m = max(inspected.to_m - inspected.from_m, Decimal(0))
    hidden = unseen_intervals(inspected.unseen, inspected.from_m, inspected.to_m)
    seen_m = length_m - sum((to_m - from_m for from_m, to_m in hidden), Decimal(0))
    joints: JointCount = count_joints(inspected)
    return Coverage(
        from_m=inspected.from_m,
        to_m=inspected.to_m,
        seen_m=seen_m,
        length_share=share(seen_m, length_m),
        joints_seen=joints.seen,
        joints_affected=joints.affected,
        joints_sound=joints.sound,
        joints_expected=joints.expected,
        joints_not_seen=joints.not_seen,
        joints_not_recorded=joints.not_recorded,
        joint_spacing_from=joints.spacing_from,
        joint_spacing_share=share(joints.spacing_known_m, length_m),
        unseen=tuple(sorted(inspected.unseen, key=_along)),
        is_upstream_end_open=inspected.is_upstream_end_open,
    )


def unseen_intervals(unseen: Sequence[Unseen], from_m: Decimal, to_m: Decimal) -> tuple[Interval, ...]:
    """The unseen stretches within [from_m, to_m], clipped, overlapping and touching ones merged."""
    merged: list[Interval] = []
    for start, end in sorted(_clipped(unseen, from_m, to_m)):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return tuple(merged)


def share(seen_m: Decimal, length_m: Decimal) -> Decimal | None:
    """seen / length, to four decimals; only the whole is 1 and only nothing is 0."""
    if length_m <= 0:
        return None
    exact = Fraction(seen_m) / Fraction(length_m)
    rounded = (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(_SHARE_STEP)
    if seen_m < length_m:
        rounded = min(rounded, _ONE - _SHARE_STEP)
    return max(rounded, _SHARE_STEP) if seen_m > 0 else rounded


def _clipped(unseen: Sequence[Unseen], from_m: Decimal, to_m: Decimal) -> list[Interval]:
    clipped = [
        (max(stretch.from_m, from_m), to_m if stretch.to_m is None else min(stretch.to_m, to_m)) for stretch in unseen
    ]
    return [(start, end) for start, end in clipped if start < end]


def _along(stretch: Unseen) -> tuple[Decimal, bool, Decimal, str]:
    return stretch.from_m, stretch.to_m is None, stretch.to_m or Decimal(0), stretch.reason
