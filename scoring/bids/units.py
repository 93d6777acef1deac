"""Units of a bid's quantities, and one turned into another of the same kind."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from scoring.units import FOOT_M

_YARD_M: Final = 3 * FOOT_M
_ONE: Final = Decimal(1)

LUMP_SUM: Final = "lump_sum"
# unit: (what it measures, how much of the SI unit one of it is). Units of a scope and those bidders write.
UNITS: Final[Mapping[str, tuple[str, Decimal]]] = {
    "ft": ("length", FOOT_M),
    "m": ("length", _ONE),
    "sf": ("area", FOOT_M**2),
    "sy": ("area", _YARD_M**2),
    "m2": ("area", _ONE),
    "cf": ("volume", FOOT_M**3),
    "cy": ("volume", _YARD_M**3),
    "m3": ("volume", _ONE),
    "each": ("each", _ONE),
    "days": ("days", _ONE),
    "loads": ("loads", _ONE),
    LUMP_SUM: (LUMP_SUM, _ONE),
}
_IN_SI: Final = frozenset({"m", "m2", "m3"})


def in_unit(quantity: Decimal, unit: str, wanted: str) -> Decimal | None:
    """Return a quantity in another unit; None where the two do not measure the same thing."""
    (kind, size), (other_kind, other_size) = UNITS[unit], UNITS[wanted]
    if kind != other_kind:
        return None
    return quantity if unit == wanted else quantity * size / other_size


def is_metric(unit: str) -> bool:
    """Tell whether a unit belongs to SI; those of both systems (each, days) do not."""
    return unit in _IN_SI
