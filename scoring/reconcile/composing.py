"""The reconciled lateral, put together from its lines."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from scoring.reconcile.assumptions import RULES
from scoring.reconcile.contradictions import contradictions
from scoring.reconcile.coverage import Passed, covered, passed
from scoring.reconcile.line import Line, Place
from scoring.reconcile.merging import merged_defect, merged_feature
from scoring.reconcile.sightings import Framed, Sighting
from scoring.reconcile.stations import STEP, Stations, stations_of
from scoring.reconcile.stretches import merged_segments
from scoring.types import Conflict, Lateral, LateralDefect, LateralFeature, RunPlacement

ONE = Decimal(1)
SCALE_STEP = Decimal("0.000001")
INSIDE_BUILDING = (
    "stack_clean_out",
    "floor_drain",
    "closet_flange",
    "roof_vent",
)  # common practice, no source


def composed(lines: Sequence[Line], frames: Sequence[Framed]) -> Lateral:
    """The first line carries the datum; runs of other lines keep their counters."""
    by_index = {f.index: f for f in frames}
    stations = stations_of(lines[0])
    tied = sorted(lines[0].frames, key=lambda f: (f is not stations.ruler, f.index))
    loose = [by_index[i] for i in sorted({f.index for line in lines[1:] for f in line.frames})]
    runs = [passed(stations, f) for f in tied]
    coverage = covered(runs, *_reached(tied))
    segments, differing = merged_segments(stations, tied)
    conflicts: list[Conflict] = [*contradictions(stations, runs, by_index), *differing]
    reaches_main, reaches_building = _reached(frames)
    return Lateral(
        datum=stations.datum,
        datum_run=stations.ruler.run.id,
        from_m=coverage.from_m,
        to_m=coverage.to_m,
        reaches_building=reaches_building,
        reaches_main=reaches_main,
        placements=_placements(stations, runs, loose, len(frames)),
        segments=tuple(segments),
        features=tuple(_features(stations, by_index, loose)),
        defects=tuple(_with_unique_refs(_defects(stations, by_index, loose))),
        unseen=coverage.unseen,
        is_upstream_end_open=coverage.is_upstream_end_open,
        conflicts=tuple(conflicts),
        rules=RULES,
    )


def _reached(frames: Sequence[Framed]) -> tuple[bool, bool]:
    marks = [s.landmark for f in frames for s in f.sightings if s.landmark is not None]
    indoors = any(f.sign > 0 and f.run.start_access and f.run.start_access.kind in INSIDE_BUILDING for f in frames)
    return any(m.is_main for m in marks), indoors or any(m.is_building for m in marks)


def _placements(
    stations: Stations, runs: Sequence[Passed], loose: Sequence[Framed], count: int
) -> tuple[RunPlacement, ...]:
    out = [_placed(stations, p.frame, count) for p in runs]
    out += [RunPlacement(f.run.id, False, None, None, ONE, _why_loose(f)) for f in loose]
    return tuple(sorted(out, key=lambda p: p.run))


def _why_loose(frame: Framed) -> str:
    return (
        "Nothing ties this run to the datum: no landmark shared with the other runs and no findings that "
        "agree well enough. Name the access points it saw, or confirm a match."
    )


def _placed(stations: Stations, frame: Framed, count: int) -> RunPlacement:
    start, end = stations.extent(frame)
    length = frame.run.counter_end_m - frame.run.counter_start_m
    scale = ONE if length == 0 else (abs(end - start) / length).quantize(SCALE_STEP)
    return RunPlacement(frame.run.id, True, start, end, scale, _reason(stations, frame, count))


def _reason(stations: Stations, frame: Framed, count: int) -> str:
    if count == 1:
        return "The only run: its counter is the ruler."
    if frame is stations.ruler:
        return "Carries the datum."
    return stations.line.reasons.get(frame.index) or stations.line.reasons.get(
        stations.ruler.index, "The other runs are tied to it."
    )


def _members(stations: Stations, place: Place) -> list[Sighting]:
    return sorted(place.members, key=lambda m: (m.run != stations.ruler.index, m.key))


def _defects(stations: Stations, frames: dict[int, Framed], loose: Sequence[Framed]) -> list[LateralDefect]:
    out = []
    for place in stations.in_order():
        members = [m for m in _members(stations, place) if m.defect is not None]
        if members:
            out.append(_defect(stations, place, members, frames))
    for frame in loose:
        for sighting in sorted((s for s in frame.sightings if s.defect), key=lambda s: (s.counter_m, s.ref)):
            assert sighting.defect is not None
            out.append(LateralDefect(sighting.defect, None, None, None, (frame.source(sighting),)))
    return out


def _defect(stations: Stations, place: Place, members: list[Sighting], frames: dict[int, Framed]) -> LateralDefect:
    station = stations.of(place)
    to_station = _far_end(stations, [m for m in members if not m.is_far] or members, frames, station)
    defect = replace(merged_defect(members), at_m=station, to_m=to_station)
    sources = tuple(frames[m.run].source(m) for m in members)
    doubtful = not stations.line.doubtful.isdisjoint(m.key for m in members)
    return LateralDefect(defect, station, to_station, stations.sd_of(place), sources, doubtful)


def _far_end(
    stations: Stations, members: list[Sighting], frames: dict[int, Framed], station: Decimal
) -> Decimal | None:
    """Downstream end of a stretch, the middle of what its runs say."""
    ends = [stations.along(frames[m.run], m.to_along_m) for m in members if m.to_along_m is not None]
    if not ends:
        return None
    same = all(end == ends[0] for end in ends)
    middle = ends[0] if same else (sum(ends, Decimal(0)) / len(ends)).quantize(STEP)
    return max(middle, station)


def _features(stations: Stations, frames: dict[int, Framed], loose: Sequence[Framed]) -> list[LateralFeature]:
    out = []
    for place in stations.in_order():
        members = [m for m in _members(stations, place) if m.defect is None]
        if any(m.feature is not None for m in members):
            station = stations.of(place)
            feature = replace(merged_feature(members), at_m=station)
            sources = tuple(frames[m.run].source(m) for m in members)
            out.append(LateralFeature(feature, station, stations.sd_of(place), sources))
    for frame in loose:
        for sighting in sorted((s for s in frame.sightings if s.feature), key=lambda s: (s.counter_m, s.ref)):
            assert sighting.feature is not None
            out.append(LateralFeature(sighting.feature, None, None, (frame.source(sighting),)))
    return out


def _with_unique_refs(defects: Sequence[LateralDefect]) -> list[LateralDefect]:
    """Two runs may use one ref for two things; the second one met gets a number."""
    taken: dict[str, int] = {}
    out = []
    for found in defects:
        ref = found.defect.ref
        taken[ref] = taken.get(ref, 0) + 1
        if taken[ref] > 1:
            found = replace(found, defect=replace(found.defect, ref=f"{ref}~{taken[ref]}"))
        out.append(found)
    return out
