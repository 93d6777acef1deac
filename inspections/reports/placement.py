"""Where labels go so that none lies on another and no leader crosses a label.

Labels are flags: a pole at the left edge, the words to its right. In a group of flags the leftmost stands
farthest from the pipe and each one to the right one row nearer, so no pole meets words. Groups that would
meet are pushed apart; the order never changes, so leaders never cross. Same input, same places.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

POLE_GAP: Final = 9.0  # between poles of one group
BLOCK_GAP: Final = 6.0  # between groups
ROW_CHOICES: Final = (3, 4, 5, 6, 8)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where one label stands: x of its pole or left edge, and its row (0 is next to the pipe)."""

    x: float
    row: int


@dataclass(frozen=True, slots=True)
class _Block:
    wanted_x: float
    offsets: tuple[float, ...]
    width: float


def place_flags(anchors: Sequence[float], widths: Sequence[float], left: float, right: float) -> list[Spot] | None:
    """Return a spot per flag, anchors sorted; None when they fit in no allowed number of rows."""
    for max_rows in ROW_CHOICES:
        blocks = _blocks(anchors, widths, max_rows)
        if sum(block.width + BLOCK_GAP for block in blocks) - BLOCK_GAP <= right - left:
            starts = spread([block.wanted_x for block in blocks], [block.width for block in blocks], left, right)
            return [spot for start, block in zip(starts, blocks, strict=True) for spot in _spots(start, block)]
    return None


def _spots(start: float, block: _Block) -> list[Spot]:
    last = len(block.offsets) - 1
    return [Spot(start + offset, last - place) for place, offset in enumerate(block.offsets)]


def _blocks(anchors: Sequence[float], widths: Sequence[float], max_rows: int) -> list[_Block]:
    blocks: list[_Block] = []
    members: list[int] = []
    for index in range(len(anchors)):
        if members and (len(members) == max_rows or anchors[index] >= _reach(members, anchors, widths)):
            blocks.append(_block(members, anchors, widths))
            members = []
        members.append(index)
    return [*blocks, _block(members, anchors, widths)] if members else blocks


def _reach(members: Sequence[int], anchors: Sequence[float], widths: Sequence[float]) -> float:
    block = _block(members, anchors, widths)
    return block.wanted_x + block.width + BLOCK_GAP


def _block(members: Sequence[int], anchors: Sequence[float], widths: Sequence[float]) -> _Block:
    offsets = tuple(POLE_GAP * place for place in range(len(members)))
    width = max(offset + widths[index] for offset, index in zip(offsets, members, strict=True))
    middle = sum(anchors[index] - offset for offset, index in zip(offsets, members, strict=True))
    return _Block(middle / len(members), offsets, width)


def spread(
    wanted: Sequence[float], widths: Sequence[float], left: float, right: float, gap: float = BLOCK_GAP
) -> list[float]:
    """Return left edges near the wanted ones, in the same order, without overlap, inside left to right.

    The widths and gaps together must fit.
    """
    starts: list[float] = []
    edge = left
    for want, width in zip(wanted, widths, strict=True):
        starts.append(max(want, edge))
        edge = starts[-1] + width + gap
    edge = right
    for index in range(len(starts) - 1, -1, -1):
        starts[index] = min(starts[index], edge - widths[index])
        edge = starts[index] - gap
    return starts


def place_badges(anchors: Sequence[float], width: float, left: float, right: float) -> list[Spot]:
    """Return a spot per badge of one width; neighbours share a column, stacked, where a row has no room.

    Anchors must be sorted. `x` is the badge's left edge, `row` its place in the column from below.
    """
    reach = width / 2
    columns = _columns(anchors, reach)
    while len(columns) > 1 and len(columns) * (width + 1) > right - left:
        reach *= 1.25
        columns = _columns(anchors, reach)
    wanted = [sum(anchors[index] for index in column) / len(column) - width / 2 for column in columns]
    starts = spread(wanted, [width] * len(columns), left, right, gap=1.0)
    return [Spot(start, row) for start, column in zip(starts, columns, strict=True) for row in range(len(column))]


def _columns(anchors: Sequence[float], reach: float) -> list[list[int]]:
    columns: list[list[int]] = []
    for index, anchor in enumerate(anchors):
        if columns and anchor - anchors[columns[-1][0]] < reach:
            columns[-1].append(index)
        else:
            columns.append([index])
    return columns


def lanes(stretches: Sequence[tuple[float, float]]) -> list[int]:
    """Return a lane per stretch so that stretches in one lane do not overlap; the first free lane is taken."""
    ends: list[float] = []
    chosen: list[int] = []
    for start, end in stretches:
        free = next((lane for lane, taken in enumerate(ends) if taken <= start), len(ends))
        ends[free : free + 1] = [end]
        chosen.append(free)
    return chosen
