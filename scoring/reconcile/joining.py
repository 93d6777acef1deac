"""Laying one more run onto a line: by landmarks, by findings, or by both, whichever is likelier."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import exp, log

from scoring.reconcile import assumptions as house
from scoring.reconcile.decisions import Decided
from scoring.reconcile.likeness import Frequencies, landmark_odds, likeness
from scoring.reconcile.line import Line, Place
from scoring.reconcile.matching import (
    Anchor,
    Answer,
    Question,
    answers,
    answers_from_seed,
    pair_shares,
    shares,
)
from scoring.reconcile.sightings import Framed, Key, Sighting

MISS = -log(1.0 - house.SEEN_SHARE)
SEED_KEPT = 5


@dataclass(frozen=True, slots=True)
class Tie:
    """A sighting and the place it shares with the line, and the log odds that they are one."""

    sighting: Sighting
    place: Place
    odds: float

    @property
    def offset(self) -> float:
        return self.place.at - float(self.sighting.along_m)


@dataclass(slots=True)
class Joined:
    """How a run lies on a line: what it shares with it, how sure that is, and by what it is held."""

    matches: list[tuple[Sighting, Place]]
    doubtful: set[Key]
    reason: str
    strays: list[tuple[Sighting, Place]] = field(default_factory=list)
    is_tied: bool = True


@dataclass(frozen=True, slots=True)
class Setting:
    """What stays the same while the runs of one lateral are joined."""

    common: Frequencies
    per_m: float  # findings on a metre of pipe
    decided: Decided


def ties_to(line: Line, frame: Framed, setting: Setting) -> list[Tie]:
    """Landmarks the run shares with the line, and matches a person pinned; the likeliest place for each."""
    found = []
    landmarks = line.of_lane("landmark")
    for sighting in frame.sightings:
        if sighting.landmark is None and not setting.decided.by_pair:
            continue
        options = [
            Tie(sighting, place, odds)
            for place in (line.places if setting.decided.by_pair else landmarks)
            if (odds := _tie_odds(sighting, place, setting.decided)) is not None
        ]
        if options:
            found.append(max(options, key=lambda t: (t.odds, -t.place.at)))
    return found


def _tie_odds(sighting: Sighting, place: Place, decided: Decided) -> float | None:
    said = {decided.about(sighting, member) for member in place.members}
    if "reject" in said:
        return None
    if "pin" in said:
        return house.PINNED_ODDS
    if sighting.landmark is None:
        return None
    odds = [landmark_odds(sighting.landmark, m.landmark) for m in place.members if m.landmark is not None]
    known = [o for o in odds if o is not None]
    return max(known) if known else None


def join(line: Line, frame: Framed, setting: Setting) -> Joined:
    """Find how `frame` lies on `line`; `is_tied` False where nothing ties it."""
    ties = ties_to(line, frame, setting)
    strong = [t for t in ties if t.odds >= house.STRONG_TIE]
    asked = _Asked.of(line, frame, setting, [t for t in ties if t.sighting.landmark is None])
    if strong:
        return _joined_by_landmarks(asked, strong)
    return _joined_by_likelihood(asked, [t for t in ties if t.odds < house.STRONG_TIE])


@dataclass(slots=True)
class _Asked:
    """The findings of a run against those of a line, as a question to the matcher."""

    line: Line
    frame: Framed
    setting: Setting
    sightings: list[Sighting]
    places: list[Place]
    question: Question
    reading_variance: float
    slip_variance_per_m: float

    @staticmethod
    def of(line: Line, frame: Framed, setting: Setting, pinned: Sequence[Tie]) -> "_Asked":
        """What a person has pinned, sighting and place, is not asked again."""
        settled = {t.sighting.key for t in pinned}
        taken = {id(t.place) for t in pinned}
        sightings = [s for s in frame.in_lane("finding") if s.key not in settled]
        places = [p for p in line.of_lane("finding") if id(p) not in taken]
        doubt = line.doubt
        runs = len(line.frames)
        slip = doubt.slip_variance_per_m(frame.length_m) * (1.0 + 1.0 / runs)
        noise = doubt.reading_m**2
        question = Question(
            [float(s.along_m) for s in sightings],
            [p.at for p in places],
            [[_gain(s, p, setting) for p in places] for s in sightings],
            [noise * (1.0 + 1.0 / p.runs) for p in places],
            slip,
            doubt.scale**2 * (1.0 + 1.0 / runs),
            doubt.slip_m**2,
            2.0 * house.SLIPS / max(frame.length_m, 3.0),
        )
        return _Asked(line, frame, setting, sightings, places, question, noise, slip)

    def anchor(self, tie: Tie) -> Anchor:
        own = 0.0 if tie.sighting.is_start else self.reading_variance
        theirs = 0.0 if tie.place.has_start else self.reading_variance / tie.place.runs
        return Anchor(float(tie.sighting.along_m), tie.offset, own + theirs + 1e-6)

    def overlap_odds(self, answer: Answer) -> float:
        """What overlapping costs and gains apart from the matches: things one side passed and did not
        report, and fewer things needed in all."""
        low, high = (answer.position(y) for y in self.frame.extent)
        spans = [self.line.extent_of(f) for f in self.line.frames]
        first, last = min(s[0] for s in spans), max(s[1] for s in spans)
        inside = sum(low <= p.at <= high for p in self.places)
        inside += sum(first <= answer.position(y) <= last for y in self.question.along)
        shared = max(min(high, last) - max(low, first), 0.0)
        return shared * self.setting.per_m * house.SEEN_SHARE**2 - MISS * inside


def _gain(sighting: Sighting, place: Place, setting: Setting) -> float | None:
    """Log odds of one thing against two, position left out; None where they cannot be one."""
    said = {setting.decided.about(sighting, member) for member in place.members}
    if "reject" in said:
        return None
    looks = [likeness(sighting, m, setting.common) for m in place.members if m.lane == "finding"]
    gain = sum(looks) / len(looks) + 2.0 * MISS - log(setting.per_m)
    return gain if gain > -1.0 else None


def _joined_by_landmarks(asked: _Asked, strong: list[Tie]) -> Joined:
    found: list[tuple[Answer, list[Tie]]] = []
    for held in _consistent_sets(strong):
        prior = sum(t.odds for t in held)
        for answer in answers(asked.question, [asked.anchor(t) for t in held], prior):
            found.append((_with_overlap(asked, answer), held))
    found.sort(key=lambda f: -f[0].score)
    held = list(found[0][1])
    # A person's word that two things are one stands; where the runs lie stays with what the counters say.
    held += [_far(t) for t in strong if t not in held and t.sighting.landmark is None]
    strays = [(t.sighting, t.place) for t in strong if t not in held and t.sighting.landmark is not None]
    named = " and ".join(dict.fromkeys(_name_of(t) for t in held if not t.sighting.is_far))
    return _concluded(asked, [f[0] for f in found], held, f"Tied by {named}.", strays)


def _far(tie: Tie) -> Tie:
    return replace(tie, sighting=replace(tie.sighting, is_far=True))


def _with_overlap(asked: _Asked, answer: Answer) -> Answer:
    score = answer.score + asked.overlap_odds(answer)
    return Answer(score, answer.pairs, answer.offset, answer.growth, answer.along)


def _consistent_sets(ties: Sequence[Tie]) -> list[list[Tie]]:
    """Largest sets of ties that one counter could have read, each built around one of them."""
    sets: list[list[Tie]] = []
    for pivot in ties:
        held = [t for t in ties if _go_together(pivot, t)]
        if held not in sets:
            sets.append(held)
    return sets


def _go_together(one: Tie, other: Tie) -> bool:
    if one.place is other.place and one is not other and one.sighting.run == other.sighting.run:
        return False
    read = float(other.sighting.along_m - one.sighting.along_m)
    there = other.place.at - one.place.at
    return abs(there - read) <= house.STRAY_SCALE * max(abs(read), abs(there)) + house.STRAY_M


def _name_of(tie: Tie) -> str:
    landmark = tie.sighting.landmark
    if landmark is None:
        return "a match a person confirmed"
    if landmark.is_main:
        return "the main"
    if landmark.is_building:
        return "the building"
    label = landmark.access_label or next(
        (m.landmark.access_label for m in tie.place.members if m.landmark and m.landmark.access_label), None
    )
    return f"access point {label}" if label else "an access point of the same kind without a label"


def _joined_by_likelihood(asked: _Asked, weak: list[Tie]) -> Joined:
    """No landmark is sure: weigh every weak one and every pair of findings as a place to begin."""
    found: list[tuple[Answer, list[Tie]]] = []
    for tie in weak:
        for answer in answers(asked.question, [asked.anchor(tie)], tie.odds):
            found.append((_with_overlap(asked, answer), [tie]))
    prior_per_m = -log(house.SEARCH_SPAN_M)
    for i, row in enumerate(asked.question.gains):
        for j, gain in enumerate(row):
            if gain is not None and gain + prior_per_m > -2.0:
                for answer in answers_from_seed(asked.question, i, j, gain + prior_per_m, SEED_KEPT):
                    found.append((_with_overlap(asked, answer), []))
    found.sort(key=lambda f: (-f[0].score, f[0].pairs))
    if not found or _evidence(found) < house.UNTIED_BELOW:
        return Joined(
            [],
            set(),
            "Nothing ties this run to the others: no shared landmark, no findings that agree.",
            is_tied=False,
        )
    return _weighed(asked, found)


def _evidence(found: list[tuple[Answer, list[Tie]]]) -> float:
    best = found[0][0].score
    return best + log(sum(exp(f[0].score - best) for f in found))


def _weighed(asked: _Asked, found: list[tuple[Answer, list[Tie]]]) -> Joined:
    best, held = found[0]
    middle = _middle(asked, best)
    share = sum(
        s
        for s, (answer, _) in zip(shares([f[0] for f in found]), found, strict=True)
        if abs(answer.position(middle) - best.position(middle)) <= 0.3
    )
    named = _name_of(held[0]) if held else f"{len(best.pairs)} findings that agree"
    reason = f"Tied by {named}."
    joined = _concluded(asked, [f[0] for f in found], held, reason, [])
    if share < house.SURE_FROM:
        joined.reason = f"Tied by {named}, but another alignment is nearly as likely."
        joined.doubtful |= {s.key for s in asked.frame.sightings}
    return joined


def _middle(asked: _Asked, best: Answer) -> float:
    """Middle of what the run shares with the line, as a distance along the run."""
    if not best.pairs:
        return 0.0
    alongs = [asked.question.along[i] for i, _ in best.pairs]
    return (min(alongs) + max(alongs)) / 2.0


def _concluded(
    asked: _Asked, found: list[Answer], held: list[Tie], reason: str, strays: list[tuple[Sighting, Place]]
) -> Joined:
    best = found[0]
    matches = [(t.sighting, t.place) for t in held]
    matches += [(asked.sightings[i], asked.places[j]) for i, j in best.pairs]
    doubtful: set[Key] = set()
    for pair, share in pair_shares(found).items():
        likely = share if pair in best.pairs else 1.0 - share
        if likely < house.PAIR_SURE_FROM:
            doubtful.add(asked.sightings[pair[0]].key)
            doubtful |= {m.key for m in asked.places[pair[1]].members}
    return Joined(matches, doubtful, reason, strays)
