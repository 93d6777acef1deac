"""Exact conversion between US customary units and SI.

Everything inside `scoring` is SI: metres along the pipe, millimetres across it.
Decimals keep the conversion exact: 37.5 ft becomes 11.43 m and 37.5 ft again.
"""

from decimal import Decimal
from typing import Final, Literal

Units = Literal["us", "si"]

FOOT_M: Final = Decimal("0.3048")  # 1 ft = 0.3048 m exactly (international foot, 1959)
INCH_MM: Final = Decimal("25.4")  # 1 in = 25.4 mm exactly

_STATION_STEP: Final = Decimal("0.0001")


def metres(length: Decimal, units: Units) -> Decimal:
    """Return a length along the pipe, given in ft (`us`) or m (`si`), in metres."""
    return length * FOOT_M if units == "us" else length


def millimetres(size: Decimal, units: Units) -> Decimal:
    """Return a size across the pipe, given in inches (`us`) or mm (`si`), in millimetres."""
    return size * INCH_MM if units == "us" else size


def length_in(length_m: Decimal, units: Units) -> Decimal:
    """Return metres in ft (`us`) or m (`si`), to four decimals, without trailing zeros."""
    return plain(length_m / FOOT_M if units == "us" else length_m)


def size_in(size_mm: Decimal, units: Units) -> Decimal:
    """Return millimetres in inches (`us`) or mm (`si`), to four decimals, without trailing zeros."""
    return plain(size_mm / INCH_MM if units == "us" else size_mm)


def plain(number: Decimal, step: Decimal = _STATION_STEP) -> Decimal:
    """Round to `step` (half even) and drop trailing zeros, never in exponent form."""
    rounded = number.quantize(step).normalize()
    return rounded.quantize(Decimal(1)) if rounded == rounded.to_integral_value() else rounded
