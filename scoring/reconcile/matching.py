"""Which sighting of a run is which place on the line: a sweep along the pipe that keeps the likeliest.

Between two counters the difference grows by stretch (a constant) and by slips (taken as a random walk).
Both are followed from match to match by a Kalman filter with two states, the difference and its growth per
metre; a landmark further on is used before it is reached. Since real slips are few and sudden, every match
may also have one just before it. Every hypothesis is one set of matches, scored by
its exact likelihood under that model; the sweep keeps the best few.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, pi, sqrt

KEPT = 24  # hypotheses carried from one sighting to the next
KEPT_WITHIN = 9.0  # log likelihood below the best at which a hypothesis is dropped
GATE = 3.7  # standard deviations within which a match is thought of

Pairs = tuple["Pairs", int, int] | None


@dataclass(frozen=True, slots=True)
class Anchor:
    """A place known to both sides: distance along the run, place minus distance, and its variance."""

    along: float
    offset: float
    variance: float


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be matched. `gains[i][j]` is the log odds of a match, position left out; None forbids."""

    along: Sequence[float]  # distances along the run, ascending
    places: Sequence[float]  # positions on the line, ascending
    gains: Sequence[Sequence[float | None]]
    reading_variance: Sequence[float]  # of a match with each place: both readings together
    slip_variance_per_m: float
    scale_variance: float
    jump_variance: float  # of one slip
    jumps_per_m: float  # slips of both counters on a metre


@dataclass(frozen=True, slots=True)
class Answer:
    """One set of matches (index of sighting, index of place), how likely, and where it puts the run."""

    score: float
    pairs: tuple[tuple[int, int], ...]
    offset: float
    growth: float
    along: float

    def position(self, along: float) -> float:
        """Where this answer puts a distance of the run, roughly (no slips)."""
        return along + self.offset + self.growth * (along - self.along)


@dataclass(slots=True)
class Hypothesis:
    """Filter state at `along`, and the matches so far as a linked list and as a set of bits."""

    score: float
    offset: float
    growth: float
    v_oo: float
    v_og: float
    v_gg: float
    along: float
    used: int
    pairs: Pairs


def answers(question: Question, anchors: Sequence[Anchor], prior: float = 0.0, kept: int = KEPT) -> list[Answer]:
    """The likeliest sets of matches when the anchors hold, best first."""
    ordered = sorted(anchors, key=lambda a: a.along)
    first = ordered[0]
    start = Hypothesis(prior, first.offset, 0.0, first.variance, 0.0, question.scale_variance, first.along, 0, None)
    above = [i for i, y in enumerate(question.along) if y >= first.along]
    below = [i for i, y in enumerate(question.along) if y < first.along][::-1]
    found = _swept(question, above, [start], ordered[1:], kept)
    if below:
        found = _swept(question, below, [_turned(h, first) for h in found], [], kept)
    return [_answer(h) for h in found]


def answers_from_seed(question: Question, i: int, j: int, prior: float, kept: int) -> list[Answer]:
    """The likeliest sets of matches in which sighting `i`, at place `j`, is the first match of all."""
    offset = question.places[j] - question.along[i]
    start = Hypothesis(
        prior,
        offset,
        0.0,
        question.reading_variance[j],
        0.0,
        question.scale_variance,
        question.along[i],
        1 << j,
        (None, i, j),
    )
    return [_answer(h) for h in _swept(question, range(i + 1, len(question.along)), [start], [], kept)]


def _turned(found: Hypothesis, first: Anchor) -> Hypothesis:
    """Back at the first anchor, to sweep the other way with what was learnt of the stretch."""
    return Hypothesis(
        found.score,
        first.offset,
        found.growth,
        first.variance,
        0.0,
        found.v_gg,
        first.along,
        found.used,
        found.pairs,
    )


def _answer(found: Hypothesis) -> Answer:
    pairs: list[tuple[int, int]] = []
    link = found.pairs
    while link is not None:
        pairs.append((link[1], link[2]))
        link = link[0]
    return Answer(found.score, tuple(sorted(pairs)), found.offset, found.growth, found.along)


