"""Pairs the start and finish marks of continuous findings in imported observations.

Labels are text: "1" and "01" are two findings. Nothing is dropped: every observation comes back in a pair,
as a point, or loose with a problem that names it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations
from typing import Literal

Mark = Literal["start", "finish"]
PairProblemCode = Literal["unclosed", "unopened", "doubled", "crossed", "backwards", "unlabelled", "unmarked"]


@dataclass(frozen=True, slots=True)
class Observation:
    """One imported line. `label` ties the marks of one continuous finding; a point has neither."""

    ref: str
    kind: str
    at_m: Decimal
    label: str | None = None
    mark: Mark | None = None


@dataclass(frozen=True, slots=True)
class Pair:
    """A continuous finding from its start to its finish."""

    label: str
    start: Observation
    finish: Observation


@dataclass(frozen=True, slots=True)
class PairProblem:
    """What is wrong with marks, the observations it concerns and what to do."""

    code: PairProblemCode
    detail: str
    refs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pairing:
    """Every observation once: in `pairs`, in `points` or in `loose`; what is loose has a problem."""

    pairs: tuple[Pair, ...]
    points: tuple[Observation, ...]
    loose: tuple[Observation, ...]
    problems: tuple[PairProblem, ...]


def pair_continuous(observations: Sequence[Observation]) -> Pairing:
    """Pair the marks of one inspection by their labels.

    unclosed: a start without a finish; unopened: a finish without a start; doubled: a label with several
    starts or finishes, which cannot be told apart; crossed: the two ends name different kinds (loose), or
    two stretches of one kind interleave (kept, but one finish may belong to the other); backwards: the
    finish lies before the start; unlabelled: a mark without a label; unmarked: a label without a mark.
    """
    pairs: list[Pair] = []
    loose: list[Observation] = []
    problems: list[PairProblem] = []
    for label, marked in _by_label(observations):
        problem = _problem_of(label, marked)
        if problem is not None:
            loose += marked
            problems.append(problem)
        else:
            pairs.append(_pair(label, marked))
    for one in observations:
        if one.mark is not None and not one.label:
            loose.append(one)
            detail = f"The {one.mark} has no label; give the label of its finding."
            problems.append(PairProblem("unlabelled", detail, (one.ref,)))
    points = tuple(one for one in observations if one.mark is None)
    problems += [_unmarked(one) for one in points if one.label]
    problems += _interleaved(pairs)
    return Pairing(tuple(pairs), points, tuple(loose), tuple(problems))


def _by_label(observations: Sequence[Observation]) -> Iterator[tuple[str, list[Observation]]]:
    """Marked observations by label, letter by letter, in order of first appearance."""
    groups: dict[str, list[Observation]] = {}
    for one in observations:
        if one.mark is not None and one.label:
            groups.setdefault(one.label, []).append(one)
    yield from groups.items()


def _problem_of(label: str, marked: Sequence[Observation]) -> PairProblem | None:
    starts = [one for one in marked if one.mark == "start"]
    finishes = [one for one in marked if one.mark == "finish"]
    refs = tuple(one.ref for one in marked)
    if len(starts) > 1 or len(finishes) > 1:
        detail = f"Label '{label}' has {len(starts)} starts and {len(finishes)} finishes; use one label each."
        return PairProblem("doubled", detail, refs)
    if not finishes:
        return PairProblem("unclosed", f"Label '{label}' starts but never finishes; add its finish.", refs)
    if not starts:
        return PairProblem("unopened", f"Label '{label}' finishes but never started; add its start.", refs)
    start, finish = starts[0], finishes[0]
    if start.kind != finish.kind:
        detail = f"Label '{label}' starts as {start.kind} and finishes as {finish.kind}; correct the label."
        return PairProblem("crossed", detail, refs)
    if finish.at_m < start.at_m:
        detail = f"Label '{label}' finishes before it starts; correct the positions or swap the marks."
        return PairProblem("backwards", detail, refs)
    return None


def _pair(label: str, marked: Sequence[Observation]) -> Pair:
    first, second = marked
    return Pair(label, first, second) if first.mark == "start" else Pair(label, second, first)


def _unmarked(one: Observation) -> PairProblem:
    detail = f"Label '{one.label}' says neither start nor finish; taken as a point."
    return PairProblem("unmarked", detail, (one.ref,))


def _interleaved(pairs: Sequence[Pair]) -> list[PairProblem]:
    """Two stretches of one kind that overlap without one lying inside the other."""
    ordered = sorted(pairs, key=lambda pair: (pair.start.at_m, pair.finish.at_m, pair.label))
    return [
        PairProblem(
            "crossed",
            f"Labels '{one.label}' and '{other.label}', both {one.start.kind}, interleave; "
            "check which finish belongs to which start.",
            (one.start.ref, one.finish.ref, other.start.ref, other.finish.ref),
        )
        for one, other in combinations(ordered, 2)
        if one.start.kind == other.start.kind
        and one.start.at_m < other.start.at_m < one.finish.at_m < other.finish.at_m
    ]
