"""Measure -> class for small pipes, 1 worst and 5 least, as published.

A value two published ranges share takes the worse class (house rule), so a shared limit stands here
as `from` of the worse band and `below` of the better; "<" and ">" of the source are strict.
"""

from decimal import Decimal
from typing import Any, Final, NamedTuple

HANDBOOK: Final = "Stein & Partner, Instandhaltung von Kanalisationen, 2001, ch. 4.7.4.3.1"
_SMALL: Final = f"{HANDBOOK}; nominal size unknown: as below 300 mm (house rule, laterals are small)"
_LARGE: Final = f"{HANDBOOK}; band 300 to 600 mm, larger pipes graded by it too (house rule)"
_AS_OBSTACLE: Final = f"{HANDBOOK}, fixed obstacle; applied to roots by house rule"
_AS_CRACK: Final = f"{HANDBOOK}, crack width; a fracture is measured as a crack (house rule)"


class Scale(NamedTuple):
    """The bands of one measure of one or several kinds; `only` holds further conditions of every band."""

    rule: str
    kinds: tuple[str, ...]
    aspect: str
    measure: str
    bands: tuple[tuple[dict[str, Any], int], ...]
    source: str
    only: dict[str, Any] = {}


def _below(high: str, grade: int) -> tuple[dict[str, Any], int]:
    return {"below": Decimal(high)}, grade


def _shared(low: str, high: str, grade: int) -> tuple[dict[str, Any], int]:
    return {"from": Decimal(low), "below": Decimal(high)}, grade


def _last(low: str, high: str, grade: int) -> tuple[dict[str, Any], int]:
    return {"from": Decimal(low), "to": Decimal(high)}, grade


def _above(low: str, grade: int) -> tuple[dict[str, Any], int]:
    return {"above": Decimal(low)}, grade


_CRACK_WIDTH: Final = (
    _below("0.2", 5),
    _shared("0.2", "0.5", 4),
    _shared("0.5", "2", 3),
    _last("2", "5", 2),
    _above("5", 1),
)
_OBSTACLE: Final = (_below("5", 4), _shared("5", "15", 3), _last("15", "30", 2), _above("30", 1))

SCALES: Final = (
    Scale("crack/width", ("crack",), "structural", "width_mm", _CRACK_WIDTH, HANDBOOK),
    Scale("fracture/width", ("fracture",), "structural", "width_mm", _CRACK_WIDTH, _AS_CRACK),
    Scale(
        "displaced-joint/offset-below-300",
        ("displaced_joint",),
        "structural",
        "offset_mm",
        (_below("10", 4), _last("10", "20", 3), _above("20", 2)),
        _SMALL,
        {"size_mm": {"below": Decimal(300), "or_unknown": True}},
    ),
    Scale(
        "displaced-joint/offset-from-300",
        ("displaced_joint",),
        "structural",
        "offset_mm",
        (_below("10", 5), _shared("10", "20", 4), _last("20", "30", 3), _above("30", 2)),
        _LARGE,
        {"size_mm": {"from": Decimal(300)}},
    ),
    Scale(
        "sag/depth",
        ("sag",),
        "service",
        "percent",
        (_below("10", 5), _shared("10", "25", 4), _last("25", "50", 3), _above("50", 2)),
        HANDBOOK,
    ),
    Scale(
        "roots/thickness-in-joint",
        ("roots",),
        "service",
        "thickness_mm",
        (
            _below("1", 5),
            _shared("1", "5", 4),
            _shared("5", "10", 3),
            _last("10", "20", 2),
            _above("20", 1),
        ),
        HANDBOOK,
        {"at_joint": True},
    ),
    Scale(
        "roots/thickness-in-crack",
        ("roots",),
        "service",
        "thickness_mm",
        (_below("5", 3), _last("5", "10", 2), _above("10", 1)),
        f"{HANDBOOK}; roots not said to be at a joint are taken as in a crack (house rule)",
        {"at_joint": False},
    ),
    Scale("roots/section", ("roots",), "service", "percent", _OBSTACLE, _AS_OBSTACLE),
    Scale(
        "deposits/section",
        ("wall_deposits", "bed_deposits"),
        "service",
        "percent",
        (_below("10", 4), _shared("10", "25", 3), _last("25", "50", 2), _above("50", 1)),
        HANDBOOK,
    ),
    Scale(
        "obstacle/section",
        ("obstruction", "protruding_connection"),
        "service",
        "percent",
        _OBSTACLE,
        HANDBOOK,
    ),
    Scale(
        "wear/thickness",
        ("surface_wear",),
        "structural",
        "thickness_mm",
        (_below("10", 3), _last("10", "30", 2), _above("30", 1)),
        HANDBOOK,
    ),
    Scale(
        "deformation/percent",
        ("deformation",),
        "structural",
        "percent",
        (_below("5", 4), _last("5", "10", 3), _above("10", 2)),
        HANDBOOK,
    ),
)
