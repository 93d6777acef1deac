"""Segments of all runs as one list of stretches, none over another."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

from scoring.reconcile.assumptions import BOUNDARY_SPREAD_M, SAME_READING_M
from scoring.reconcile.sightings import Framed
from scoring.reconcile.stations import STEP, Stations
from scoring.types import Conflict, Segment, Source

SPREAD = Decimal(str(BOUNDARY_SPREAD_M))
SAME_SIZE = Decimal("0.05")  # share within which two nominal sizes are one; house rule
Said = tuple[Framed, Segment]


def merged_segments(stations: Stations, frames: Sequence[Framed]) -> tuple[list[Segment], list[Conflict]]:
    """Stretches in stations; where runs differ most runs win, then the ruler, and it is named."""
    said = [(f, _in_stations(stations, f, s)) for f in frames for s in f.run.segments]
    if len({f.index for f, _ in said}) > 1:
        said = _with_common_edges(said)
    edges = sorted({edge for _, s in said for edge in (s.from_m, s.to_m)})
    pieces: list[Segment] = []
    conflicts: list[Conflict] = []
    for low, high in pairwise(edges):
        here = [(f, s) for f, s in said if s.from_m <= low and high <= s.to_m]
        if here:
            pieces.append(_agreed(here, low, high))
            conflicts += _contradictions(here, low, high)
    return _run_together(pieces), _one_each(conflicts)


def _in_stations(stations: Stations, frame: Framed, segment: Segment) -> Segment:
    ends = sorted(_edge(stations, frame, edge) for edge in (segment.from_m, segment.to_m))
    return replace(segment, from_m=ends[0], to_m=ends[1])


def _edge(stations: Stations, frame: Framed, counter_m: Decimal) -> Decimal:
    start, end = stations.extent(frame)
    if counter_m == frame.run.counter_start_m:
        return start
    return end if counter_m == frame.run.counter_end_m else stations.along(frame, frame.along(counter_m))


def _with_common_edges(said: list[Said]) -> list[Said]:
    """Edges of different runs near each other are one edge."""
    order = {f.index: i for i, (f, _) in reversed(list(enumerate(said)))}  # the ruler comes first
    edges = sorted({(edge, order[f.index]) for f, s in said for edge in (s.from_m, s.to_m)})
    moved: dict[Decimal, Decimal] = {}
    group: list[tuple[Decimal, int]] = []
    for edge in edges:
        if group and (edge[0] - group[0][0] > SPREAD or edge[1] in {e[1] for e in group}):
            moved |= _to_one(group)
            group = []
        group.append(edge)
    moved |= _to_one(group)
    return [
        (f, replace(s, from_m=moved[s.from_m], to_m=moved[s.to_m])) for f, s in said if moved[s.from_m] < moved[s.to_m]
    ]


def _to_one(group: list[tuple[Decimal, int]]) -> dict[Decimal, Decimal]:
    """The middle of them; the first run's word where nobody could read the difference."""
    first = min(group, key=lambda e: e[1])[0]
    middle = (sum((e for e, _ in group), Decimal(0)) / len(group)).quantize(STEP)
    one = first if abs(middle - first) <= Decimal(str(SAME_READING_M)) else middle
    return {edge: one for edge, _ in group}


def _agreed(here: list[Said], low: Decimal, high: Decimal) -> Segment:
    def most(name: str) -> object:
        given = [v for _, s in here if (v := getattr(s, name)) is not None and v != "unknown"]
        return max(given, key=lambda v: (given.count(v), -given.index(v))) if given else getattr(here[0][1], name)

    values = {name: most(name) for name in ("material", "diameter_mm", "joint_spacing_m")}
    return replace(Segment(low, high), **values)  # type: ignore[arg-type]  # values come from the same fields


def _contradictions(here: list[Said], low: Decimal, high: Decimal) -> list[Conflict]:
    if high - low < SPREAD:
        return []
    found = []
    for name, code in (("material", "material_differs"), ("diameter_mm", "diameter_differs")):
        given = [(f, v) for f, s in here if (v := getattr(s, name)) is not None and v != "unknown"]
        if any(_differ(given[0][1], v) for _, v in given):
            words = "; ".join(f"run {f.run.id}: {v}" for f, v in given)
            sources = tuple(Source(f.run.id, "segment", s.from_m) for f, s in _as_read(here))
            found.append(Conflict(code, f"From {low} m to {high} m the runs differ: {words}.", low, sources))
    return found


def _differ(one: str | Decimal, other: str | Decimal) -> bool:
    """Whether two words, or two nominal sizes (6 in and 150 mm are one size), contradict each other."""
    if isinstance(one, Decimal) and isinstance(other, Decimal):
        return abs(one - other) > SAME_SIZE * max(one, other)
    return one != other


def _as_read(here: list[Said]) -> list[Said]:
    """The segments as the runs wrote them, which is what a source points to."""
    return [
        (
            f,
            next(
                (s for s in f.run.segments if s.material == moved.material and s.diameter_mm == moved.diameter_mm),
                moved,
            ),
        )
        for f, moved in here
    ]


def _one_each(conflicts: list[Conflict]) -> list[Conflict]:
    """One contradiction cut into pieces by other edges is told once."""
    out: dict[tuple[str, tuple[Source, ...]], Conflict] = {}
    for conflict in conflicts:
        out.setdefault((conflict.code, conflict.sources), conflict)
    return list(out.values())


def _run_together(pieces: list[Segment]) -> list[Segment]:
    out: list[Segment] = []
    for piece in pieces:
        if (
            out
            and out[-1].to_m == piece.from_m
            and replace(piece, from_m=out[-1].from_m, to_m=out[-1].to_m) == out[-1]
        ):
            out[-1] = replace(out[-1], to_m=piece.to_m)
        else:
            out.append(piece)
    return out
