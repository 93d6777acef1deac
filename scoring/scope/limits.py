"""Where a method does not fit, and why: each limit a row with its source, each refusal naming its limit.

Here: the rows, and what rules a method out for one defect. Stretches no section may enter are in `blocks`.
"""

from collections.abc import Callable
from decimal import Decimal
from typing import Final

from scoring.scope.cures import JOINT_KINDS, STRUCTURAL_KINDS
from scoring.scope.ground import ceil_um, floor_um
from scoring.scope.methods import Method
from scoring.scope.types import Refusal
from scoring.types import Defect, LateralDefect, Policy

LIMITS: Final[dict[str, tuple[str, str]]] = {
    "foreign_line": (
        "A foreign line passes through the pipe: nothing is cut, jetted, lined or dug until its owner has removed it.",
        "house rule, safety",
    ),
    "collapse_blocks": ("Nothing can be drawn through a collapse.", "common practice, no source"),
    "fibre_pipe": ("Bituminous fibre pipe is replaced.", "Ann Arbor MI"),
    "scale_in_iron": ("Scale in iron pipe takes descaling.", "common practice, no source"),
    "not_iron": ("Descaling tools break pipe that is not iron.", "common practice, no source"),
    "inside_building": (
        "Under the building nothing is dug or burst from outside.",
        "common practice, no source: nothing under a building in several programmes",
    ),
    "outside_building": (
        "Replacement inside the building ends 5 ft (1.5 m) outside its wall.",
        "house rule, after programmes that start 3 to 5 ft outside the wall",
    ),
    "dig_not_allowed": ("The policy does not allow digging in this surface.", "policy"),
    "pit_not_allowed": ("The policy does not allow the pits bursting needs there.", "policy"),
    "through_trap": ("A liner or burst head does not pass a trap.", "common practice, no source"),
    "size_change": ("A liner does not pass a change of size.", "common practice, no source"),
    "ovality": (
        "More than 10 % deformation is outside most liners.",
        "restated in several public specifications: 5 to 10 %",
    ),
    "liner_size": ("Lateral liners are made for 3 to 12 in (76.2 to 304.8 mm).", "ASTM F2561"),
    "soil_or_void": (
        "A liner does not cure a structural defect with soil or a void showing unless it is dug up first.",
        "common practice, no source",
    ),
    "severe_joint": ("A severely offset or bent joint stops a liner from seating.", "house rule"),
    "ductile_iron": ("Ductile iron does not burst.", "common practice, no source"),
    "away_from_trap": ("Trap removal reaches 3 ft (0.914 m) either side of a trap.", "house rule"),
    "does_not_cure": ("The method does not cure this kind of defect.", "method table"),
    "sag_not_cured": (
        "The new pipe follows the old grade: a sag stays.",
        "common practice, no source",
    ),
    "no_access": (
        "The method needs a clean-out; none is known and none can be put in where the ground may be opened.",
        "common practice, no source",
    ),
    "minimum_length": ("The free stretch is shorter than the least the method is made for.", "rate book"),
    "no_room": ("The method has no stretch here to work on.", "house rule"),
    "rule_set": ("The rule set does not allow this method.", "rule set"),
    "policy": ("The policy leaves this method out.", "policy"),
    "position_unknown": ("Nothing ties the run to the datum, so the station is unknown.", "reconciliation"),
}

MAX_OVALITY_PERCENT: Final = Decimal(10)
IRON: Final = ("cast_iron", "ductile_iron")
_FOLLOWS_GRADE: Final = ("full_liner", "sectional_liner", "pipe_bursting")


def refusal(method: str, limit: str, what: str = "") -> Refusal:
    """Return a refusal in the words of the limit's row, with what was found."""
    text, source = LIMITS[limit]
    return Refusal(method, limit, f"{text} {what}".strip(), source)


def defect_refusals(method: Method, defect: Defect, material: str, policy: Policy) -> list[Refusal]:
    """Return why a method does not cure one defect, whatever lies around it; empty: it does."""
    if policy.methods is not None and method.name not in policy.methods:
        return [refusal(method.name, "policy")]
    if defect.kind == "sag" and method.name in _FOLLOWS_GRADE:
        return [refusal(method.name, "sag_not_cured")]
    if defect.kind not in method.cures:
        return [refusal(method.name, "does_not_cure", f"Here: {defect.kind}.")]
    limits = [name for name in method.limits if name in _DEFECT_LIMITS]
    return [refusal(method.name, name) for name in limits if _DEFECT_LIMITS[name](defect, material)]


def _soil_or_void(defect: Defect, material: str) -> bool:
    has_leak = defect.kind in ("infiltration", "soil_ingress")
    return (defect.soil_seen or defect.void_seen) and (defect.kind in STRUCTURAL_KINDS or has_leak)


def _severe_joint(defect: Defect, material: str) -> bool:
    return defect.kind in JOINT_KINDS and defect.degree == "severe"


def _scale_in_iron(defect: Defect, material: str) -> bool:
    return defect.kind == "wall_deposits" and material in IRON


def is_too_oval(defect: Defect) -> bool:
    """Say whether a deformation is outside what liners bear: over 10 %, or called severe unmeasured."""
    if defect.kind != "deformation":
        return False
    if defect.percent is not None:
        return defect.percent > MAX_OVALITY_PERCENT
    return defect.degree == "severe"


_DEFECT_LIMITS: Final[dict[str, Callable[[Defect, str], bool]]] = {
    "soil_or_void": _soil_or_void,
    "severe_joint": _severe_joint,
    "scale_in_iron": _scale_in_iron,
}


def reach_um(found: LateralDefect, doubts: int = 2) -> tuple[int, int] | None:
    """Return where a defect may lie: its stations widened by 2 standard deviations (`doubts`); None: unknown."""
    if found.station_m is None:
        return None
    doubt = doubts * (found.station_sd_m or Decimal(0))
    last = found.to_station_m if found.to_station_m is not None else found.station_m
    return floor_um(min(found.station_m, last) - doubt), ceil_um(max(found.station_m, last) + doubt)
