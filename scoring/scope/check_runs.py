"""One stateless check run with a section's numbers, in both systems of units."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from scoring.checks import CheckInputInvalid, run_check
from scoring.scope.rate_book import CUBIC_YARD_M3
from scoring.scope.types import Check
from scoring.units import Units, length_in, plain, size_in

UNITS: Final[tuple[Units, ...]] = ("us", "si")
_LENGTHS: Final = ("depth", "bottom_width", "length", "cover", "water_over_invert", "water_over_crown")
_SIZES: Final = ("diameter",)
_VOLUMES: Final = ("bank_volume", "truck_volume")


def run(name: str, measures: Mapping[str, Any], summary: str) -> Check:
    """Run a check in both systems of units; what it cannot judge is said, never guessed."""
    found = results(name, measures)
    if isinstance(found, str):
        return Check(name, "not_computed", f"Not computed: {found}", "input outside the check's range")
    us, si = found
    source = "; ".join(us["source"])
    return Check(name, str(us["governs"]), summary, source, tuple(us["cautions"]), (("us", us), ("si", si)))


def results(name: str, measures: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]] | str:
    """Return the results in US and SI units, or in words why there are none."""
    try:
        us, si = (run_check(name, _in_units(measures, units)) for units in UNITS)
    except CheckInputInvalid as refused:
        return " ".join(fault.detail for fault in refused.faults)
    return us, si


def _in_units(measures: Mapping[str, Any], units: Units) -> dict[str, Any]:
    """Return the inputs of a check, from metres, millimetres and cubic metres."""
    document: dict[str, Any] = {"units": units}
    for name, value in measures.items():
        if isinstance(value, Decimal) and name in _LENGTHS:
            document[name] = length_in(value, units)
        elif isinstance(value, Decimal) and name in _SIZES:
            document[name] = size_in(value, units)
        elif isinstance(value, Decimal) and name in _VOLUMES:
            document[name] = plain(value / CUBIC_YARD_M3 if units == "us" else value)
        elif name == "sections":
            document[name] = [
                {"diameter": size_in(size, units), "length": length_in(length, units)} for size, length in value
            ]
        else:
            document[name] = value
    return document
