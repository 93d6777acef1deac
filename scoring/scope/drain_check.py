"""The drain before and after a section: capacity and self-cleansing at the least slope the code allows.

Depths below a surface of unknown level give no slope, so the slope is not known; what a new wall changes is.
"""

from decimal import Decimal
from typing import Any, Final

from scoring.scope.check_runs import results
from scoring.scope.ground import Cell
from scoring.scope.takeoff import LINING, Takeoff
from scoring.scope.types import Check
from scoring.units import INCH_MM

# IPC Table 704.1: up to 2 1/2 in 1/4 in/ft, 3 to 6 in 1/8, from 8 in 1/16.
_LEAST_SLOPES: Final = ((Decimal(3), "2.0833"), (Decimal(8), "1.0417"), (None, "0.5208"))
_NEAR: Final = Decimal("0.98")  # a bore within 2 % of a printed size counts as that size (house rule of the check)
_SUMMARY: Final = (
    "The slope was not measured. At {slope} %, the least the code allows for this size, the drain carries {ratio} % of"
    " before and is {clean}; by how much it changes holds at any slope. Measure invert levels to check the slope."
)
_CAUTION: Final = "Not a check of the slope this drain lies at: a sag or an adverse grade stays what it is."

_NOMINAL: Final = (
    "A code lists nominal sizes. What the liner leaves is counted by the next size printed below it (house rule);"
    " whether the host's nominal size still counts is for the authority to say."
)


def drain_check(method: str, cells: list[Cell], liner_mm: Decimal | None, takeoff: Takeoff) -> Check:
    """Return the drain's capacity and velocity before and after the work, at its narrowest place."""
    cell = min(cells, key=lambda each: each.diameter_mm)
    slope = _least_slope(cell.diameter_mm)
    given: dict[str, Any] = {"slope_percent": Decimal(slope)}
    if takeoff.site.drainage_fixture_units is not None:
        given["fixture_units"] = takeoff.site.drainage_fixture_units
    bore_mm, material = _after(method, cell, liner_mm)
    before = results("drain", {**given, "diameter": cell.diameter_mm, "material": cell.material})
    after = results("drain", {**given, "diameter": bore_mm, "material": material})
    if isinstance(before, str) or isinstance(after, str):
        words = before if isinstance(before, str) else str(after)
        return Check("drain", "not_computed", f"Not computed: {words}", "input outside the check's range")
    both = [{"before": one, "after": other} for one, other in zip(before, after, strict=True)]
    ratio = (100 * after[1]["flow"] / before[1]["flow"]).quantize(Decimal(1))
    clean = "self-cleansing (2 ft/s, 0.61 m/s full bore)" if after[1]["self_cleansing"] else "not self-cleansing"
    governs = str(after[0]["governs"])
    sources = "; ".join(dict.fromkeys((*before[0]["source"], *after[0]["source"])))
    words = _SUMMARY.format(slope=slope, ratio=ratio, clean=clean)
    cautions = (*after[0]["cautions"], _CAUTION, *((_NOMINAL,) if method in LINING else ()))
    return Check("drain", governs, words, sources, cautions, (("us", both[0]), ("si", both[1])))


def _least_slope(diameter_mm: Decimal) -> str:
    size_in = diameter_mm / INCH_MM
    return next(slope for below, slope in _LEAST_SLOPES if below is None or size_in < below * _NEAR)


def _after(method: str, cell: Cell, liner_mm: Decimal | None) -> tuple[Decimal, str]:
    """Return the bore and material the work leaves; a liner takes its wall off on both sides."""
    if method in LINING:
        return cell.diameter_mm - 2 * (liner_mm or Decimal(0)), "cured_in_place_liner"
    if method in ("root_cutting_and_cleaning", "descaling"):
        return cell.diameter_mm, cell.material
    return cell.diameter_mm, "pvc"
