"""Where two runs contradict each other about one place. Both statements are kept."""

from collections.abc import Sequence
from decimal import Decimal

from scoring.reconcile.assumptions import CLEARLY_INSIDE_M
from scoring.reconcile.coverage import Passed
from scoring.reconcile.likeness import degree_rank, hours_apart
from scoring.reconcile.line import Line, Place
from scoring.reconcile.sightings import Framed, Sighting
from scoring.reconcile.stations import Stations
from scoring.types import Conflict, Source

INSIDE = Decimal(str(CLEARLY_INSIDE_M))
HOURS_THAT_CONTRADICT = 3.0  # two crews are easily an hour off each; house rule
STEPS_THAT_CONTRADICT = 2  # slight against severe; house rule


def contradictions(stations: Stations, runs: Sequence[Passed], frames: dict[int, Framed]) -> list[Conflict]:
    """All contradictions about places of the line, by station."""
    found: list[Conflict] = []
    for place in stations.line.places:
        about = _About(stations, place, frames)
        found += about.kinds() + about.clocks() + about.degrees() + about.silence(runs) + about.distance()
    found += _stray_landmarks(stations, frames)
    return sorted(found, key=lambda c: (c.station_m if c.station_m is not None else Decimal(0), c.code, c.detail))


class _About:
    """One place and what its runs say of it."""

    def __init__(self, stations: Stations, place: Place, frames: dict[int, Framed]) -> None:
        self.place, self.frames = place, frames
        self.station = stations.of(place)
        self.defects = sorted((m for m in place.members if m.defect is not None), key=lambda m: m.key)

    def _conflict(self, code: str, detail: str, members: Sequence[Sighting]) -> Conflict:
        sources = tuple(self.frames[m.run].source(m) for m in members)
        return Conflict(code, detail, self.station, sources)

    def _words(self, members: Sequence[Sighting], word: str) -> str:
        return "; ".join(f"run {self.frames[m.run].run.id}: {getattr(m.defect, word)}" for m in members)

    def kinds(self) -> list[Conflict]:
        if len({m.kind for m in self.defects}) < 2:
            return []
        detail = f"One finding, different kinds: {self._words(self.defects, 'kind')}. The worse is used."
        return [self._conflict("kind_differs", detail, self.defects)]

    def clocks(self) -> list[Conflict]:
        hours = [m.defect.clock_from for m in self.defects if m.defect and m.defect.clock_from is not None]
        if not any(hours_apart(a, b) >= HOURS_THAT_CONTRADICT for a in hours for b in hours):
            return []
        told = [m for m in self.defects if m.defect and m.defect.clock_from is not None]
        detail = f"One finding, clocks far apart: {self._words(told, 'clock_from')}. The first is used."
        return [self._conflict("clock_differs", detail, told)]

    def degrees(self) -> list[Conflict]:
        told = [m for m in self.defects if m.defect and m.defect.degree is not None]
        ranks = [degree_rank(m.defect.degree) or 0 for m in told if m.defect]
        if not ranks or max(ranks) - min(ranks) < STEPS_THAT_CONTRADICT:
            return []
        detail = f"One finding, degrees far apart: {self._words(told, 'degree')}. The worse is used."
        return [self._conflict("degree_differs", detail, told)]

    def distance(self) -> list[Conflict]:
        """A person says that two findings are one which counters put far apart."""
        far = [m for m in self.defects if m.is_far]
        if not far:
            return []
        runs = ", ".join(dict.fromkeys(self.frames[m.run].run.id for m in far))
        detail = (
            f"A person says this is one finding, but run {runs} has it farther away than counters can be off. It is "
            "placed by the other runs; look at the decision again."
        )
        return [self._conflict("pinned_far_apart", detail, self.defects)]

    def silence(self, runs: Sequence[Passed]) -> list[Conflict]:
        """A run passed the place, saw it clearly and reports nothing of the kind."""
        if not self.defects:
            return []
        found = []
        for run in runs:
            if not self._is_clear(run) or any(m.run == run.frame.index for m in self.defects):
                continue
            sound = [m for m in self.place.members if m.run == run.frame.index and m.lane == "joint"]
            kind = self.defects[0].kind.replace("_", " ")
            what = "a sound joint" if sound else f"no {kind}"
            detail = f"Run {run.frame.run.id} saw this place and reports {what} there."
            code = "joint_called_sound" if sound else "not_reported"
            found.append(self._conflict(code, detail, [*self.defects, *sound]))
        return found

    def _is_clear(self, run: Passed) -> bool:
        return any(low + INSIDE <= self.station <= high - INSIDE for low, high in run.seen)


def _stray_landmarks(stations: Stations, frames: dict[int, Framed]) -> list[Conflict]:
    line: Line = stations.line
    found = []
    for sighting, place in line.stray_landmarks:
        where = next((p for p in line.places if any(m.key == sighting.key for m in p.members)), None)
        there = next((p for p in line.places if any(m in p.members for m in place.members)), None)
        if where is None or there is None or where is there:
            continue
        name = _name_of(sighting)
        detail = (
            f"Run {frames[sighting.run].run.id} has the {name.replace('_', ' ')} elsewhere than other runs, "
            "farther than counters can be off."
        )
        sources = [frames[m.run].source(m) for m in [sighting, *there.members]]
        found.append(Conflict(f"{name}_at_different_lengths", detail, stations.of(there), _unique(sources)))
    return found


def _name_of(sighting: Sighting) -> str:
    landmark = sighting.landmark
    if landmark is not None and landmark.is_main:
        return "main"
    return "building" if landmark is not None and landmark.is_building else "access_point"


def _unique(sources: Sequence[Source]) -> tuple[Source, ...]:
    return tuple(dict.fromkeys(sources))
