"""Sound joints: matched last, between the landmarks and findings that already hold the runs together.

Joints come every few feet and look alike, so they never decide how a run lies; once that is known they
steady the stations in between. A joint that may as well be its neighbour steadies nothing and stays by itself.
"""

from math import log

from scoring.reconcile import assumptions as house
from scoring.reconcile.line import Line, Place, settle
from scoring.reconcile.matching import Anchor, Question, answers, pair_shares
from scoring.reconcile.sightings import Framed, Key, Sighting

JOINTS_KEPT = 12


def join_joints(line: Line) -> None:
    """Match the joints of every run, in the order the runs were joined."""
    if not any(frame.in_lane("joint") for frame in line.frames) or len(line.frames) < 2:
        return
    own = {id(p): p for p in line.places if p.lane == "joint"}
    line.places = [p for p in line.places if id(p) not in own]
    for frame in line.frames:
        joints = frame.in_lane("joint")
        matched = _matched(line, frame, joints)
        for sighting in joints:
            place = matched.get(sighting.key)
            if place is None:
                line.places.append(Place([sighting], line.position(frame, float(sighting.along_m)), "joint"))
            else:
                place.members.append(sighting)
        settle(line, line.start_of(line.frames[0]))


def _matched(line: Line, frame: Framed, joints: list[Sighting]) -> dict[Key, Place]:
    places = [p for p in line.places if _may_be_joint(p, frame)]
    places.sort(key=lambda p: p.at)
    anchors = _anchors(line, frame)
    if not joints or not places or not anchors:
        return {}
    doubt, runs = line.doubt, len(line.frames)
    per_m = (len(joints) + 1.0) / (frame.length_m + 1.0)
    gain = -log(per_m) - 2.0 * log(1.0 - house.SEEN_SHARE)
    question = Question(
        [float(s.along_m) for s in joints],
        [p.at for p in places],
        [[gain] * len(places)] * len(joints),
        [doubt.reading_m**2 * (1.0 + 1.0 / p.runs) for p in places],
        doubt.slip_variance_per_m(frame.length_m),
        doubt.scale**2 * (1.0 + 1.0 / max(runs - 1, 1)),
        doubt.slip_m**2,
        2.0 * house.SLIPS / max(frame.length_m, 3.0),
    )
    found = answers(question, anchors, kept=JOINTS_KEPT)
    likely = pair_shares(found)
    return {joints[i].key: places[j] for i, j in found[0].pairs if likely[(i, j)] >= house.PAIR_SURE_FROM}


def _may_be_joint(place: Place, frame: Framed) -> bool:
    return place.lane != "landmark" and place.is_at_joint and not place.seen_by(frame.index)


def _anchors(line: Line, frame: Framed) -> list[Anchor]:
    """Everything else the run shares with others, as fixed points for its joints."""
    found = []
    for place in line.places:
        for member in place.members:
            if member.run == frame.index and (place.runs > 1 or member.is_start):
                variance = 1e-6 if member.is_start else line.doubt.reading_m**2
                along = float(member.along_m)
                found.append(Anchor(along, place.at - along, variance))
    return found
