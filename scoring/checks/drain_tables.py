"""Published values a drain is checked against: roughness by material, tables of plumbing codes.

A code is jurisdiction data: another one is another `DrainCode` in `CODES`, never a change in the check.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final


@dataclass(frozen=True, slots=True)
class Roughness:
    """Manning's n of a pipe material, with where it comes from."""

    n: Decimal
    source: str


_CHOW: Final = "Chow, Open-Channel Hydraulics, table of n, closed conduits"
_SLIMED: Final = Roughness(Decimal("0.013"), f"{_CHOW}: sanitary sewers coated with slime, with connections")
_PLASTIC: Final = Roughness(Decimal("0.010"), "common practice, no source: smooth plastic, PVC 0.009 to 0.011")

ROUGHNESS: Final[Mapping[str, Roughness]] = {
    "vitrified_clay": Roughness(Decimal("0.014"), f"{_CHOW}: vitrified sewer, normal"),
    "concrete": Roughness(Decimal("0.015"), f"{_CHOW}: concrete sewer with manholes and inlets, normal"),
    "cast_iron": Roughness(Decimal("0.013"), f"{_CHOW}: cast iron, coated, normal"),
    "ductile_iron": _SLIMED,
    "pvc": _PLASTIC,
    "abs": _PLASTIC,
    "polyethylene": _PLASTIC,
    "bituminous_fibre": _SLIMED,
    "asbestos_cement": _SLIMED,
    "cured_in_place_liner": Roughness(Decimal("0.010"), "from memory, no source seen: smooth liner"),
    "unknown": _SLIMED,
}


@dataclass(frozen=True, slots=True)
class SlopeRule:
    """The least slope for sizes from `from_in` on, until the next rule's size."""

    from_in: Decimal
    least_percent: Decimal


@dataclass(frozen=True, slots=True)
class DrainCode:
    """One code's tables. `fixture_units`: by nominal size in inches, one limit per column slope.

    A limit of None: the size is not allowed at that slope. Empty: no such table was seen.
    """

    name: str
    slope_rules: tuple[SlopeRule, ...]
    slope_source: str
    column_percents: tuple[Decimal, ...]
    fixture_units: Mapping[Decimal, tuple[int | None, ...]]
    fixture_source: str


# Slopes in percent as the codes' inches per foot come out at four decimals.
SIXTEENTH: Final = Decimal("0.5208")  # 1/16 in/ft
EIGHTH: Final = Decimal("1.0417")  # 1/8 in/ft
QUARTER: Final = Decimal("2.0833")  # 1/4 in/ft
HALF: Final = Decimal("4.1667")  # 1/2 in/ft

# Between the printed sizes the steeper slope holds: over 2 1/2 and under 3 in, over 6 and under 8 in.
_LEAST_SLOPES: Final = (
    SlopeRule(Decimal(0), QUARTER),
    SlopeRule(Decimal(3), EIGHTH),
    SlopeRule(Decimal(8), SIXTEENTH),
)

CODES: Final[Mapping[str, DrainCode]] = {
    "ipc": DrainCode(
        name="ipc",
        slope_rules=_LEAST_SLOPES,
        slope_source="International Plumbing Code, Table 704.1",
        column_percents=(SIXTEENTH, EIGHTH, QUARTER, HALF),
        fixture_units={
            Decimal(3): (None, 36, 42, 50),
            Decimal(4): (None, 180, 216, 250),
            Decimal(6): (None, 700, 840, 1000),
            Decimal(8): (1400, 1600, 1920, 2300),
            Decimal(10): (2500, 2900, 3500, 4200),
            Decimal(12): (3900, 4600, 5600, 6700),
        },
        fixture_source=(
            "International Plumbing Code, Table 710.1(1), seen as the same rows in NBR 8160 Table 7; the "
            "3 in limit at 1/2 in/ft (50) and the 4 in limit there (250) from memory"
        ),
    ),
    "chicago": DrainCode(
        name="chicago",
        slope_rules=_LEAST_SLOPES,
        slope_source="Chicago 18-29-704.1",
        column_percents=(),
        fixture_units={},
        fixture_source="",
    ),
}
DEFAULT_CODE: Final = "ipc"
