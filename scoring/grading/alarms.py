"""What must not wait for a reader to scroll: a foreign line, a pipe about to fall in."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Final

from scoring.types import Alarm, Defect

FOREIGN_LINE_CAUTION: Final = (
    "A line passes through the drain; it may be a gas main. No cutting, no jetting, and no digging by anyone but the "
    "utility; keep people away, call the gas emergency number and the utility."
)
_COLLAPSE_CAUTION: Final = (
    "Keep people and loads off the ground above, do not jet or cut, and have a competent person look at it now."
)
# ATV-M 149:1999, limits for acting at once, flexible pipe (restated)
_LOST_SHAPE_PERCENT: Final = Decimal(40)


# What can raise an alarm at all; nothing else is looked at.
ALARMING_KINDS: Final = frozenset(
    {"foreign_line", "collapse", "deformation", "broken", "hole", "corrosion", "surface_wear"}
)


def alarms(defects: Iterable[Defect], *, is_placed: bool = True) -> tuple[Alarm, ...]:
    """Return at most one alarm per finding, in the order given; position None where it is not placed."""
    raised: list[Alarm] = []
    for defect in defects:
        if defect.kind not in ALARMING_KINDS:
            continue
        at_m = defect.at_m if is_placed else None
        if defect.kind == "foreign_line":
            raised.append(Alarm("foreign_line", FOREIGN_LINE_CAUTION, at_m, defect.ref))
        elif reason := _collapse_reason(defect):
            detail = f"Imminent collapse: {reason}. {_COLLAPSE_CAUTION}"
            raised.append(Alarm("imminent_collapse", detail, at_m, defect.ref))
    return tuple(raised)


def _collapse_reason(defect: Defect) -> str | None:
    """Why the pipe may fall in at any time, or None.

    House rule: the pipe has lost its shape or a part of its wall and the ground that bedded it is moving.
    """
    ground = "soil" if defect.soil_seen else "a void"
    is_ground_seen = defect.soil_seen or defect.void_seen
    if defect.kind == "collapse":
        return "the pipe has collapsed"
    if defect.kind == "deformation" and defect.percent is not None and defect.percent > _LOST_SHAPE_PERCENT:
        return f"deformed by {defect.percent:f} % of the diameter, over 40 %"
    if defect.kind in ("broken", "hole", "deformation") and is_ground_seen:
        return f"{defect.kind} with {ground} to be seen behind it"
    if defect.kind in ("corrosion", "surface_wear") and defect.degree == "through" and is_ground_seen:
        return f"the wall is gone and {ground} is to be seen"
    return None
