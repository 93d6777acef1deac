"""A document in the other unit system: the names of its fields say which numbers are lengths and which sizes."""

from decimal import Decimal
from typing import Any, Final

from scoring.units import Units, length_in, metres, millimetres, plain, size_in

# Lengths along the pipe, depths and heights: ft or m.
LENGTHS: Final = frozenset(
    {
        "at",
        "to",
        "from",
        "station",
        "to_station",
        "station_sd",
        "counter",
        "to_counter",
        "counter_start",
        "counter_end",
        "joint_spacing",
        "depth",
        "groundwater_depth",
        "station_at_start",
        "station_at_end",
        "damage_length",
        "length",
        "distance",
        "compared_length",
        "margin",
    }
)
# Sizes across the pipe, gaps, openings and thicknesses: in or mm. Crack widths are mm in both.
SIZES: Final = frozenset({"diameter", "head_diameter", "size", "offset", "gap", "thickness"})

_FOOT_STEP: Final = Decimal("0.001")


def converted(document: Any, source: Units, target: Units) -> Any:
    """Return the document with every length and size in `target` units; the same object where nothing changes."""
    return document if source == target else _converted(document, source, target)


def _converted(value: Any, source: Units, target: Units) -> Any:
    if isinstance(value, dict):
        return {name: _member(name, member, source, target) for name, member in value.items()}
    if isinstance(value, list):
        return [_converted(member, source, target) for member in value]
    return value


def _member(name: str, value: Any, source: Units, target: Units) -> Any:
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        if name in LENGTHS:
            return _length(metres(Decimal(value), source), target)
        if name in SIZES:
            return size_in(millimetres(Decimal(value), source), target)
        return value
    if name == "units" and value == source:
        return target
    return _converted(value, source, target)


def _length(length_m: Decimal, target: Units) -> Decimal:
    """Results are kept to 0.1 mm. In feet a thousandth is the finest that holds: 48.8 ft, kept as 14.8742 m, is
    48.8 again and not 48.7999."""
    shown = length_in(length_m, target)
    return plain(shown, _FOOT_STEP) if target == "us" else shown
