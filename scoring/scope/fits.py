"""Every method on one line: what it asks there, and where it may not go."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from scoring.scope.bill import set_up_price
from scoring.scope.blocks import Block, Place, blocks, pit_stretches, zones
from scoring.scope.curve import Curve
from scoring.scope.ground import ceil_um, floor_um, metres_of
from scoring.scope.methods import BY_NAME, CURING, Method
from scoring.scope.offer import Offer
from scoring.scope.paid_once import DIGGING_LEADS
from scoring.scope.rows import UNIT
from scoring.scope.takeoff import LINING, Takeoff
from scoring.types import Lateral
from scoring.units import FOOT_M

JOINT_REACH_M: Final = Decimal("1.524")
# Cannot be made shorter than their minimum: where there is less room they are refused. What is dug or cleaned can
# be, at the price of the minimum.
_NEEDS_ROOM: Final = (*LINING, "pipe_bursting")


@dataclass(frozen=True, slots=True)
class Fit:
    """One method on this line: its offer and where it may not go."""

    method: Method
    offer: Offer
    blocks: list[Block]


def fits_of(place: Place, takeoff: Takeoff) -> dict[str, Fit]:
    """Return every method that cures, as it fits this line."""
    joints = _joints_um(place.lateral)
    return {method.name: _fit(method, place, takeoff, joints) for method in CURING}


def _fit(method: Method, place: Place, takeoff: Takeoff, joints: tuple[int, ...]) -> Fit:
    least_um = ceil_um(takeoff.book.methods[method.name].minimum_length_m)
    found = blocks(method, place)
    if method.name in _NEEDS_ROOM:
        found = sorted([*found, *_short(zones(place, found), least_um)], key=lambda block: block.from_um)
    offer = Offer(
        method=method.name,
        set_up=set_up_price(takeoff, method),
        work=takeoff.curve(method),
        surface=takeoff.restoration_curve(method),
        cut_back_um=ceil_um(takeoff.book.trench.cut_back_m),
        minimum_um=least_um,
        zones=zones(place, found),
        ends=pit_stretches(place) if method.name == "pipe_bursting" else None,
        joints=joints if method.name == "spot_repair" else (),
        joint_reach_um=ceil_um(JOINT_REACH_M),
        short_rate=takeoff.least_length_rate(method, "likely"),
    )
    return Fit(method, offer, found)


def _short(free: Sequence[tuple[int, int]], least_um: int) -> list[Block]:
    """Return the stretches between other blocks that are shorter than a method's minimum length."""
    return [
        Block(first, last, "minimum_length", f"Here: {_both(last - first)} free, {_both(least_um)} at least.")
        for first, last in free
        if last - first < least_um
    ]


def _both(length_um: int) -> str:
    length_m = metres_of(length_um)
    return f"{_shown(length_m / FOOT_M)} ft ({_shown(length_m)} m)"


def _shown(number: Decimal) -> str:
    return f"{number.quantize(Decimal('0.01')).normalize():f}"


def _joints_um(lateral: Lateral) -> tuple[int, ...]:
    stations = [each.station_m for each in lateral.features if each.feature.kind == "joint"]
    return tuple(sorted({floor_um(station) for station in stations if station is not None}))


def by_digging(offer: Offer, takeoff: Takeoff) -> Offer:
    """Return an offer whose price counts the volume dug first and the money second."""
    method = BY_NAME[offer.method]
    dug = takeoff.dug_curve(method)
    rates = [volume * DIGGING_LEADS + rate for volume, rate in zip(dug.rates, offer.work.rates, strict=True)]
    steps = [(at, int(takeoff.book.connection.likely * UNIT)) for at in offer.work.steps]
    pits = int(2 * takeoff.pit_m3("likely") * 10**12) if method.name == "pipe_bursting" else 0
    work = Curve(offer.work.marks, rates, steps)
    return replace(offer, set_up=offer.set_up + pits * DIGGING_LEADS, work=work)
