"""From runs to lines: begin with the run that says most, lay the others onto it, then look again."""

from collections.abc import Sequence

from scoring.reconcile import assumptions as house
from scoring.reconcile.decisions import Decided
from scoring.reconcile.doubles import fold_doubles
from scoring.reconcile.joining import Joined, Setting, join, ties_to
from scoring.reconcile.joints import join_joints
from scoring.reconcile.likeness import frequencies, landmark_odds
from scoring.reconcile.line import Line, Place, fitted, line_of, settle
from scoring.reconcile.sightings import Framed, Key

LOOKS = 2  # how often every run is laid again onto all others


def assemble(frames: Sequence[Framed], decided: Decided) -> list[Line]:
    """Lines of runs that are tied to each other, the one with the datum first."""
    setting = _setting(frames, decided)
    left = list(frames)
    lines: list[Line] = []
    while left:
        base = max(left, key=lambda f: (_landmarks(f), f.length_m, -f.index))
        left.remove(base)
        line = line_of(base)
        _gather(line, left, setting)
        lines.append(line)
    return sorted(lines, key=_rank)


def lay_together(frames: Sequence[Framed]) -> Line | None:
    """One line of all these runs; None where nothing ties them."""
    lines = assemble(frames, Decided())
    return lines[0] if len(lines) == 1 else None


def _setting(frames: Sequence[Framed], decided: Decided) -> Setting:
    findings = [s for f in frames for s in f.in_lane("finding")]
    length = sum(f.length_m for f in frames)
    per_m = (len(findings) + 1.0) / (house.SEEN_SHARE * (length + 4.0))
    return Setting(frequencies(findings), per_m, decided)


def _landmarks(frame: Framed) -> int:
    return sum(s.landmark is not None for s in frame.sightings if s.is_start or s.is_end)


def _rank(line: Line) -> tuple[bool, float, int]:
    """A line that somebody entered from upstream goes first, then the longest."""
    upstream = any(f.sign > 0 and f.start.landmark and not f.start.landmark.is_main for f in line.frames)
    return (not upstream, -sum(f.length_m for f in line.frames), line.frames[0].index)


def _gather(line: Line, left: list[Framed], setting: Setting) -> None:
    """Lay onto the line whatever can be tied to it, the best tied first."""
    while left:
        for frame in sorted(left, key=lambda f: (-_tie_strength(line, f, setting), -f.length_m, f.index)):
            joined = join(line, frame, setting)
            if joined.is_tied:
                left.remove(frame)
                _take_in(line, frame, joined)
                break
        else:
            break
    _look_again(line, setting)
    fold_doubles(line)
    join_joints(line)
    settle(line, line.start_of(line.frames[0]))


def _tie_strength(line: Line, frame: Framed, setting: Setting) -> float:
    return sum(t.odds for t in ties_to(line, frame, setting))


def _take_in(line: Line, frame: Framed, joined: Joined) -> None:
    line.frames.append(frame)
    _attach(line, frame, joined)
    _judge_doubt(line)
    settle(line, line.start_of(line.frames[0]), with_joints=False)
    _attach_near_landmarks(line, frame)


def _attach(line: Line, frame: Framed, joined: Joined) -> None:
    matched = {sighting.key for sighting, _ in joined.matches}
    for sighting, place in joined.matches:
        place.members.append(sighting)
    line.places += [Place([s], 0.0, s.lane) for s in frame.sightings if s.key not in matched]
    line.doubts[frame.index] = joined.doubtful
    line.reasons[frame.index] = joined.reason
    line.stray_landmarks += joined.strays


def _judge_doubt(line: Line) -> None:
    """Choose the kind of crew whose readings would stray as these do; for matching nobody is very careful."""
    zero = line.start_of(line.frames[0])
    fits = [
        (fitted(line, zero, doubt, with_joints=False, with_covariance=False)[0].log_likelihood, doubt)
        for doubt in house.DOUBTS[1:]
    ]
    line.doubt = max(fits, key=lambda f: f[0])[1]


def _attach_near_landmarks(line: Line, frame: Framed) -> None:
    """A landmark without a label that lies where the line has one of its kind is the same landmark, unless the
    run contradicts the line there."""
    near = house.STRAY_M + house.STRAY_SCALE * frame.length_m
    strays = {sighting.key for sighting, _ in line.stray_landmarks}
    for place in [p for p in line.of_lane("landmark") if p.runs == 1 and p.seen_by(frame.index)]:
        if place.members[0].key in strays:
            continue
        others = [
            p
            for p in line.of_lane("landmark")
            if not p.seen_by(frame.index) and abs(p.at - place.at) <= near and _may_be_one(p, place)
        ]
        if others:
            min(others, key=lambda p: abs(p.at - place.at)).members.extend(place.members)
            line.places.remove(place)
    settle(line, line.start_of(line.frames[0]), with_joints=False)


def _may_be_one(one: Place, other: Place) -> bool:
    pairs = [(a.landmark, b.landmark) for a in one.members for b in other.members if a.landmark and b.landmark]
    return any(landmark_odds(a, b) is not None for a, b in pairs)


def _look_again(line: Line, setting: Setting) -> None:
    """Lay every run anew onto all the others, until nothing changes."""
    if len(line.frames) < 3:
        return
    for _ in range(LOOKS):
        before = _membership(line)
        for frame in list(line.frames[1:]):
            _relay(line, frame, setting)
        if _membership(line) == before:
            return


def _membership(line: Line) -> list[list[Key]]:
    return sorted(sorted(m.key for m in p.members) for p in line.places)


def _relay(line: Line, frame: Framed, setting: Setting) -> None:
    rest = _without(line, frame)
    if rest is None:
        return
    joined = join(rest, frame, setting)
    if not joined.is_tied:
        return
    line.places, line.frames = rest.places, [*rest.frames]
    line.stray_landmarks = [s for s in line.stray_landmarks if s[0].run != frame.index]
    _take_in(line, frame, joined)


def _without(line: Line, frame: Framed) -> Line | None:
    """The line as the other runs leave it; None where they do not hold together without this one."""
    places = []
    for place in line.places:
        members = [m for m in place.members if m.run != frame.index]
        if members:
            places.append(Place(members, place.at, place.lane))
    rest = Line([f for f in line.frames if f is not frame], places, line.doubt)
    if not _hangs_together(rest):
        return None
    settle(rest, rest.start_of(rest.frames[0]), with_joints=False)
    return rest


def _hangs_together(line: Line) -> bool:
    reached = {line.frames[0].index}
    grew = True
    while grew:
        grew = False
        for place in line.places:
            runs = {m.run for m in place.members}
            if runs & reached and not runs <= reached:
                reached |= runs
                grew = True
    return len(reached) == len(line.frames)
