"""Earthworks of an open trench over a pipe, per metre and for a length.

Worked check: 20 ft long, 8 ft deep, 2.5 ft wide, shored, 6 in SDR-35, 4 in bedding, 6 in over the crown gives
14.81 cy excavation = 2.512 cy embedment and pipe + 12.303 cy backfill.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

PI: Final = Decimal("3.14159265358979323846")
FIVE_FEET_M: Final = Decimal("1.524")  # protective system from here on, 29 CFR 1926.652(a)(1)
MAX_SLOPED_M: Final = Decimal("6.096")  # 20 ft: Table B-1 ends, an engineer designs (Appendix B)

# SDR-35 outside diameters in mm by nominal size in mm (4.215, 6.275, 8.400 in; from memory).
_OUTSIDE_MM: Final = {
    Decimal("101.6"): Decimal("107.061"),
    Decimal("152.4"): Decimal("159.385"),
    Decimal("203.2"): Decimal("213.36"),
}
_OTHER_SIZES: Final = Decimal("1.05")  # house rule for sizes not in the table

# Horizontal to vertical, 29 CFR 1926 Subpart P Table B-1. Ground over an existing drain was disturbed before, so
# it is never type A nor stable rock (Appendix A): both count as B.
SLOPE_BY_SOIL: Final = {
    "stable_rock": Decimal(1),
    "A": Decimal(1),
    "B": Decimal(1),
    "C": Decimal("1.5"),
    "unclassified": Decimal("1.5"),
}


@dataclass(frozen=True, slots=True)
class Pipe:
    """The new pipe in the trench, in metres."""

    nominal_mm: Decimal
    outside_m: Decimal

    @property
    def wall_m(self) -> Decimal:
        """Wall thickness, taken as half of what the outside is more than the nominal size."""
        return (self.outside_m - self.nominal_mm / 1000) / 2


@dataclass(frozen=True, slots=True)
class Earthworks:
    """Areas of a cross-section in m2, or volumes of a length in m3."""

    excavation: Decimal
    bedding: Decimal  # part of the embedment
    pipe: Decimal
    embedment: Decimal  # bedding included, pipe not
    backfill: Decimal

    def times(self, length_m: Decimal) -> "Earthworks":
        """Return the volumes of a trench of that length."""
        return Earthworks(
            self.excavation * length_m,
            self.bedding * length_m,
            self.pipe * length_m,
            self.embedment * length_m,
            self.backfill * length_m,
        )


def new_pipe(nominal_mm: Decimal) -> Pipe:
    """Return the plastic pipe that replaces a pipe of that nominal size."""
    return Pipe(nominal_mm, _OUTSIDE_MM.get(nominal_mm, nominal_mm * _OTHER_SIZES) / 1000)


def trench_width_m(outside_m: Decimal, minimum_m: Decimal) -> Decimal:
    """Return the bottom width: max(OD + 16 in, 1.25 OD + 12 in) (ASTM D2321), at least `minimum_m`."""
    by_addition = outside_m + Decimal("0.4064")
    by_factor = outside_m * Decimal("1.25") + Decimal("0.3048")
    return max(by_addition, by_factor, minimum_m)


def cross_section(
    depth_m: Decimal, width_m: Decimal, slope: Decimal, pipe: Pipe, bedding_m: Decimal, cover_m: Decimal
) -> Earthworks:
    """Return the areas of a trench `depth_m` deep to its bottom, sides at `slope` to 1 from the bottom up.

    Excavation = embedment + pipe + backfill. Where the trench is shallower than the embedment would reach,
    the embedment ends at the surface and there is no backfill.
    """
    embedded = min(bedding_m + pipe.outside_m + cover_m, depth_m)
    pipe_area = PI / 4 * pipe.outside_m**2
    excavation = _area(depth_m, width_m, slope)
    gross = _area(embedded, width_m, slope)
    pipe_area = min(pipe_area, gross)
    return Earthworks(
        excavation=excavation,
        bedding=_area(min(bedding_m, depth_m), width_m, slope),
        pipe=pipe_area,
        embedment=gross - pipe_area,
        backfill=excavation - gross,
    )


def mean_cross_section(depths_m: tuple[Decimal, Decimal], *shape: object) -> Earthworks:
    """Return the mean areas along a stretch whose depth runs evenly between two depths.

    Simpson's rule, exact for areas that are quadratic in the depth.
    """
    first, last = depths_m
    if first == last:
        return cross_section(first, *shape)  # type: ignore[arg-type]
    ends = (cross_section(first, *shape), cross_section(last, *shape))  # type: ignore[arg-type]
    middle = cross_section((first + last) / 2, *shape)  # type: ignore[arg-type]
    return Earthworks(
        *(
            (getattr(ends[0], part) + 4 * getattr(middle, part) + getattr(ends[1], part)) / 6
            for part in ("excavation", "bedding", "pipe", "embedment", "backfill")
        )
    )


def pit_volume_m3(length_m: Decimal, width_m: Decimal, depth_m: Decimal, slope: Decimal) -> Decimal:
    """Return the volume of a pit with four sides at `slope`: d (a b + s d (a + b) + 4/3 s2 d2)."""
    sides = slope * depth_m * (length_m + width_m)
    corners = Decimal(4) / 3 * slope**2 * depth_m**2
    return depth_m * (length_m * width_m + sides + corners)


def _area(height_m: Decimal, width_m: Decimal, slope: Decimal) -> Decimal:
    return height_m * (width_m + slope * height_m)
