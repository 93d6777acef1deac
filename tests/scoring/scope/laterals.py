"""Laterals, findings and sites made by a seeded generator: invented, small, and the same on every run."""

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise

from scoring.types import (
    Access,
    Boundary,
    Defect,
    Depth,
    Feature,
    GradedFinding,
    Lateral,
    LateralDefect,
    LateralFeature,
    Policy,
    Segment,
    Site,
    Surface,
)

KINDS = (
    "roots",
    "crack",
    "fracture",
    "broken",
    "displaced_joint",
    "infiltration",
    "wall_deposits",
    "sag",
    "collapse",
    "deformation",
)
SURFACES = ("lawn", "planting", "concrete_walk", "driveway", "asphalt_street")


@dataclass(frozen=True)
class Case:
    """Everything `plan` is asked with, but the prices and rules."""

    lateral: Lateral
    findings: tuple[GradedFinding, ...]
    site: Site
    policy: Policy


def found(ref: str, kind: str, station: str, to: str | None = None, sd: str = "0.1", **more: object) -> LateralDefect:
    """Return a defect at a station."""
    at_m, to_m = Decimal(station), None if to is None else Decimal(to)
    return LateralDefect(Defect(ref, kind, at_m, to_m, **more), at_m, to_m, Decimal(sd), ())  # type: ignore[arg-type]


def graded(*pairs: tuple[str, int], aspect: str = "structural") -> tuple[GradedFinding, ...]:
    """Return one finding for each defect and grade."""
    return tuple(GradedFinding(ref, aspect, grade, "rule", "source") for ref, grade in pairs)  # type: ignore[arg-type]


def line(
    defects: Sequence[LateralDefect] = (),
    length: str = "20",
    material: str = "vitrified_clay",
    features: Sequence[LateralFeature] = (),
    access: str = "clean_out",
) -> Lateral:
    """Return a lateral of one 4 in pipe with a clean-out at its head."""
    segment = Segment(Decimal(0), Decimal(length), material, Decimal("101.6"), Decimal("0.762"))
    return Lateral(
        Access(access),
        "run-1",
        Decimal(0),
        Decimal(length),
        True,
        True,
        segments=(segment,),
        defects=tuple(defects),
        features=tuple(features),
    )


def feature(kind: str, station: str) -> LateralFeature:
    """Return a feature at a station."""
    at_m = Decimal(station)
    return LateralFeature(Feature(kind, at_m), at_m, Decimal("0.1"), ())


def generated(seed: int, most_defects: int = 7) -> Case:
    """Return the case of a seed."""
    chance = random.Random(seed)
    length = chance.randrange(8, 30)
    defects = _defects(chance, length, chance.randrange(1, most_defects + 1))
    findings = graded(*((each.defect.ref, chance.choice([2, 3, 4, 5])) for each in defects))
    allowed = None if chance.random() < 0.6 else tuple(chance.sample(SURFACES, 3))
    policy = Policy(3, margin_m=Decimal(chance.choice(["0", "0.3", "0.6"])), dig_allowed_in=allowed)
    lateral = line(defects, str(length), features=_features(chance, length))
    lateral = _with_segments(chance, lateral, length)
    return Case(lateral, findings, _site(chance, length), policy)


def _defects(chance: random.Random, length: int, number: int) -> list[LateralDefect]:
    defects = []
    for index in range(number):
        at = Decimal(chance.randrange(length * 20)) / 20
        to = min(at + Decimal(chance.randrange(1, 60)) / 20, Decimal(length)) if chance.random() < 0.35 else None
        sd = chance.choice(["0", "0.1", "0.25"])
        soil = chance.random() < 0.1
        kind = chance.choice(KINDS)
        defects.append(found(f"d{index}", kind, str(at), None if to is None else str(to), sd, soil_seen=soil))
    return defects


def _features(chance: random.Random, length: int) -> list[LateralFeature]:
    kinds = ["connection", "joint", "joint", "trap", "size_change"]
    return [
        feature(chance.choice(kinds), str(Decimal(chance.randrange(length * 10)) / 10))
        for _ in range(chance.randrange(4))
    ]


def _with_segments(chance: random.Random, lateral: Lateral, length: int) -> Lateral:
    cut = Decimal(chance.randrange(1, length))
    first = chance.choice(["cast_iron", "vitrified_clay", "bituminous_fibre"])
    sizes = chance.choice([("101.6", "101.6"), ("101.6", "152.4")])
    segments = (
        Segment(Decimal(0), cut, first, Decimal(sizes[0])),
        Segment(cut, Decimal(length), "vitrified_clay", Decimal(sizes[1])),
    )
    return replace(lateral, segments=segments, datum=Access(chance.choice(["clean_out", "roof_vent"])))


def _site(chance: random.Random, length: int) -> Site:
    depths = tuple(
        Depth(Decimal(at), Decimal(chance.randrange(8, 45)) / 10, "invert")
        for at in sorted(chance.sample(range(length + 1), chance.randrange(4)))
    )
    cuts = sorted(chance.sample(range(1, length), 2))
    ends = [0, *cuts, length]
    surfaces = tuple(Surface(Decimal(first), Decimal(last), chance.choice(SURFACES)) for first, last in pairwise(ends))
    boundaries = (Boundary("building_wall", Decimal(1)), Boundary("property_line", Decimal(cuts[0])))
    return Site(boundaries, depths, surfaces, chance.choice([None, "B", "C"]))
