"""What one method asks for a section that covers a stretch: the exact least price over all sections that do.

Positions are whole micrometres, prices whole numbers. The price never falls when the stretch grows.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from scoring.scope.curve import Curve


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch as one method would work it, and the zone (between blocks) it lies in."""

    from_um: int
    to_um: int
    zone: int


@dataclass(frozen=True, slots=True)
class Priced:
    """A section with its price."""

    price: int
    from_um: int
    to_um: int


@dataclass(frozen=True)
class Offer:
    """One method on one line: where it may work and what that costs.

    `ends` (if given) are the only stretches where a section may begin and end (pits of a burst).
    `joints` (if given): a section runs out to the next joint seen within `joint_reach_um`.
    """

    method: str
    set_up: int
    work: Curve
    surface: Curve | None
    cut_back_um: int
    minimum_um: int
    zones: Sequence[tuple[int, int]]
    ends: Sequence[tuple[int, int]] | None = None
    joints: Sequence[int] = ()
    joint_reach_um: int = 0
    short_rate: int = 0  # what each micrometre short of the minimum is charged

    def stretch(self, from_um: int, to_um: int) -> Stretch | None:
        """Return the shortest stretch that covers the one given and fits, or None where none does."""
        zone = self.zone_of(from_um, to_um)
        if zone is None:
            return None
        first, last = self.zones[zone]
        begin, end = self._out_to_start(from_um, first), self._out_to_end(to_um, last)
        return None if begin is None or end is None else Stretch(begin, end, zone)

    def zone_of(self, from_um: int, to_um: int) -> int | None:
        """Return the number of the zone that holds the whole stretch."""
        index = bisect_right(self.zones, (from_um, 1 << 62)) - 1
        for candidate in (index, index - 1):
            if candidate >= 0 and self.zones[candidate][0] <= from_um and to_um <= self.zones[candidate][1]:
                return candidate
        return None

    def _out_to_start(self, position: int, zone_from: int) -> int | None:
        if self.joints:
            index = bisect_right(self.joints, position) - 1
            if index >= 0 and position - self.joints[index] <= self.joint_reach_um:
                return max(self.joints[index], zone_from)
        if self.ends is None:
            return position
        allowed = [min(last, position) for first, last in self.ends if first <= position]
        return max((at for at in allowed if at >= zone_from), default=None)

    def _out_to_end(self, position: int, zone_to: int) -> int | None:
        if self.joints:
            index = bisect_left(self.joints, position)
            if index < len(self.joints) and self.joints[index] - position <= self.joint_reach_um:
                return min(self.joints[index], zone_to)
        if self.ends is None:
            return position
        allowed = [max(first, position) for first, last in self.ends if last >= position]
        return min((at for at in allowed if at <= zone_to), default=None)

    def begin_at_or_before(self, position: int, zone: int) -> int:
        """Return the nearest place a section may begin, at a position or upstream of it."""
        if self.ends is None:
            return position
        begin = self._out_to_start(position, self.zones[zone][0])
        return self.zones[zone][0] if begin is None else begin

    def stands_in_for(self, other: "Offer") -> bool:
        """Say whether any section of another method could be one of this method at no more cost."""
        if self.set_up > other.set_up or self.minimum_um > other.minimum_um or self.short_rate > other.short_rate:
            return False
        if self.ends is not None:
            return False
        if self.joints and (self.joints, self.joint_reach_um) != (other.joints, other.joint_reach_um):
            return False
        if any(self.zone_of(first, last) is None for first, last in other.zones):
            return False
        # Where the other is charged for a length it has no room for, this one might have to work that length.
        if other.ends is not None or any(last - first < self.minimum_um for first, last in other.zones):
            return False
        return self.work.is_below(other.work) and self._surface_is_below(other)

    def _surface_is_below(self, other: "Offer") -> bool:
        if self.surface is None:
            return True
        same_cut = self.cut_back_um == other.cut_back_um
        return other.surface is not None and same_cut and self.surface.is_below(other.surface)

    def at_start(self, position: int) -> int:
        """Return what is saved by beginning here and not at the line's origin."""
        if position not in self._starts:
            surface = self.surface.up_to(position - self.cut_back_um) if self.surface else 0
            self._starts[position] = self.work.at_start(position) + surface
        return self._starts[position]

    def at_end(self, position: int) -> int:
        """Return the cost from the line's origin to an end here."""
        if position not in self._finishes:
            surface = self.surface.up_to(position + self.cut_back_um) if self.surface else 0
            self._finishes[position] = self.work.at_end(position) + surface
        return self._finishes[position]

    def between(self, from_um: int, to_um: int) -> int:
        """Return the price of exactly this section."""
        return self.set_up + self.at_end(to_um) - self.at_start(from_um)

    def missing_um(self, from_um: int, to_um: int) -> int:
        """Return by how much a section falls short of the minimum."""
        return max(0, self.minimum_um - (to_um - from_um))

    def priced(self, from_um: int, to_um: int) -> int:
        """Return the price of this section with what is charged for a missing length."""
        return self.between(from_um, to_um) + self.missing_um(from_um, to_um) * self.short_rate

    def cheapest(self, from_um: int, to_um: int, zone: int) -> Priced:
        """Return the cheapest section over a stretch that is as long as the method's minimum.

        Where no place for the minimum is left, all there is is worked and the minimum is charged.
        """
        if to_um - from_um >= self.minimum_um:
            return Priced(self.between(from_um, to_um), from_um, to_um)
        key = (from_um, to_um, zone)
        if key not in self._lengthened:
            self._lengthened[key] = min(
                (Priced(self.priced(first, last), first, last) for first, last in self._windows(from_um, to_um, zone)),
                key=lambda priced: (priced.price, priced.from_um, priced.to_um),
            )
        return self._lengthened[key]

    @cached_property
    def _lengthened(self) -> dict[tuple[int, int, int], Priced]:
        return {}

    @cached_property
    def _starts(self) -> dict[int, int]:
        return {}

    @cached_property
    def _finishes(self) -> dict[int, int]:
        return {}

    def _windows(self, from_um: int, to_um: int, zone: int) -> list[tuple[int, int]]:
        """Return the sections among which the cheapest is: the price is straight between them."""
        zone_from, zone_to = self.zones[zone]
        least = self.minimum_um
        found = set()
        for begin in (from_um, zone_to - least, *self._stops(to_um - least, from_um)):
            if zone_from <= begin <= from_um and self._may_end(begin):
                end = self._out_to_end(max(to_um, begin + least), zone_to) if self.ends else max(to_um, begin + least)
                if end is not None and end <= zone_to:
                    found.add((begin, end))
        for end in (to_um, zone_from + least, *self._stops(to_um, from_um + least)):
            if to_um <= end <= zone_to and self._may_end(end):
                begin_at = min(from_um, end - least)
                begin_out = self._out_to_start(begin_at, zone_from) if self.ends else begin_at
                if begin_out is not None and begin_out >= zone_from:
                    found.add((begin_out, end))
        return sorted(found) or [self._whole(from_um, to_um, zone)]

    def _whole(self, from_um: int, to_um: int, zone: int) -> tuple[int, int]:
        first, last = self.zones[zone]
        if self.ends is None:
            return first, last
        begins = [max(begin, first) for begin, end in self.ends if end >= first and begin <= from_um]
        finishes = [min(end, last) for begin, end in self.ends if begin <= last and end >= to_um]
        return min(begins, default=from_um), max(finishes, default=to_um)

    def _may_end(self, position: int) -> bool:
        return self.ends is None or any(first <= position <= last for first, last in self.ends)

    def _stops(self, from_um: int, to_um: int) -> list[int]:
        stops = self._all_stops
        return stops[bisect_left(stops, from_um) : bisect_right(stops, to_um)]

    @cached_property
    def _all_stops(self) -> list[int]:
        stops = set(self.work.marks)
        stops.update(at + shift for at in self.work.steps for shift in (-1, 0, 1))
        if self.surface:
            stops.update(at + shift for at in self.surface.marks for shift in (-self.cut_back_um, self.cut_back_um))
        for first, last in self.ends or ():
            stops.update((first, last))
        return sorted(stops)
