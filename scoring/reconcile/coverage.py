"""What was seen of the line: seen in any run counts as seen; the rest says why it was not."""

from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from scoring.reconcile.assumptions import SAME_READING_M
from scoring.reconcile.sightings import Framed
from scoring.reconcile.stations import Stations
from scoring.types import Unseen

Span = tuple[Decimal, Decimal]
SLIVER_M = Decimal(str(SAME_READING_M))


@dataclass(frozen=True, slots=True)
class Passed:
    """What one run passed, saw and did not see, in stations."""

    frame: Framed
    claimed: Span
    seen: tuple[Span, ...]
    unseen: tuple[tuple[Decimal, Decimal, str], ...]
    open_reason: str | None  # why nobody knows what follows its far end; None: it ended at something


@dataclass(frozen=True, slots=True)
class Coverage:
    """Extent and unseen stretches of the whole line."""

    from_m: Decimal
    to_m: Decimal
    unseen: tuple[Unseen, ...]
    is_upstream_end_open: bool


def passed(stations: Stations, frame: Framed) -> Passed:
    """One run in stations."""
    start, end = stations.extent(frame)
    low, high = min(start, end), max(start, end)
    blind: list[tuple[Decimal, Decimal, str]] = []
    open_reason = "not_reached" if frame.run.reached == "stopped" else None
    for unseen in sorted(frame.run.unseen, key=lambda u: (u.from_m, u.reason)):
        one = stations.along(frame, frame.along(unseen.from_m))
        if unseen.to_m is None:
            other, open_reason = _beyond(end, one, frame.sign), unseen.reason
        else:
            other = stations.along(frame, frame.along(unseen.to_m))
        if one != other:
            blind.append((min(one, other), max(one, other), unseen.reason))
    claimed = (min([low, *(b[0] for b in blind)]), max([high, *(b[1] for b in blind)]))
    seen = _without([(low, high)], [(b[0], b[1]) for b in blind])
    return Passed(frame, claimed, tuple(seen), tuple(blind), open_reason)


def _beyond(end: Decimal, one: Decimal, sign: int) -> Decimal:
    """An open stretch hides everything up to the far end, if it begins before it."""
    return max(end, one) if sign > 0 else min(end, one)


def covered(runs: list[Passed], reaches_main: bool, reaches_building: bool) -> Coverage:
    """Put the runs together. `reaches_*`: whether a run on this line got there."""
    low = min(r.claimed[0] for r in runs)
    high = max(r.claimed[1] for r in runs)
    seen = sorted(span for r in runs for span in r.seen)
    gaps = [g for g in _without([(low, high)], seen) if _counts(g, runs)]
    pieces = [piece for gap in gaps for piece in _with_reasons(gap, runs)]
    if not reaches_main:
        pieces += _open_end(runs, high)
    is_open = not reaches_building and any(
        r.frame.sign < 0 and r.open_reason and r.claimed[0] - low <= SLIVER_M for r in runs
    )
    return Coverage(low, high, tuple(_joined(pieces)), is_open)


def _counts(gap: Span, runs: list[Passed]) -> bool:
    """A gap that only comes from two counters ending at slightly different stations is none."""
    return gap[1] - gap[0] > SLIVER_M or any(
        low <= gap[0] and gap[1] <= high for r in runs for low, high, _ in r.unseen
    )


def _without(spans: list[Span], holes: list[Span]) -> list[Span]:
    left = spans
    for low, high in holes:
        cut: list[Span] = []
        for a, b in left:
            if high <= a or low >= b:
                cut.append((a, b))
                continue
            cut += [(x, y) for x, y in ((a, low), (high, b)) if x < y]
        left = cut
    return left


def _with_reasons(gap: Span, runs: list[Passed]) -> list[Unseen]:
    edges = {gap[0], gap[1]}
    for run in runs:
        edges |= {edge for u in run.unseen for edge in u[:2] if gap[0] < edge < gap[1]}
    cuts = sorted(edges)
    return [Unseen(a, b, _reason(a, b, runs)) for a, b in pairwise(cuts)]


def _reason(low: Decimal, high: Decimal, runs: list[Passed]) -> str:
    given = [u[2] for r in runs for u in r.unseen if u[0] <= low and high <= u[1]]
    return given[0] if given else "not_reached"


def _open_end(runs: list[Passed], high: Decimal) -> list[Unseen]:
    last = [r for r in runs if r.frame.sign > 0 and r.open_reason and high - r.claimed[1] <= SLIVER_M]
    return [Unseen(high, None, last[0].open_reason or "not_reached")] if last else []


def _joined(pieces: list[Unseen]) -> list[Unseen]:
    """Neighbours with one reason become one stretch."""
    out: list[Unseen] = []
    for piece in pieces:
        if out and out[-1].to_m == piece.from_m and out[-1].reason == piece.reason:
            out[-1] = Unseen(out[-1].from_m, piece.to_m, piece.reason)
        else:
            out.append(piece)
    return out
