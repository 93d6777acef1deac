"""Stations of a line: its datum, exact where one run's counter is the ruler, with their doubt."""

from dataclasses import dataclass, field
from decimal import Decimal
from itertools import groupby
from math import exp, log, sqrt

from scoring.reconcile.adjustment import Adjustment
from scoring.reconcile.assumptions import DOUBTS, SAME_READING_M, Doubt
from scoring.reconcile.line import Line, Place, fitted, settle
from scoring.reconcile.sightings import Framed, Sighting, named_access
from scoring.types import Access

STEP = Decimal("0.0001")
NEIGHBOURS_M = Decimal(1)  # readings of neighbours further apart are not mixed up


@dataclass(slots=True, eq=False)
class Stations:
    """Where everything on a line lies, from its datum."""

    line: Line
    datum: Access
    ruler: Framed
    adjustments: list[tuple[float, Adjustment]]  # how likely each kind of crew is, and what follows from it
    unknown: dict[int, int]
    zero_of: dict[int, Decimal] = field(default_factory=dict)  # by run index: station of its start
    at: dict[int, Decimal] = field(default_factory=dict)  # by identity of the place

    def in_order(self) -> list[Place]:
        """All places along the line; those at one station as the runs have them."""
        ruler = self.ruler.index
        places = sorted(
            self.line.places,
            key=lambda p: (self.of(p), min((m.run != ruler, m.run, m.along_m, m.ref) for m in p.members)),
        )
        return [p for _, group in groupby(places, key=self.of) for p in _as_the_runs_have_them(list(group))]

    def of(self, place: Place) -> Decimal:
        return self.at[id(place)]

    def sd_of(self, place: Place) -> Decimal:
        """One standard deviation of a place's station."""
        return _rounded(sqrt(sum(share * self._variance(a, place) for share, a in self.adjustments)))

    def _variance(self, adjustment: Adjustment, place: Place) -> float:
        number = self.unknown.get(id(place))
        if number is not None:
            return adjustment.variance(number)
        member = place.fitting[0]
        fit = self.line.runs_in_fit[member.run]
        return adjustment.position_variance(fit, float(member.along_m)) + adjustment.doubt.reading_m**2

    def along(self, frame: Framed, along_m: Decimal) -> Decimal:
        """Station of any point of a run."""
        at = self.line.position(frame, float(along_m))
        return _exact(at, [self.zero_of[frame.index] + along_m])

    def extent(self, frame: Framed) -> tuple[Decimal, Decimal]:
        """Stations of a run's start and of its far end; a landmark there has the last word."""
        start, end = self.zero_of[frame.index], frame.along(frame.run.counter_end_m)
        for place in self.line.of_lane("landmark"):
            if any(m.run == frame.index and m.along_m == end and not m.is_start for m in place.members):
                return start, self.of(place)
        return start, self.along(frame, end)


def _rounded(value: float) -> Decimal:
    return Decimal(repr(value)).quantize(STEP)


def _exact(at: float, readings: list[Decimal]) -> Decimal:
    """The first reading that says the same within what a counter can say, as it was read."""
    for reading in readings:
        if abs(at - float(reading)) <= SAME_READING_M:
            return reading
    return _rounded(at)


def stations_of(line: Line) -> Stations:
    """Put the zero of a line at its datum and give every place its station."""
    zero, datum, sighting = _datum_of(line)
    fits = [fitted(line, zero, doubt, True) for doubt in DOUBTS]
    adjustments = _likely([a for a, _ in fits], line.tallies())
    line.doubt = max(adjustments, key=lambda a: a[0])[1].doubt
    settle(line, zero)
    ruler = next(f for f in line.frames if f.index == sighting.run)
    out = Stations(line, datum, ruler, adjustments, fits[0][1])
    _set_zeros(out, sighting)
    for place in line.places:
        out.at[id(place)] = _exact(place.at, _readings_of(out, place))
    _restore_order(out)
    return out


def _likely(adjustments: list[Adjustment], tallies: list[tuple[int, int]]) -> list[tuple[float, Adjustment]]:
    """The share of each kind of crew, by how likely it makes the readings and what was missed."""
    logs = [a.log_likelihood + _missing_log_likelihood(a.doubt, tallies) for a in adjustments]
    best = max(logs)
    weights = [(exp(value - best), a) for value, a in zip(logs, adjustments, strict=True) if value > best - 4.0]
    total = sum(w for w, _ in weights)
    return [(w / total, a) for w, a in weights]


