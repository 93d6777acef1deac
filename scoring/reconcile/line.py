"""A line: runs that lie on one another, and the places they saw, in metres from a common zero."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from scoring.reconcile.adjustment import Adjustment, Readings, adjust
from scoring.reconcile.assumptions import AT_BUILDING_M, FIRST_DOUBT, Doubt
from scoring.reconcile.sightings import Framed, Key, Lane, Sighting


@dataclass(slots=True, eq=False)
class Place:
    """One thing on the pipe, with every sighting of it. `at` is its position on the line."""

    members: list[Sighting]
    at: float
    lane: Lane

    def seen_by(self, run: int) -> bool:
        return any(member.run == run for member in self.members)

    @property
    def runs(self) -> int:
        """How many runs saw it."""
        return len({member.run for member in self.members})

    @property
    def fitting(self) -> list[Sighting]:
        """The sightings whose readings say where it lies; if a person put all of them here, all."""
        return [member for member in self.members if not member.is_far] or self.members

    @property
    def has_start(self) -> bool:
        return any(member.is_start for member in self.members)

    @property
    def is_at_joint(self) -> bool:
        return all(member.lane == "joint" or (member.defect and member.defect.at_joint) for member in self.members)


@dataclass(slots=True, eq=False)
class Line:
    """Runs and places tied to each other."""

    frames: list[Framed]
    places: list[Place]
    doubt: Doubt = FIRST_DOUBT
    adjustment: Adjustment | None = None
    doubts: dict[int, set[Key]] = field(default_factory=dict)  # by run laid on: what may belong elsewhere
    reasons: dict[int, str] = field(default_factory=dict)  # by run index: what ties it
    stray_landmarks: list[tuple[Sighting, Place]] = field(default_factory=list)  # ties that contradict others
    runs_in_fit: dict[int, int] = field(default_factory=dict)  # run index to its place in the adjustment

    @property
    def doubtful(self) -> set[Key]:
        """Run and ref of every sighting that may belong elsewhere."""
        return set().union(*self.doubts.values())

    def of_lane(self, lane: Lane) -> list[Place]:
        """Places of one lane in order along the line."""
        return sorted((p for p in self.places if p.lane == lane), key=place_order)

    def start_of(self, frame: Framed) -> Place:
        return next(p for p in self.places if any(m.is_start and m.run == frame.index for m in p.members))

    def position(self, frame: Framed, along: float) -> float:
        """Where a point of a run lies on the line."""
        assert self.adjustment is not None
        return self.adjustment.position(self.runs_in_fit[frame.index], along)

    def tallies(self) -> list[tuple[int, int]]:
        """For every finding: how many runs passed it, and how many of these wrote it down."""
        spans = {f.index: self.extent_of(f) for f in self.frames}
        out = []
        for place in self.places:
            if place.lane == "finding":
                seen = {m.run for m in place.members}
                passed = {i for i, (low, high) in spans.items() if low < place.at < high}
                out.append((len(seen | passed), len(seen)))
        return out

    def knots(self, one: Framed, other: Framed) -> list[tuple[float, float]]:
        """Distances along two runs of every place that both saw, ascending."""
        return sorted(
            (float(a.along_m), float(b.along_m))
            for place in self.places
            for a in place.fitting
            for b in place.fitting
            if a.run == one.index and b.run == other.index
        )

    def extent_of(self, frame: Framed) -> tuple[float, float]:
        low, high = frame.extent
        return self.position(frame, low), self.position(frame, high)


def place_order(place: Place) -> tuple[float, int, int]:
    """Along the line; at one point by run, so that the order never depends on chance."""
    first = min(place.members, key=lambda m: m.key)
    return (place.at, first.run, first.slot)


def line_of(frame: Framed) -> Line:
    """A line of one run, zero at its start."""
    places = [Place([s], float(s.along_m), s.lane) for s in frame.sightings]
    line = Line([frame], places)
    settle(line, places[_start_index(places)])
    return line


def _start_index(places: list[Place]) -> int:
    return next(i for i, place in enumerate(places) if place.has_start)


def settle(line: Line, zero: Place, doubt: Doubt | None = None, with_joints: bool = True) -> None:
    """Adjust the line with `zero` as its zero, and move every place to where the readings put it."""
    line.adjustment, unknown = fitted(line, zero, doubt or line.doubt, with_joints, with_covariance=False)
    line.runs_in_fit = {frame.index: i for i, frame in enumerate(line.frames)}
    frames = {frame.index: frame for frame in line.frames}
    for place in line.places:
        number = unknown.get(id(place))
        if number is not None:
            place.at = line.adjustment.station(number)
        else:
            place.at = _mean(line.position(frames[m.run], float(m.along_m)) for m in place.fitting)


def _mean(values: Iterable[float]) -> float:
    held = list(values)
    return sum(held) / len(held)


def fitted(
    line: Line, zero: Place, doubt: Doubt, with_joints: bool, with_covariance: bool = True
) -> tuple[Adjustment, dict[int, int]]:
    """Adjust without moving anything; also which unknown each place (by identity) became."""
    shared = [p for p in line.places if p is zero or p.has_start or _is_shared(p, with_joints)]
    unknown: dict[int, int] = {}
    for place in shared:
        unknown[id(place)] = -1 if place is zero else len(unknown) - (id(zero) in unknown)
    readings = [_readings(line, frame, shared, unknown, with_joints) for frame in line.frames]
    return adjust(readings, len(shared) - 1, doubt, with_covariance), unknown


def _is_shared(place: Place, with_joints: bool) -> bool:
    return len({m.run for m in place.fitting}) > 1 and (with_joints or place.lane != "joint")


def _readings(line: Line, frame: Framed, shared: list[Place], unknown: dict[int, int], with_joints: bool) -> Readings:
    start = unknown[id(line.start_of(frame))]
    along: list[float] = []
    places: list[int] = []
    extra: list[float] = []
    for place in shared:
        if unknown[id(place)] == start:
            continue
        for member in place.fitting:
            if member.run == frame.index and (with_joints or member.lane != "joint"):
                along.append(float(member.along_m))
                places.append(unknown[id(place)])
                extra.append(_roughness(member, place))
    return Readings(start, frame.length_m, along, places, extra)


def _roughness(member: Sighting, place: Place) -> float:
    """Variance of "reached the building" where the place is an access point in it or near it."""
    is_rough = (
        member.landmark is not None
        and member.landmark.is_building
        and any(m.landmark is not None and m.landmark.is_access for m in place.members)
    )
    return AT_BUILDING_M**2 if is_rough else 0.0
