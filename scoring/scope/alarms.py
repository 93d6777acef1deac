"""What must not wait for a reader to scroll."""

from typing import Final

from scoring.types import Alarm, Lateral, LateralDefect

FOREIGN_LINE: Final = (
    "A foreign line passes through the drain; it may be a gas main. No cutting, no jetting, no digging there: keep"
    " people away, call the gas emergency number and the utility."
)


def alarms_of(lateral: Lateral) -> tuple[Alarm, ...]:
    """Return an alarm for each foreign line and each collapse on the lateral, foreign lines first."""
    foreign = [_foreign(each) for each in lateral.defects if each.defect.kind == "foreign_line"]
    fallen = [_collapse(each) for each in lateral.defects if each.defect.kind == "collapse"]
    return (*foreign, *fallen)


def _foreign(each: LateralDefect) -> Alarm:
    return Alarm("foreign_line", FOREIGN_LINE, each.station_m, each.defect.ref)


def _collapse(each: LateralDefect) -> Alarm:
    detail = "The pipe has collapsed: the ground above may give way. Keep heavy loads off it until it is dug up."
    return Alarm("imminent_collapse", detail, each.station_m, each.defect.ref)
