"""One finding a run wrote down twice: both readings belong to the place that other runs saw once."""

from dataclasses import replace
from decimal import Decimal

from scoring.reconcile.assumptions import NEARBY_REPEAT_M
from scoring.reconcile.likeness import hours_apart
from scoring.reconcile.line import Line
from scoring.reconcile.sightings import Sighting
from scoring.types import Defect


def fold_doubles(line: Line) -> None:
    """Fold a finding only one run has into a neighbour of that run that others share, if the words agree.

    Without another run to say that there is one thing, both stay: a run's list is never shortened on its own word.
    """
    for place in [p for p in line.of_lane("finding") if len(p.members) == 1]:
        member = place.members[0]
        for other in line.of_lane("finding"):
            if other is not place and other.runs > 1 and any(_says_the_same(member, m) for m in other.members):
                other.members.append(member)
                line.places.remove(place)
                break


def _says_the_same(one: Sighting, other: Sighting) -> bool:
    if one.run != other.run or one.defect is None or other.defect is None:
        return False
    if abs(float(one.along_m - other.along_m)) > NEARBY_REPEAT_M:
        return False
    hours = [d.clock_from for d in (one.defect, other.defect) if d.clock_from is not None]
    if len(hours) == 2 and hours_apart(hours[0], hours[1]) > 1.0:
        return False
    return _words(one.defect) == _words(other.defect)


def _words(defect: Defect) -> Defect:
    """What was said, without where and at what hour."""
    return replace(defect, ref="", at_m=Decimal(0), to_m=None, clock_from=None, clock_to=None)
