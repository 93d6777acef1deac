"""The line cut into cells within which everything that sets a price is even: depth, surface, size, material.

Positions are whole micrometres (`_um`), so that the search for the cheapest plan works in integers. The cells
depend on the line and its site only, never on the defects: a plan's price does not change with what else was found.
"""

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Final

from scoring.scope.types import Scenario, Span
from scoring.types import Depth, Lateral, Segment, Site

UM: Final = 1_000_000
ASSUMED_DEPTH_M: Final = Span(Decimal("0.9144"), Decimal("1.524"), Decimal("2.4384"))  # 3, 5, 8 ft: house rule
DOUBT_BEYOND: Final = Decimal("0.2")  # of the depth carried on past the last one measured: house rule
ASSUMED_DIAMETER_MM: Final = Decimal("101.6")
ASSUMED_SURFACE: Final = "lawn"
_CELLS_PER_LINE: Final = 60
_SMALLEST_CELL_UM: Final = UM // 2


@dataclass(frozen=True, slots=True)
class Cell:
    """A stretch of even conditions. `depth` gives the invert's depth at both ends for each scenario."""

    from_um: int
    to_um: int
    depths_m: dict[Scenario, tuple[Decimal, Decimal]]
    surface: str
    diameter_mm: Decimal
    material: str


@dataclass(frozen=True, slots=True)
class Ground:
    """The line, its cells in order without gaps, and what had to be assumed about it."""

    from_um: int
    to_um: int
    cells: tuple[Cell, ...]
    assumptions: tuple[str, ...]

    @property
    def marks(self) -> list[int]:
        """The cells' ends."""
        return [cell.from_um for cell in self.cells] + [self.to_um]

    def at(self, position_um: int) -> Cell:
        """Return the cell at a position (downstream cell at a mark)."""
        index = bisect_right([cell.from_um for cell in self.cells], position_um) - 1
        return self.cells[max(0, index)]

    def cells_between(self, from_um: int, to_um: int) -> list[Cell]:
        """Return the cells a stretch touches, at least one."""
        touched = [cell for cell in self.cells if cell.from_um < to_um and cell.to_um > from_um]
        return touched or [self.at(from_um)]

    def depth_m(self, position_um: int, scenario: Scenario) -> Decimal:
        """Return the depth of the invert at a position."""
        cell = self.at(min(max(position_um, self.from_um), self.to_um - 1))
        first, last = cell.depths_m[scenario]
        share = Decimal(position_um - cell.from_um) / Decimal(cell.to_um - cell.from_um)
        return first + (last - first) * min(max(share, Decimal(0)), Decimal(1))


def floor_um(length_m: Decimal) -> int:
    """Return whole micrometres, rounded toward the building."""
    return int((length_m * UM).to_integral_value(rounding=ROUND_FLOOR))


def ceil_um(length_m: Decimal) -> int:
    """Return whole micrometres, rounded toward the main."""
    return int((length_m * UM).to_integral_value(rounding=ROUND_CEILING))


def metres_of(position_um: int) -> Decimal:
    """Return micrometres as metres, exactly."""
    return Decimal(position_um) / UM


def survey_ground(lateral: Lateral, site: Site) -> Ground:
    """Cut the line into cells. The lateral must have an extent (`from_m` < `to_m`)."""
    if lateral.from_m is None or lateral.to_m is None:
        raise ValueError("a lateral without an extent has no ground to survey")
    from_um, to_um = floor_um(lateral.from_m), ceil_um(lateral.to_m)
    pipes = _PipeLine(merged(lateral.segments), from_um, to_um)
    depths = _DepthLine(site.depths, pipes)
    marks = _marks(from_um, to_um, site, pipes, depths)
    cells = tuple(_cell(first, last, site, pipes, depths) for first, last in itertools.pairwise(marks))
    return Ground(from_um, to_um, cells, _assumptions(cells, site, pipes, depths))


def merged(segments: Sequence[Segment]) -> list[Segment]:
    """Join neighbours of one size and material, so that splitting a segment changes nothing."""
    joined: list[Segment] = []
    for segment in sorted(segments, key=lambda each: (each.from_m, each.to_m)):
        last = joined[-1] if joined else None
        if last and last.to_m == segment.from_m and _alike(last, segment):
            joined[-1] = Segment(last.from_m, segment.to_m, last.material, last.diameter_mm, last.joint_spacing_m)
        else:
            joined.append(segment)
    return joined


def _alike(one: Segment, other: Segment) -> bool:
    return (one.material, one.diameter_mm, one.joint_spacing_m) == (
        other.material,
        other.diameter_mm,
        other.joint_spacing_m,
    )


