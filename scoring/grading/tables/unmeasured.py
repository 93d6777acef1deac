"""Grades where nothing was measured, which is usual with a push camera; 1 best to 5 worst.

Each line says where it comes from; what leans on no publication says "house rule".
"""

from typing import Any, Final, NamedTuple

from scoring.grading.tables.measured import HANDBOOK

_WIDTH: Final = f"after the crack widths of {HANDBOOK} (house rule)"
_BREAK: Final = f"{HANDBOOK}, break and collapse"
_JOINT: Final = "after Seattle Public Utilities, side sewers, joint offset (house rule)"
_DEFORMATION: Final = f"after the deformations of {HANDBOOK} (house rule)"
_OBSTACLE: Final = f"after the fixed obstacles of {HANDBOOK} (house rule)"
_DEPOSIT: Final = f"after the deposits of {HANDBOOK} (house rule)"
_LEAK: Final = f"{HANDBOOK}, visible leak"
_SOIL: Final = "ATV-M 149:1999, limits for acting at once: leak that brings soil in (restated)"
_CORROSION: Final = f"after the corrosion row of {HANDBOOK} (house rule)"
_SAG: Final = f"after {HANDBOOK} and Seattle Public Utilities, side sewers, sag (house rule)"
_HOUSE: Final = "house rule"
_SAFETY: Final = "house rule, safety: it may be a gas main bored through the drain"


class Look(NamedTuple):
    """One grade by what was seen; `when` empty: whatever else is said."""

    rule: str
    kinds: tuple[str, ...]
    aspect: str
    when: dict[str, Any]
    grade: int
    source: str


def _by_degree(rule: str, kinds: tuple[str, ...], aspect: str, source: str, **grades: int) -> tuple[Look, ...]:
    """One line per degree; `none` is the grade where no degree was given. Severe and heavy are one word."""
    same = {"none": [None], "severe": ["severe", "heavy"], "heavy": ["heavy", "severe"]}
    return tuple(
        Look(rule, kinds, aspect, {"degree": same.get(degree, [degree])}, grade, source)
        for degree, grade in grades.items()
    )


_DAMAGED_JOINT: Final = ("displaced_joint", "open_joint", "angular_joint")
_WORKMANSHIP: Final = ("lining_fault", "failed_repair", "faulty_connection")

LOOKS: Final = (
    Look("crack/seen", ("crack",), "structural", {}, 2, f"no gap to be seen: as 0.2 to 0.5 mm, {_WIDTH}"),
    Look("crack/several", ("crack",), "structural", {"pattern": ["multiple"]}, 3, _WIDTH),
    Look("crack/opening", ("crack",), "structural", {"opening": ["hairline"]}, 2, _WIDTH),
    Look("crack/opening", ("crack",), "structural", {"opening": ["visible"]}, 3, _WIDTH),
    Look("crack/opening", ("crack",), "structural", {"opening": ["open"]}, 4, _WIDTH),
    Look("fracture/seen", ("fracture",), "structural", {}, 3, f"gap to be seen: as 0.5 to 2 mm, {_WIDTH}"),
    Look("fracture/several", ("fracture",), "structural", {"pattern": ["multiple"]}, 4, _WIDTH),
    Look("broken/seen", ("broken",), "structural", {}, 4, _BREAK),
    Look("hole/seen", ("hole",), "structural", {}, 4, _BREAK),
    Look("collapse/seen", ("collapse",), "structural", {}, 5, _BREAK),
    *_by_degree("joint/degree", _DAMAGED_JOINT, "structural", _JOINT, slight=2, moderate=3, severe=4, none=3),
    *_by_degree(
        "deformation/degree",
        ("deformation",),
        "structural",
        _DEFORMATION,
        slight=2,
        moderate=3,
        severe=4,
        none=3,
    ),
    *_by_degree("roots/degree", ("roots",), "service", _OBSTACLE, hairs=2, bundles=3, plug=5, none=3),
    *_by_degree(
        "infiltration/degree",
        ("infiltration",),
        "service",
        _LEAK,
        damp=4,
        dripping=4,
        flowing=5,
        jetting=5,
    ),
    *_by_degree("infiltration/degree", ("infiltration",), "service", _HOUSE, none=4),
    Look("soil-ingress/seen", ("soil_ingress",), "service", {}, 5, _SOIL),
    Look("soil-ingress/seen", ("soil_ingress",), "structural", {}, 5, _SOIL),
    *_by_degree(
        "deposits/degree",
        ("wall_deposits", "bed_deposits"),
        "service",
        _DEPOSIT,
        slight=2,
        moderate=3,
        heavy=4,
        none=3,
    ),
    *_by_degree(
        "obstacle/degree",
        ("obstruction", "protruding_connection"),
        "service",
        _OBSTACLE,
        slight=2,
        moderate=3,
        severe=4,
        none=3,
    ),
    *_by_degree(
        "wear/degree",
        ("surface_wear", "corrosion"),
        "structural",
        _CORROSION,
        slight=2,
        general=3,
        missing=4,
        through=5,
        none=3,
    ),
    *_by_degree("workmanship/degree", _WORKMANSHIP, "structural", _HOUSE, slight=2, moderate=3, severe=4, none=3),
    *_by_degree("sag/degree", ("sag",), "service", _SAG, slight=1, moderate=3, severe=4, none=3),
    Look("foreign-line/seen", ("foreign_line",), "structural", {}, 5, _SAFETY),
)
