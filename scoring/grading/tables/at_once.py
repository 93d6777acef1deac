"""What is graded worst whatever else was found: limits for acting at once, soil or a void to be seen."""

from decimal import Decimal
from typing import Any, Final, NamedTuple

from scoring.grading.kinds import SERVICE_KINDS, STRUCTURAL_KINDS

_ATV: Final = "ATV-M 149:1999, limits for acting at once (restated)"
_BFR: Final = "German federal guide BFR Abwasser A-3.1.6: soil or a void visible is acted on at once"
_OPEN_WALL: Final = f"{_BFR}; ground that shows means the wall is open, so structural too (house rule)"
_SERVICE_ONLY: Final = tuple(kind for kind in SERVICE_KINDS if kind != "soil_ingress")


class AtOnce(NamedTuple):
    """One condition that makes a finding worst by itself."""

    rule: str
    kinds: tuple[str, ...]
    aspect: str
    when: dict[str, Any]
    source: str


def _over(measure: str, limit: int) -> dict[str, Any]:
    return {"measure": measure, "range": {"above": Decimal(limit)}}


AT_ONCE: Final = (
    AtOnce("at-once/crack-width", ("crack", "fracture"), "structural", _over("width_mm", 10), _ATV),
    AtOnce("at-once/roots-section", ("roots",), "service", _over("percent", 30), _ATV),
    AtOnce(
        "at-once/crust-section",
        ("wall_deposits",),
        "service",
        _over("percent", 30),
        f"{_ATV}; any deposit on the wall is taken for a crust (house rule)",
    ),
    AtOnce("at-once/deposit-section", ("wall_deposits", "bed_deposits"), "service", _over("percent", 50), _ATV),
    AtOnce(
        "at-once/obstacle-section",
        ("obstruction", "protruding_connection"),
        "service",
        _over("percent", 50),
        _ATV,
    ),
    AtOnce(
        "at-once/deformation",
        ("deformation",),
        "structural",
        _over("percent", 40),
        f"{_ATV}, flexible pipe; a rigid pipe deformed that far has broken up and is no better (house rule)",
    ),
    AtOnce(
        "at-once/break-size",
        ("broken", "hole"),
        "structural",
        _over("width_mm", 50),
        f"{_ATV}, break over 5 cm",
    ),
    AtOnce(
        "at-once/wall-through",
        ("corrosion", "surface_wear"),
        "structural",
        {"degree": ["through"]},
        f"{_ATV}, wall corroded through",
    ),
    AtOnce(
        "at-once/leak-with-soil",
        ("infiltration",),
        "service",
        {"soil_seen": True},
        f"{_ATV}, leak that brings soil in",
    ),
    AtOnce("at-once/soil-seen", STRUCTURAL_KINDS, "structural", {"soil_seen": True}, _BFR),
    AtOnce("at-once/void-seen", STRUCTURAL_KINDS, "structural", {"void_seen": True}, _BFR),
    AtOnce("at-once/soil-seen", _SERVICE_ONLY, "service", {"soil_seen": True}, _BFR),
    AtOnce("at-once/void-seen", _SERVICE_ONLY, "service", {"void_seen": True}, _BFR),
    AtOnce("at-once/soil-seen", _SERVICE_ONLY, "structural", {"soil_seen": True}, _OPEN_WALL),
    AtOnce("at-once/void-seen", _SERVICE_ONLY, "structural", {"void_seen": True}, _OPEN_WALL),
)