def _missing_log_likelihood(doubt: Doubt, tallies: list[tuple[int, int]]) -> float:
    """How likely so many findings were missed, given that one run at least wrote each of them down."""
    missed = doubt.missed
    return sum(
        seen * log(1.0 - missed) + (passed - seen) * log(missed) - log(1.0 - missed**passed)
        for passed, seen in tallies
        if passed > 1
    )


def _datum_of(line: Line) -> tuple[Place, Access, Sighting]:
    """The most upstream access point that a run starts from or names; a run's start if nobody does."""
    named = [(p, m) for p in line.places for m in p.members if _names_access(m)]
    if not named:
        named = [(p, m) for p in line.places for m in p.members if m.is_start]
    frames = {f.index: f for f in line.frames}
    first = min(named, key=lambda n: n[0].at)[0]
    here = [m for p, m in named if p is first]
    ruler = min(here, key=lambda m: (not m.is_start, frames[m.run].sign < 0, -frames[m.run].length_m, m.run))
    return first, _best_name(here), ruler


def _names_access(member: Sighting) -> bool:
    landmark = member.landmark
    if landmark is None or not landmark.is_access:
        return False
    return member.is_start or member.is_end or landmark.access_label is not None


def _best_name(members: list[Sighting]) -> Access:
    marks = [m.landmark for m in members if m.landmark is not None and m.landmark.is_access]
    kind = next((m.access_kind for m in marks if m.access_kind), None)
    label = next((m.access_label for m in marks if m.access_label), None)
    return Access(named_access(marks[0]).kind if kind is None and marks else kind or "other", label)


def _set_zeros(out: Stations, sighting: Sighting) -> None:
    """Station of every run's start: exact where the ruler's counter or another exact start gives it."""
    out.zero_of[out.ruler.index] = -sighting.along_m
    rest = sorted((f for f in out.line.frames if f is not out.ruler), key=lambda f: f.index)
    for frame in rest:
        place = out.line.start_of(frame)
        out.zero_of[frame.index] = _exact(place.at, _readings_of(out, place))


def _readings_of(out: Stations, place: Place) -> list[Decimal]:
    """Stations straight from the counters of the runs that saw a place, the ruler's first."""
    members = sorted(place.fitting, key=lambda m: (m.run != out.ruler.index, m.key))
    return [out.zero_of[m.run] + m.along_m for m in members if m.run in out.zero_of]


def _restore_order(out: Stations) -> None:
    """Two neighbours never stand in an order that every run which saw both contradicts: such places get one
    station, the middle of what they had, together with all that were put at one station with them before."""
    blocks = [[p] for p in sorted((p for p in out.line.places if p.lane != "joint"), key=out.of)]
    while (clash := _first_clash(out, blocks)) is not None:
        one, other = clash
        one += other
        blocks.remove(other)
        middle = (sum((out.of(p) for p in one), Decimal(0)) / len(one)).quantize(STEP)
        for place in one:
            out.at[id(place)] = middle
        blocks.sort(key=lambda block: out.of(block[0]))


def _first_clash(out: Stations, blocks: list[list[Place]]) -> tuple[list[Place], list[Place]] | None:
    for i, one in enumerate(blocks):
        for other in blocks[i + 1 :]:
            apart = out.of(other[0]) - out.of(one[0])
            if apart > NEIGHBOURS_M:
                break
            if apart > 0 and any(_every_run_contradicts(p, q) for p in one for q in other):
                return one, other
    return None


def _as_the_runs_have_them(places: list[Place]) -> list[Place]:
    """Places at one station, none before another that every run which saw both has upstream of it."""
    left, out = list(places), []
    while left:
        free = (p for p in left if not any(_every_run_contradicts(p, q) for q in left if q is not p))
        out.append(next(free, left[0]))
        left.remove(out[-1])
    return out


def _every_run_contradicts(upstream: Place, downstream: Place) -> bool:
    """Of those runs that wrote both down; a joint seen sound where others have a finding is no word on its order."""
    pairs = [
        (a, b)
        for a in upstream.fitting
        for b in downstream.fitting
        if a.run == b.run and "joint" not in (a.lane, b.lane)
    ]
    return bool(pairs) and all(a.along_m > b.along_m for a, b in pairs)
