"""Exact conversion between what a check is given (`us` or `si`) and the US units its rules are published in.

The published formulas carry constants in feet, inches and psi. They are computed in those units, so the
same pit in metres and in feet gives the same answer and a limit at 5.0 ft lies at exactly 1.524 m.
"""

from collections.abc import Mapping
from decimal import Context, Decimal
from typing import Final, Literal

from scoring.units import FOOT_M, INCH_MM, Units, plain

Measure = Literal[
    "length", "size", "area", "volume", "stress", "density", "speed", "flow",
    "thickness", "time", "hours", "percent", "degrees", "ratio", "air", "leakage", "limit", "count",
    "pressure_drop",
]  # fmt: skip

SIGNIFICANT_DIGITS: Final = 6

_POUND_FORCE_N: Final = Decimal("4.4482216152605")  # exact: 0.45359237 kg x 9.80665 m/s2
_ONE: Final = Decimal(1)
_ROUNDING: Final = Context(prec=SIGNIFICANT_DIGITS)

SI_PER_US: Final[Mapping[Measure, Decimal]] = {
    "length": FOOT_M,
    "size": INCH_MM,
    "area": FOOT_M**2,
    "volume": (3 * FOOT_M) ** 3,  # cubic yards to cubic metres
    "stress": _POUND_FORCE_N / (INCH_MM / 1000) ** 2 / 1000,  # psi to kPa
    "density": _POUND_FORCE_N / FOOT_M**3 / 1000,  # pcf to kN/m3
    "speed": FOOT_M,
    "flow": FOOT_M**3,
}

UNIT_NAMES: Final[Mapping[Measure, tuple[str, str]]] = {
    "length": ("ft", "m"),
    "size": ("in", "mm"),
    "area": ("sf", "m2"),
    "volume": ("cy", "m3"),
    "stress": ("psi", "kPa"),
    "density": ("pcf", "kN/m3"),
    "speed": ("ft/s", "m/s"),
    "flow": ("ft3/s", "m3/s"),
    "thickness": ("mm", "mm"),
    "time": ("s", "s"),
    "hours": ("h", "h"),
    "percent": ("%", "%"),
    "degrees": ("deg", "deg"),
    "ratio": ("", ""),
    "air": ("ft3/min", "ft3/min"),
    "leakage": ("gal/h", "gal/h"),
    "limit": ("gal/in/mile/day", "gal/in/mile/day"),
    "count": ("", ""),
    "pressure_drop": ("psi", "psi"),
}


def to_us(value: Decimal, measure: Measure, units: Units) -> Decimal:
    """Return a measure as given in `units` in the US unit its rule is published in."""
    return value if units == "us" else value / SI_PER_US.get(measure, _ONE)


def from_us(value: Decimal, measure: Measure, units: Units) -> Decimal:
    """Return a measure in its US unit as `units` has it, not rounded."""
    return value if units == "us" else value * SI_PER_US.get(measure, _ONE)


def unit_of(measure: Measure, units: Units) -> str:
    """Return the unit in which `units` writes a measure; empty for a plain number."""
    us_name, si_name = UNIT_NAMES[measure]
    return us_name if units == "us" else si_name


def rounded(value: Decimal) -> Decimal:
    """Return a result to six significant digits, without exponent and trailing zeros."""
    short = _ROUNDING.plus(value)
    return Decimal(format(short.normalize(), "f")) if short else Decimal(0)


def shown(value: Decimal, measure: Measure, units: Units) -> Decimal:
    """Return a result computed in its US unit as `units` has it, rounded."""
    return rounded(from_us(value, measure, units))


def in_words(value: Decimal) -> str:
    """Return a number for a sentence: at most four decimals."""
    return str(plain(value))
