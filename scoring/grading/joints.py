"""Counts joints: seen, with a finding, sound, and how many must be there that nobody looked at.

Where the joint spacing of a stretch is given, or shows in the joints recorded, the joints between those
recorded are filled in evenly; one that falls into an unseen stretch was never looked at, one that falls
into a seen stretch was not written down.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Final, Literal

from scoring.grading.kinds import JOINT_KINDS
from scoring.grading.lengths import half_up
from scoring.types import Inspected, Segment, Unseen

SAME_JOINT_M: Final = Decimal("0.1")  # positions no further apart are one joint (house rule)
_FEWEST_JOINTS: Final = 5  # to tell a spacing from positions (house rule)
_MOST_PIPES: Final = 10_000  # in one stretch; a spacing that asks for more was misread
_JITTER: Final = Fraction(15, 100)  # of the spacing, by which a recorded joint may be off (house rule)

SpacingFrom = Literal["given", "estimated"]


@dataclass(frozen=True, slots=True)
class JointCount:
    """Joints of what was inspected.

    seen = affected + sound. `expected`, `not_seen` and `not_recorded` are None where no spacing is known;
    where it is known for a part only, they fill in that part and count the recorded joints of the rest.
    """

    seen: int
    affected: int
    sound: int
    expected: int | None
    not_seen: int | None
    not_recorded: int | None
    spacing_from: SpacingFrom | None
    spacing_known_m: Decimal = Decimal(0)  # length of the part where it is known


@dataclass(frozen=True, slots=True)
class _Joint:
    at_m: Decimal
    is_affected: bool
    is_seen: bool


@dataclass(frozen=True, slots=True)
class _Stretch:
    from_m: Decimal
    to_m: Decimal
    spacing_m: Decimal | None


def count_joints(inspected: Inspected) -> JointCount:
    """Count the joints of a run, a lateral or a segment.

    A finding at a joint is a joint seen; a joint feature inside an unseen stretch was not seen.
    """
    joints = _joints(inspected)
    seen = sum(joint.is_seen for joint in joints)
    affected = sum(joint.is_affected for joint in joints)
    filled: list[Decimal] = []
    origins: list[SpacingFrom] = []
    known_m = Decimal(0)
    for stretch in _stretches(inspected):
        within = [joint.at_m for joint in joints if stretch.from_m <= joint.at_m <= stretch.to_m]
        spacing_m, origin = _spacing(stretch, within)
        if spacing_m is not None and origin is not None:
            filled += _between(within, stretch, spacing_m)
            origins.append(origin)
            known_m += stretch.to_m - stretch.from_m
    if not origins:
        return JointCount(seen, affected, seen - affected, None, None, None, None)
    hidden = sum(is_hidden(at_m, inspected.unseen) for at_m in filled)
    unseen_joints = len(joints) - seen
    spacing_from: SpacingFrom = "estimated" if "estimated" in origins else "given"
    return JointCount(
        seen, affected, seen - affected, len(joints) + len(filled), hidden + unseen_joints,
        len(filled) - hidden, spacing_from, known_m,
    )  # fmt: skip


def estimate_spacing_m(positions: Sequence[Decimal]) -> Decimal | None:
    """Return the joint spacing that shows in joint positions (m), to the millimetre, or None.

    At least five joints; most neighbours must be one spacing apart within 15 %, and nearly all the others
    a multiple of it (a joint not written down, an unseen stretch). House rule.
    """
    ordered = sorted(positions)
    gaps = [Fraction(b) - Fraction(a) for a, b in pairwise(ordered)]
    if len(ordered) < _FEWEST_JOINTS:
        return None
    middle = sorted(gaps)[(len(gaps) - 1) // 2]
    single = [gap for gap in gaps if abs(gap - middle) <= _JITTER * middle]
    spacing = sum(single, Fraction(0)) / len(single)
    multiples = [gap for gap in gaps if abs(gap - half_up(gap / spacing) * spacing) <= _JITTER * spacing]
    if 2 * len(single) < len(gaps) or 5 * len(multiples) < 4 * len(gaps):
        return None
    return (Decimal(spacing.numerator) / Decimal(spacing.denominator)).quantize(Decimal("0.001"))


def is_hidden(at_m: Decimal, unseen: Sequence[Unseen]) -> bool:
    """True inside an unseen stretch (its ends are still seen) or at an unseen moment."""
    return any(
        (stretch.from_m < at_m and (stretch.to_m is None or at_m < stretch.to_m))
        or stretch.from_m == at_m == stretch.to_m
        for stretch in unseen
    )


def _joints(inspected: Inspected) -> list[_Joint]:
    """Every joint recorded, in order, positions within 0.1 m of its first taken for the same joint."""
    marks = [(feature.at_m, False) for feature in inspected.features if feature.kind == "joint"]
    marks += [(defect.at_m, True) for defect in inspected.defects if defect.at_joint or defect.kind in JOINT_KINDS]
    joints: list[_Joint] = []
    for group in _same_joints(sorted(marks)):
        at_m = group[0][0]
        is_affected = any(has_finding for _, has_finding in group)
        joints.append(_Joint(at_m, is_affected, is_affected or not is_hidden(at_m, inspected.unseen)))
    return joints


def _same_joints(marks: Sequence[tuple[Decimal, bool]]) -> Iterator[list[tuple[Decimal, bool]]]:
    group: list[tuple[Decimal, bool]] = []
    for mark in marks:
        if group and mark[0] - group[0][0] > SAME_JOINT_M:
            yield group
            group = []
        group.append(mark)
    if group:
        yield group


def _stretches(inspected: Inspected) -> list[_Stretch]:
    """The inspected length by joint spacing; neighbours that say the same are one stretch."""
    if not inspected.segments:
        return [_Stretch(inspected.from_m, inspected.to_m, None)]
    stretches: list[_Stretch] = []
    for segment in sorted(inspected.segments, key=lambda one: (one.from_m, one.to_m)):
        clipped = _clip(segment, inspected)
        last = stretches[-1] if stretches else None
        if clipped.from_m >= clipped.to_m:
            continue
        if last is not None and last.to_m == clipped.from_m and last.spacing_m == clipped.spacing_m:
            stretches[-1] = _Stretch(last.from_m, clipped.to_m, last.spacing_m)
        else:
            stretches.append(clipped)
    return stretches


def _clip(segment: Segment, inspected: Inspected) -> _Stretch:
    from_m, to_m = max(segment.from_m, inspected.from_m), min(segment.to_m, inspected.to_m)
    return _Stretch(from_m, to_m, segment.joint_spacing_m or None)


def _spacing(stretch: _Stretch, joints: Sequence[Decimal]) -> tuple[Decimal | None, SpacingFrom | None]:
    if stretch.spacing_m is not None and stretch.to_m - stretch.from_m <= stretch.spacing_m * _MOST_PIPES:
        return stretch.spacing_m, "given"
    estimated = estimate_spacing_m(joints)
    return (estimated, "estimated") if estimated else (None, None)


def _between(joints: Sequence[Decimal], stretch: _Stretch, spacing_m: Decimal) -> list[Decimal]:
    """Where joints must be that are not among those recorded: evenly in the gaps, on from the outermost.

    An end of the stretch is no joint by itself; without any joint recorded the first pipe starts there.
    """
    if not joints:
        return _onward(stretch.from_m, stretch.to_m, spacing_m)
    found: list[Decimal] = []
    for one, following in pairwise(joints):
        pipes = half_up((Fraction(following) - Fraction(one)) / Fraction(spacing_m))
        found += [one + (following - one) * number / pipes for number in range(1, pipes)]
    # upstream of the first joint the same walk, mirrored
    found += [-at_m for at_m in _onward(-joints[0], -stretch.from_m, spacing_m)]
    return found + _onward(joints[-1], stretch.to_m, spacing_m)


def _onward(from_m: Decimal, to_m: Decimal, spacing_m: Decimal) -> list[Decimal]:
    count = int((to_m - from_m) / spacing_m) + 1
    positions = [from_m + number * spacing_m for number in range(1, count + 1)]
    return [at_m for at_m in positions if at_m < to_m - SAME_JOINT_M]