class _PipeLine:
    """Size and material along the line, with the assumed size where none is known."""

    def __init__(self, segments: Sequence[Segment], from_um: int, to_um: int) -> None:
        self.pieces = [(floor_um(each.from_m), ceil_um(each.to_m), each) for each in segments]
        covered = sum(max(0, min(to_um, last) - max(from_um, first)) for first, last, _ in self.pieces)
        self.has_gap = covered < to_um - from_um
        self.has_unknown_size = self.has_gap or any(each.diameter_mm is None for each in segments)
        self.has_unknown_material = self.has_gap or any(each.material in (None, "unknown") for each in segments)

    def at(self, position_um: int) -> tuple[Decimal, str]:
        for first, last, segment in self.pieces:
            if first <= position_um < last:
                return segment.diameter_mm or ASSUMED_DIAMETER_MM, segment.material or "unknown"
        return ASSUMED_DIAMETER_MM, "unknown"


class _DepthLine:
    """Depth of the invert along the line: even between measured points, level beyond them."""

    def __init__(self, depths: Sequence[Depth], pipes: _PipeLine) -> None:
        self.points = sorted((floor_um(each.station_m), self._to_invert(each, pipes)) for each in depths)
        self.stations = [station for station, _ in self.points]

    def _to_invert(self, depth: Depth, pipes: _PipeLine) -> Decimal:
        if depth.to == "invert":
            return depth.depth_m
        return depth.depth_m + pipes.at(floor_um(depth.station_m))[0] / 1000

    @property
    def varies(self) -> bool:
        return len({depth for _, depth in self.points}) > 1

    def covers(self, from_um: int, to_um: int) -> bool:
        """Say whether a stretch lies between measured depths."""
        return self.stations[0] <= from_um and to_um <= self.stations[-1]

    def at(self, position_um: int) -> Decimal:
        index = bisect_right(self.stations, position_um)
        if index == 0:
            return self.points[0][1]
        if index == len(self.points):
            return self.points[-1][1]
        (first, before), (last, after) = self.points[index - 1], self.points[index]
        return before + (after - before) * Decimal(position_um - first) / Decimal(last - first)


def _marks(from_um: int, to_um: int, site: Site, pipes: _PipeLine, depths: _DepthLine) -> list[int]:
    marks = {from_um, to_um}
    marks.update(floor_um(boundary.station_m) for boundary in site.boundaries)
    marks.update(floor_um(end) for surface in site.surfaces for end in (surface.from_m, surface.to_m))
    marks.update(end for first, last, _ in pipes.pieces for end in (first, last))
    marks.update(depths.stations)
    if depths.varies:
        step = max(_SMALLEST_CELL_UM, (to_um - from_um) // _CELLS_PER_LINE)
        marks.update(range(from_um, to_um, step))
    return sorted(mark for mark in marks if from_um <= mark <= to_um)


def _cell(first: int, last: int, site: Site, pipes: _PipeLine, depths: _DepthLine) -> Cell:
    diameter_mm, material = pipes.at(first)
    return Cell(first, last, _cell_depths(first, last, depths), surface_at(site, first), diameter_mm, material)


def _cell_depths(first: int, last: int, depths: _DepthLine) -> dict[Scenario, tuple[Decimal, Decimal]]:
    if not depths.points:
        low, likely, high = ASSUMED_DEPTH_M.low, ASSUMED_DEPTH_M.likely, ASSUMED_DEPTH_M.high
        return {"low": (low, low), "likely": (likely, likely), "high": (high, high)}
    start, end = depths.at(first), depths.at(last)
    if depths.covers(first, last):
        return {"low": (start, end), "likely": (start, end), "high": (start, end)}
    less, more = 1 - DOUBT_BEYOND, 1 + DOUBT_BEYOND
    return {"low": (start * less, end * less), "likely": (start, end), "high": (start * more, end * more)}


def surface_at(site: Site, position_um: int) -> str:
    """Return what lies on top at a position; the first surface given wins, lawn where none is."""
    for surface in site.surfaces:
        if floor_um(surface.from_m) <= position_um < floor_um(surface.to_m):
            return surface.kind
    return ASSUMED_SURFACE


def _assumptions(cells: Sequence[Cell], site: Site, pipes: _PipeLine, depths: _DepthLine) -> tuple[str, ...]:
    said = []
    if not depths.points:
        said.append(
            "No depth was measured: 5 ft (1.524 m) to the invert taken, 3 to 8 ft (0.914 to 2.438 m)"
            " as the range (house rule)."
        )
    elif depths.stations[0] > cells[0].from_um or depths.stations[-1] < cells[-1].to_um:
        said.append(
            "Beyond the first and last measured depth the depth there is carried on, a fifth less and more as the"
            " range (house rule)."
        )
    if _has_bare_ground(cells, site):
        said.append("Where no surface was given, lawn is taken (house rule).")
    if pipes.has_unknown_size:
        said.append("Where the pipe's size is not known, 4 in (101.6 mm) is taken (house rule).")
    if pipes.has_unknown_material:
        said.append("The material is not known everywhere: limits that depend on it could not be checked there.")
    return tuple(said)


def _has_bare_ground(cells: Sequence[Cell], site: Site) -> bool:
    return any(not any(floor_um(s.from_m) <= cell.from_um < floor_um(s.to_m) for s in site.surfaces) for cell in cells)
