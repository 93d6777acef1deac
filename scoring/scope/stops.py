"""Where the seeing ended: what touches a stop is not known to its full extent, and no work there is complete."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scoring.scope.ground import ceil_um, floor_um
from scoring.types import Lateral

INCOMPLETE: Final = (
    "Incomplete: a run was stopped {where} and nobody saw on. How far the damage goes beyond is not known; what is"
    " given here ends where the seeing ended."
)
ASSUMED: Final = (
    "Where a run was stopped, quantities and prices end with the seeing: nothing beyond is counted, and the lateral is"
    " to be looked at again as soon as the way is free (house rule)."
)
LOOK_AGAIN: Final = (
    "It touches a place where a run was stopped: look again as soon as the way is free, before the repair there is"
    " closed, at the latest in a year."
)
BEYOND: Final = "Beyond the place where a run was stopped: not seen, so nothing is planned there."


@dataclass(frozen=True, slots=True)
class Stop:
    """A stretch no camera reached; None: nobody knows how far it goes on."""

    from_um: int | None
    to_um: int | None

    def touches(self, from_um: int, to_um: int) -> bool:
        """Say whether a stretch reaches this one."""
        is_before = self.from_um is not None and to_um < self.from_um
        return not is_before and not (self.to_um is not None and from_um > self.to_um)

    @property
    def words(self) -> str:
        """Where, as the flow goes."""
        if self.from_um is None:
            return "on its way up to the building"
        return "on its way down to the main" if self.to_um is None else "on both sides of a stretch"


def stops_of(lateral: Lateral) -> tuple[Stop, ...]:
    """Return the stretches of a lateral that no run reached, in order along the line."""
    found = [
        Stop(floor_um(each.from_m), None if each.to_m is None else ceil_um(each.to_m))
        for each in lateral.unseen
        if each.to_m is None or each.reason == "not_reached"
    ]
    if lateral.is_upstream_end_open and lateral.from_m is not None:
        found.insert(0, Stop(None, floor_um(lateral.from_m)))
    return tuple(found)


def stop_at(stops: Sequence[Stop], from_um: int, to_um: int) -> Stop | None:
    """Return the stop a stretch touches."""
    return next((stop for stop in stops if stop.touches(from_um, to_um)), None)
