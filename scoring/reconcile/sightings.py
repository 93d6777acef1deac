"""A run as the lateral sees it: everything it reports, in metres from its start, positive downstream."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from scoring.reconcile.assumptions import LANDMARK_AT_END_M
from scoring.types import Access, Defect, Feature, Run, Source

Key = tuple[int, int]
Lane = Literal["landmark", "finding", "joint"]
HOURS = Decimal(12)


@dataclass(frozen=True, slots=True)
class Landmark:
    """A place that other runs can name too. `access` has kind or label None where unknown."""

    is_main: bool = False
    is_building: bool = False
    is_access: bool = False
    access_kind: str | None = None
    access_label: str | None = None


@dataclass(frozen=True, slots=True)
class Sighting:
    """One thing one run reports. `along_m` is its distance from the run's start, positive downstream;
    of a stretch it is the upstream end, and `to_along_m` the downstream end."""

    run: int
    ref: str
    kind: str
    lane: Lane
    counter_m: Decimal
    along_m: Decimal
    to_along_m: Decimal | None = None
    defect: Defect | None = None  # clock given facing downstream
    feature: Feature | None = None  # clock given facing downstream
    landmark: Landmark | None = None
    is_start: bool = False
    is_end: bool = False  # what the run says it reached
    is_far: bool = False  # a person says it belongs where no counter could have read it; it bends nothing

    slot: int = -1  # number within its run, in order along the pipe: a ref may be written twice

    @property
    def key(self) -> Key:
        """What tells this sighting from every other."""
        return (self.run, self.slot)


@dataclass(frozen=True, slots=True)
class Framed:
    """A run with its sightings in order along the pipe."""

    index: int
    run: Run
    sign: int
    start: Sighting
    sightings: tuple[Sighting, ...]

    @property
    def length_m(self) -> float:
        return float(self.run.counter_end_m - self.run.counter_start_m)

    def along(self, counter_m: Decimal) -> Decimal:
        """Distance of a counter reading from the run's start, positive downstream."""
        return (counter_m - self.run.counter_start_m) * self.sign

    @property
    def extent(self) -> tuple[float, float]:
        """The stretch passed, upstream end first."""
        end = float(self.along(self.run.counter_end_m))
        return (min(0.0, end), max(0.0, end))

    def in_lane(self, lane: Lane) -> list[Sighting]:
        return [s for s in self.sightings if s.lane == lane]

    def source(self, sighting: Sighting) -> Source:
        return Source(self.run.id, sighting.ref, sighting.counter_m)


def in_order_of_time(runs: Sequence[Run]) -> list[Run]:
    """The one order used throughout, whatever order the runs are given in."""
    return sorted(runs, key=lambda run: (run.started_at or "", run.id))


def framed(index: int, run: Run) -> Framed:
    """Turn a run into distances from its start, positive downstream, clocks facing downstream."""
    sign = 1 if run.direction == "downstream" else -1
    frame = Framed(index, run, sign, _start_of(index, run), ())
    found = [frame.start, *_features_of(frame), *_defects_of(frame)]
    end = _end_of(frame)
    if end is not None:
        found = _with_end(found, end)
    found.sort(key=lambda s: (s.along_m, s.lane, s.kind, s.ref))
    return replace(frame, sightings=tuple(replace(s, slot=slot) for slot, s in enumerate(found)))


def facing_downstream(hour: Decimal) -> Decimal:
    """A clock read facing upstream, given facing downstream: h becomes 12 - h, 12 stays 12."""
    turned = HOURS - hour
    return turned if turned > 0 else turned + HOURS


def _turned_clock(
    clock_from: Decimal | None, clock_to: Decimal | None, sign: int
) -> tuple[Decimal | None, Decimal | None]:
    if sign > 0:
        return clock_from, clock_to
    first = None if clock_from is None else facing_downstream(clock_from)
    last = None if clock_to is None else facing_downstream(clock_to)
    return (first, None) if last is None else (last, first)


def _start_of(index: int, run: Run) -> Sighting:
    access = run.start_access
    landmark = None
    if access is not None:
        landmark = Landmark(
            is_main=access.kind == "downstream_manhole",
            is_access=True,
            access_kind=access.kind,
            access_label=access.label,
        )
    return Sighting(
        index, "start", "start", "landmark", run.counter_start_m, Decimal(0), landmark=landmark, is_start=True
    )


def _end_of(frame: Framed) -> Sighting | None:
    run = frame.run
    if run.reached == "stopped":
        return None
    landmark = Landmark(
        is_main=run.reached == "main",
        is_building=run.reached == "building",
        is_access=run.reached == "access_point",
    )
    return Sighting(
        frame.index,
        "end",
        run.reached,
        "landmark",
        run.counter_end_m,
        frame.along(run.counter_end_m),
        landmark=landmark,
        is_end=True,
    )


def _with_end(found: list[Sighting], end: Sighting) -> list[Sighting]:
    """Add what was reached; a feature at the far end that says the same is it already."""
    twins = [
        s for s in found if s.feature is not None and s.kind == end.kind and _distance(s, end) <= LANDMARK_AT_END_M
    ]
    if not twins:
        return [*found, end]
    twin = min(twins, key=lambda s: (_distance(s, end), s.ref))
    return [replace(s, is_end=True) if s is twin else s for s in found]


def _distance(one: Sighting, other: Sighting) -> float:
    return abs(float(one.along_m - other.along_m))


def _features_of(frame: Framed) -> list[Sighting]:
    found = []
    for number, feature in enumerate(frame.run.features, start=1):
        first, last = _turned_clock(feature.clock_from, feature.clock_to, frame.sign)
        found.append(
            Sighting(
                frame.index,
                f"#{number}",
                feature.kind,
                _lane_of(feature),
                feature.at_m,
                frame.along(feature.at_m),
                feature=replace(feature, clock_from=first, clock_to=last),
                landmark=_landmark_of(feature),
            )
        )
    return found


def _lane_of(feature: Feature) -> Lane:
    if feature.kind in ("main", "access_point"):
        return "landmark"
    return "joint" if feature.kind == "joint" else "finding"


def _landmark_of(feature: Feature) -> Landmark | None:
    if feature.kind == "main":
        return Landmark(is_main=True)
    if feature.kind == "access_point":
        return Landmark(is_access=True, access_label=feature.label)
    return None


def _defects_of(frame: Framed) -> list[Sighting]:
    found = []
    for defect in frame.run.defects:
        first, last = _turned_clock(defect.clock_from, defect.clock_to, frame.sign)
        ends = sorted({frame.along(defect.at_m), frame.along(defect.to_m if defect.to_m is not None else defect.at_m)})
        found.append(
            Sighting(
                frame.index,
                defect.ref,
                defect.kind,
                "finding",
                defect.at_m,
                ends[0],
                to_along_m=None if defect.to_m is None else ends[-1],
                defect=replace(defect, clock_from=first, clock_to=last),
            )
        )
    return found


def named_access(landmark: Landmark) -> Access:
    """The access point a landmark speaks of; its kind is `other` where nobody said."""
    return Access(landmark.access_kind or "other", landmark.access_label)