def _swept(
    question: Question,
    order: Sequence[int],
    started: list[Hypothesis],
    anchors: Sequence[Anchor],
    kept: int,
) -> list[Hypothesis]:
    live, waiting = started, list(anchors)
    for i in order:
        while waiting and waiting[0].along <= question.along[i]:
            passed = waiting.pop(0)
            for hypothesis in live:
                _move(question, hypothesis, passed.along)
                _update(hypothesis, passed.offset - hypothesis.offset, passed.variance)
        ahead = waiting[0] if waiting else None
        grown: list[Hypothesis] = []
        for hypothesis in live:
            _grow(question, i, hypothesis, ahead, grown)
        live = _best(grown, kept)
    return live


def _best(grown: list[Hypothesis], kept: int) -> list[Hypothesis]:
    grown.sort(key=lambda h: (-h.score, h.used))
    floor = grown[0].score - KEPT_WITHIN
    return [h for h in grown[:kept] if h.score >= floor]


def _move(question: Question, h: Hypothesis, along: float) -> None:
    step = along - h.along
    h.offset += h.growth * step
    h.v_oo += step * (2.0 * h.v_og + step * h.v_gg) + question.slip_variance_per_m * abs(step)
    h.v_og += step * h.v_gg
    h.along = along


def _update(h: Hypothesis, innovation: float, variance: float) -> None:
    total = h.v_oo + variance
    k_o, k_g = h.v_oo / total, h.v_og / total
    h.offset += k_o * innovation
    h.growth += k_g * innovation
    h.v_gg -= k_g * h.v_og
    h.v_og -= k_o * h.v_og
    h.v_oo -= k_o * h.v_oo


def _expected(question: Question, h: Hypothesis, ahead: Anchor | None) -> tuple[float, float]:
    """Offset and variance expected here, the landmark ahead taken into account."""
    if ahead is None:
        return h.offset, h.v_oo
    step = ahead.along - h.along
    cross = h.v_oo + step * h.v_og
    there = h.v_oo + step * (2.0 * h.v_og + step * h.v_gg) + question.slip_variance_per_m * abs(step) + ahead.variance
    gain = cross / there
    return h.offset + gain * (ahead.offset - h.offset - h.growth * step), h.v_oo - gain * cross


def _grow(question: Question, i: int, h: Hypothesis, ahead: Anchor | None, grown: list[Hypothesis]) -> None:
    along = question.along[i]
    jump_share = min(0.5, 0.02 + 0.5 * question.jumps_per_m * abs(along - h.along))
    _move(question, h, along)
    offset, variance = _expected(question, h, ahead)
    grown.append(h)
    expected = along + offset
    jump = question.jump_variance
    reach = GATE * sqrt(variance + jump + max(question.reading_variance, default=0.0))
    gains = question.gains[i]
    low = bisect_left(question.places, expected - reach)
    high = bisect_right(question.places, expected + reach)
    for j in range(low, high):
        gain = gains[j]
        if gain is None or h.used >> j & 1:
            continue
        noise = question.reading_variance[j]
        miss = question.places[j] - expected
        steady = (1.0 - jump_share) * _density(miss, variance + noise)
        slipped = jump_share * _density(miss, variance + noise + jump)
        gain += log(steady + slipped)
        if gain < -4.0:
            continue
        child = Hypothesis(
            h.score + gain,
            h.offset,
            h.growth,
            h.v_oo + jump * slipped / (steady + slipped),
            h.v_og,
            h.v_gg,
            along,
            h.used | 1 << j,
            (h.pairs, i, j),
        )
        _update(child, question.places[j] - along - h.offset, noise)
        grown.append(child)


def _density(miss: float, variance: float) -> float:
    """Normal density."""
    return exp(-0.5 * miss * miss / variance) / sqrt(2.0 * pi * variance)


def shares(found: Sequence[Answer]) -> list[float]:
    """The share of the likelihood each answer has."""
    best = max(a.score for a in found)
    weights = [exp(a.score - best) for a in found]
    total = sum(weights)
    return [w / total for w in weights]


def pair_shares(found: Sequence[Answer]) -> dict[tuple[int, int], float]:
    """The share of the likelihood behind every single match."""
    out: dict[tuple[int, int], float] = {}
    for answer, share in zip(found, shares(found), strict=True):
        for pair in answer.pairs:
            out[pair] = out.get(pair, 0.0) + share
    return out
