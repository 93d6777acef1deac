"""Steady uniform flow in a round pipe, full or part-full, by Manning's formula, in SI.

V = R^(2/3) S^(1/2) / n with the hydraulic radius R in m. Valid for a falling grade only.
"""

from dataclasses import dataclass
from decimal import Decimal
from math import acos, pi, sin
from typing import Final

_TWO_THIRDS: Final = Decimal(2) / 3
_FULL: Final = Decimal(1)


@dataclass(frozen=True, slots=True)
class Flow:
    """Mean velocity and discharge of a pipe at one depth of flow."""

    velocity_m_s: Decimal
    discharge_m3_s: Decimal


def manning(diameter_m: Decimal, slope: Decimal, roughness: Decimal, depth_ratio: Decimal = _FULL) -> Flow:
    """Return the flow at a depth of `depth_ratio` times the diameter (1 is full bore).

    `slope` is fall over length and must be positive; `roughness` is Manning's n; 0 < `depth_ratio` <= 1.
    Raises ValueError outside. Example: a 6 in pipe at 1 %, n 0.013, runs full at 0.871 m/s.
    """
    if slope <= 0 or not 0 < depth_ratio <= 1:
        raise ValueError("Manning's formula needs a falling grade and a depth ratio above 0, up to 1")
    area, radius = _wetted(depth_ratio)
    velocity_m_s = (radius * diameter_m) ** _TWO_THIRDS * slope.sqrt() / roughness
    return Flow(velocity_m_s, velocity_m_s * area * diameter_m**2)


def _wetted(depth_ratio: Decimal) -> tuple[Decimal, Decimal]:
    """Return wetted area over D^2 and hydraulic radius over D of a circle."""
    if depth_ratio == _FULL:
        return Decimal(repr(pi / 4)), Decimal("0.25")
    angle = 2 * acos(1 - 2 * float(depth_ratio))  # at the centre, over the water line
    area = (angle - sin(angle)) / 8
    return Decimal(repr(area)), Decimal(repr(area / (angle / 2)))
