"""The stretches of a line that no section of a method may enter, and the zones that are left between them."""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from scoring.scope.ground import Ground, ceil_um, floor_um
from scoring.scope.limits import IRON, is_too_oval, reach_um
from scoring.scope.methods import Method
from scoring.types import Defect, Lateral, Policy, Site

INSIDE_REACH_M: Final = Decimal("1.524")
TRAP_REACH_M: Final = Decimal("0.9144")
LINER_SIZE_MM: Final = (Decimal("76.2"), Decimal("304.8"))


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch, or a single point, that no section of a method may have inside it."""

    from_um: int
    to_um: int
    limit: str
    what: str


@dataclass(frozen=True, slots=True)
class Place:
    """What the limits look at: the line with its ground, site and policy."""

    lateral: Lateral
    ground: Ground
    site: Site
    policy: Policy


def blocks(method: Method, place: Place) -> list[Block]:
    """Return every stretch a method may not enter, in order along the line."""
    found: list[Block] = []
    for name in method.limits:
        if name in _BLOCKS:
            found.extend(_BLOCKS[name](place, name))
    return sorted(found, key=lambda block: (block.from_um, block.to_um, block.limit))


def _near_defects(place: Place, limit: str, is_cause: Callable[[Defect], bool], clear_um: int) -> list[Block]:
    found = []
    for each in place.lateral.defects:
        reach = reach_um(each) if is_cause(each.defect) else None
        if reach is not None:
            what = f"Here: {each.defect.kind.replace('_', ' ')} {each.defect.ref}."
            found.append(Block(reach[0] - clear_um, reach[1] + clear_um, limit, what))
    return found


def _collapses(place: Place, limit: str) -> list[Block]:
    return _near_defects(place, limit, lambda defect: defect.kind == "collapse", 0)


def _ovals(place: Place, limit: str) -> list[Block]:
    return _near_defects(place, limit, is_too_oval, 0)


def _materials(is_cause: Callable[[str], bool]) -> Callable[[Place, str], list[Block]]:
    def find(place: Place, limit: str) -> list[Block]:
        return [
            Block(cell.from_um, cell.to_um, limit, f"Here: {cell.material}.")
            for cell in place.ground.cells
            if is_cause(cell.material)
        ]

    return find


def _traps(place: Place, limit: str) -> list[Block]:
    return [Block(at, at, limit, "Here: a trap.") for at in trap_stations_um(place.lateral)]


def trap_stations_um(lateral: Lateral) -> list[int]:
    """Return where traps lie."""
    stations = [each.station_m for each in lateral.features if each.feature.kind == "trap"]
    return sorted(floor_um(station) for station in stations if station is not None)


def _size_changes(place: Place, limit: str) -> list[Block]:
    cells = place.ground.cells
    found = {after.from_um for before, after in itertools.pairwise(cells) if before.diameter_mm != after.diameter_mm}
    for each in place.lateral.features:
        if each.feature.kind == "size_change" and each.station_m is not None:
            found.add(floor_um(each.station_m))
    return [Block(at, at, limit, "Here: the size changes.") for at in sorted(found)]


def _liner_sizes(place: Place, limit: str) -> list[Block]:
    least, most = LINER_SIZE_MM
    return [
        Block(cell.from_um, cell.to_um, limit, f"Here: {cell.diameter_mm.normalize():f} mm.")
        for cell in place.ground.cells
        if not least <= cell.diameter_mm <= most
    ]


def inside_stretches(place: Place) -> list[tuple[int, int]]:
    """Return where the line lies under the building: upstream of its wall, and under any slab."""
    ground = place.ground
    found = [(cell.from_um, cell.to_um) for cell in ground.cells if cell.surface == "building_slab"]
    walls = [floor_um(each.station_m) for each in place.site.boundaries if each.kind == "building_wall"]
    if walls and min(max(walls), ground.to_um) > ground.from_um:
        found.append((ground.from_um, min(max(walls), ground.to_um)))
    return _joined(found)


def _inside(place: Place, limit: str) -> list[Block]:
    return [Block(first, last, limit, "") for first, last in inside_stretches(place)]


def _outside(place: Place, limit: str) -> list[Block]:
    reach = ceil_um(INSIDE_REACH_M)
    inside = [(first - reach, last + reach) for first, last in inside_stretches(place)]
    return _complement(inside, place, limit)


def _away_from_traps(place: Place, limit: str) -> list[Block]:
    reach = ceil_um(TRAP_REACH_M)
    near = [(at - reach, at + reach) for at in trap_stations_um(place.lateral)]
    return _complement(near, place, limit)


def _complement(allowed: Sequence[tuple[int, int]], place: Place, limit: str) -> list[Block]:
    start, end = place.ground.from_um, place.ground.to_um
    found, at = [], start
    for first, last in _joined(allowed):
        if first > at:
            found.append(Block(at, min(first, end), limit, ""))
        at = max(at, last)
    if at < end:
        found.append(Block(at, end, limit, ""))
    return found


def _joined(stretches: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for first, last in sorted(stretches):
        if joined and first <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], last))
        else:
            joined.append((first, last))
    return joined


def _no_digging(place: Place, limit: str) -> list[Block]:
    return [Block(first, last, limit, f"Here: {surface}.") for first, last, surface in _closed_surfaces(place)]


def _closed_surfaces(place: Place) -> list[tuple[int, int, str]]:
    allowed = place.policy.dig_allowed_in
    return [
        (cell.from_um, cell.to_um, cell.surface)
        for cell in place.ground.cells
        if allowed is not None and cell.surface not in allowed
    ]


def pit_stretches(place: Place) -> list[tuple[int, int]]:
    """Return where a pit may be dug for the end of a burst."""
    allowed = place.policy.dig_allowed_in
    return _joined(
        [
            (cell.from_um, cell.to_um)
            for cell in place.ground.cells
            if cell.surface != "building_slab" and (allowed is None or cell.surface in allowed)
        ]
    )


_BLOCKS: Final[dict[str, Callable[[Place, str], list[Block]]]] = {
    "collapse_blocks": _collapses,
    "fibre_pipe": _materials(lambda material: material == "bituminous_fibre"),
    "not_iron": _materials(lambda material: material not in IRON),
    "ductile_iron": _materials(lambda material: material == "ductile_iron"),
    "inside_building": _inside,
    "outside_building": _outside,
    "dig_not_allowed": _no_digging,
    "through_trap": _traps,
    "size_change": _size_changes,
    "ovality": _ovals,
    "liner_size": _liner_sizes,
    "away_from_trap": _away_from_traps,
}


def zones(place: Place, found: Sequence[Block]) -> list[tuple[int, int]]:
    """Return the stretches between the blocks, each at least a point long; empty: nowhere."""
    free, at = [], place.ground.from_um
    for block in found:
        if block.to_um < place.ground.from_um or block.from_um > place.ground.to_um:
            continue
        if block.from_um > at:
            free.append((at, min(block.from_um, place.ground.to_um)))
        at = max(at, block.to_um)
    if at < place.ground.to_um:
        free.append((at, place.ground.to_um))
    return free


def blocking(found: Sequence[Block], from_um: int, to_um: int) -> list[Block]:
    """Return the blocks that a stretch has inside it."""
    return [block for block in found if block.from_um < to_um and block.to_um > from_um]
