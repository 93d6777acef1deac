"""Density figures of a run of scored findings, after the formulas of CJJ 181-2012 (restated).

P is the score of a finding; findings no more than 1.0 m apart are one, their scores added up to 10 (house
rule). Spacing is the clear distance to the nearest neighbour (house rule): n1 findings lie more than 1.5 m
from it, n2 no more than that. S = (sum P1 + alpha sum P2) / n, Smax = max P, F = max(S, Smax),
S_M = (sum P1 L1 + alpha sum P2 L2) / L. A finding that could not be placed stands alone.

F is formed as published: a small finding far away can lower the mean S, and so F, below alpha times Smax.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Final, Literal

from scoring.grading.scheme import DensityRules

Extent = Literal["local", "part_or_whole", "whole"]
_DIGITS: Final = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class Scored:
    """A score and where it lies; `to_m` equals `at_m` for a point, both None where it is not placed."""

    score: Decimal
    at_m: Decimal | None
    to_m: Decimal | None


@dataclass(frozen=True, slots=True)
class Density:
    """The published figures, to four decimals (half even). `steps` is the class, 0 the best.

    `s_m` and `extent` are None where the pipe has no length.
    """

    s: Decimal
    s_max: Decimal
    f: Decimal
    s_m: Decimal | None
    steps: int
    extent: Extent | None


@dataclass(slots=True)
class _Group:
    score: Fraction
    at_m: Decimal | None
    to_m: Decimal | None
    is_near: bool = False


def density(scored: Sequence[Scored], pipe_length_m: Decimal, rules: DensityRules) -> Density | None:
    """Return the density figures of findings on a pipe of that length; None where there is no finding."""
    groups = _grouped(scored, rules)
    if not groups:
        return None
    weights = [Fraction(rules.alpha) if group.is_near else Fraction(1) for group in groups]
    s = sum((g.score * w for g, w in zip(groups, weights, strict=True)), Fraction(0)) / len(groups)
    s_max = max(group.score for group in groups)
    f = max(s, s_max)
    s_m = None
    if pipe_length_m > 0:
        total = sum((g.score * w * _length(g, rules) for g, w in zip(groups, weights, strict=True)), Fraction(0))
        s_m = total / Fraction(pipe_length_m)
    steps = sum(f > limit for limit in rules.class_limits)
    return Density(
        _decimal(s), _decimal(s_max), _decimal(f), None if s_m is None else _decimal(s_m), steps,
        _extent(s_m, rules),
    )  # fmt: skip


def _grouped(scored: Sequence[Scored], rules: DensityRules) -> list[_Group]:
    """Findings in order along the pipe, those no more than 1.0 m apart as one, near ones marked."""
    groups: list[_Group] = []
    loose = [_Group(Fraction(item.score), None, None) for item in scored if item.at_m is None]
    placed = [(item.at_m, item.to_m or item.at_m, item.score) for item in scored if item.at_m is not None]
    for at_m, to_m, score in sorted(placed):
        last = groups[-1] if groups else None
        if last is not None and last.to_m is not None and at_m - last.to_m <= rules.one_defect_up_to_m:
            last.score = min(last.score + Fraction(score), Fraction(rules.score_limit))
            last.to_m = max(last.to_m, to_m)
        else:
            groups.append(_Group(Fraction(score), at_m, to_m))
    for one, following in pairwise(groups):
        if one.to_m is not None and following.at_m is not None:
            is_near = following.at_m - one.to_m <= rules.near_up_to_m
            one.is_near |= is_near
            following.is_near |= is_near
    return groups + loose


def _length(group: _Group, rules: DensityRules) -> Fraction:
    extent = Decimal(0) if group.at_m is None or group.to_m is None else group.to_m - group.at_m
    return Fraction(max(extent, rules.point_length_m))


def _extent(s_m: Fraction | None, rules: DensityRules) -> Extent | None:
    if s_m is None:
        return None
    local, whole = rules.extent_limits
    if s_m < local:
        return "local"
    return "part_or_whole" if s_m <= whole else "whole"


def _decimal(number: Fraction) -> Decimal:
    return (Decimal(number.numerator) / Decimal(number.denominator)).quantize(_DIGITS)
