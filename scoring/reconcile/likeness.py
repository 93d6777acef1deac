"""How much two sightings look like the same thing: logarithm of the odds, from their attributes alone.

Every weight is a house rule: how often two crews agree on what they see.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from math import log
from typing import Final

from scoring.reconcile.sightings import Landmark, Sighting

# Access points in the building or just outside its wall (common practice, no source): whoever reached the
# building was about there.
INSIDE_OR_AT_BUILDING: Final = frozenset(
    {"stack_clean_out", "floor_drain", "closet_flange", "roof_vent", "house_trap"}
)
SAME_KIND: Final = 0.88
# Kinds that two crews take for one another, and how often. Kept low on purpose: two findings at one joint
# taken for one lose one of them, one taken for two loses nothing.
TAKEN_FOR: Final[dict[frozenset[str], float]] = {
    frozenset({"crack", "fracture"}): 0.12,
    frozenset({"fracture", "broken"}): 0.005,
    frozenset({"broken", "hole"}): 0.005,
    frozenset({"broken", "collapse"}): 0.005,
    frozenset({"hole", "collapse"}): 0.005,
    frozenset({"displaced_joint", "open_joint"}): 0.005,
    frozenset({"displaced_joint", "angular_joint"}): 0.005,
    frozenset({"open_joint", "angular_joint"}): 0.005,
    frozenset({"surface_wear", "corrosion"}): 0.02,
    frozenset({"wall_deposits", "bed_deposits"}): 0.005,
    frozenset({"bed_deposits", "obstruction"}): 0.005,
    frozenset({"sag", "water_level"}): 0.10,
    frozenset({"connection", "faulty_connection"}): 0.10,
    frozenset({"connection", "protruding_connection"}): 0.10,
}
OTHER_KIND: Final = 0.0003
# By hours between two clocks (0 to 6): agreeing odds against a clock drawn at random.
CLOCK_ODDS: Final = (1.4, 1.05, -0.3, -2.4, -3.0, -3.0, -3.0)

_DEGREES: Final = {
    "hairs": 1, "bundles": 2, "plug": 3,
    "damp": 1, "dripping": 2, "flowing": 3, "jetting": 4,
    "general": 2, "missing": 3, "through": 4,
    "slight": 1, "moderate": 2, "severe": 3, "heavy": 3,
    "hairline": 1, "visible": 2, "open": 3,
}  # fmt: skip


def degree_rank(degree: str | None) -> int | None:
    """Place of a degree in its own ladder, 1 the least; None where none is given."""
    return None if degree is None else _DEGREES.get(degree, 0)


@dataclass(frozen=True, slots=True)
class Frequencies:
    """How common each kind is among the sightings at hand: a shared rare kind says more."""

    share: dict[str, float]
    unknown: float
    joint_share: float

    def of(self, kind: str) -> float:
        return self.share.get(kind, self.unknown)


def frequencies(sightings: Iterable[Sighting]) -> Frequencies:
    """Shares with one more of each kind and ten kinds nobody saw, so that small counts do not shout."""
    kinds: dict[str, int] = {}
    at_joint = 0
    for sighting in sightings:
        kinds[sighting.kind] = kinds.get(sighting.kind, 0) + 1
        at_joint += bool(sighting.defect and sighting.defect.at_joint)
    total = sum(kinds.values()) + 10.0
    share = {kind: (count + 0.5) / total for kind, count in kinds.items()}
    return Frequencies(share, 1.0 / total, (at_joint + 3.0) / (sum(kinds.values()) + 6.0))


def likeness(one: Sighting, other: Sighting, common: Frequencies) -> float:
    """Log odds that two sightings are one thing, against two things drawn at random."""
    odds = _kind_odds(one.kind, other.kind, common)
    if odds < -3.0:
        return odds
    a, b = one.defect or one.feature, other.defect or other.feature
    if a is None or b is None:
        return odds
    odds += _clock_odds(a.clock_from, b.clock_from) + 0.5 * _clock_odds(a.clock_to, b.clock_to)
    if one.defect is not None and other.defect is not None:
        odds += _defect_odds(one, other, common)
    if one.feature is not None and other.feature is not None:
        odds += _label_odds(one.feature.label, other.feature.label)
    return odds


def _kind_odds(one: str, other: str, common: Frequencies) -> float:
    if one == other:
        return log(SAME_KIND / common.of(one))
    chance = TAKEN_FOR.get(frozenset({one, other}), OTHER_KIND)
    return log(chance / max(common.of(one), common.of(other)))


def hours_apart(one: Decimal, other: Decimal) -> float:
    """Shorter way round the clock between two hours."""
    difference = abs(float(one - other)) % 12.0
    return min(difference, 12.0 - difference)


def _clock_odds(one: Decimal | None, other: Decimal | None) -> float:
    if one is None or other is None:
        return 0.0
    return CLOCK_ODDS[round(hours_apart(one, other))]


def _label_odds(one: str | None, other: str | None) -> float:
    if one is None or other is None:
        return 0.0
    return 6.0 if one == other else -6.0


def _defect_odds(one: Sighting, other: Sighting, common: Frequencies) -> float:
    a, b = one.defect, other.defect
    assert a is not None and b is not None
    odds = _joint_odds(a.at_joint, b.at_joint, common.joint_share)
    if a.pattern and b.pattern:
        odds += 0.5 if a.pattern == b.pattern else -1.0
    odds += _degree_odds(a.degree, b.degree) + _percent_odds(a.percent, b.percent)
    if (a.to_m is None) != (b.to_m is None):
        odds -= 1.5
    return odds


def _joint_odds(one: bool, other: bool, share: float) -> float:
    if one != other:
        return log(0.03 / (share * (1.0 - share)))
    return log(0.94 / share) if one else log(0.94 / (1.0 - share))


def _degree_odds(one: str | None, other: str | None) -> float:
    a, b = degree_rank(one), degree_rank(other)
    if a is None or b is None:
        return 0.0
    return (0.6, -0.6, -1.6)[min(abs(a - b), 2)]


def _percent_odds(one: Decimal | None, other: Decimal | None) -> float:
    if one is None or other is None:
        return 0.0
    difference = abs(float(one - other))
    return 0.6 if difference <= 5 else 0.0 if difference <= 15 else -1.0


def landmark_odds(one: Landmark, other: Landmark) -> float | None:
    """Log odds that two landmarks are one place; None where they are different things."""
    if one.is_main and other.is_main:
        return 12.0
    if one.is_building and other.is_building:
        return 10.0
    if one.is_building != other.is_building and {one.access_kind, other.access_kind} & INSIDE_OR_AT_BUILDING:
        return 3.5
    if not (one.is_access and other.is_access):
        return None
    return _access_odds(one, other)


def _access_odds(one: Landmark, other: Landmark) -> float | None:
    kinds = {one.access_kind, other.access_kind} - {None}
    if one.access_label is not None and other.access_label is not None:
        return 12.0 if one.access_label == other.access_label and len(kinds) <= 1 else None
    if len(kinds) > 1:
        return None
    return 5.0 if one.access_kind is not None and one.access_kind == other.access_kind else 2.0
