"""Readings of pressure tests, judged by the checks: air by standard, leakage of water, a head of water that holds."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from scoring.acceptance.types import Outcome, PressureTestKind
from scoring.checks import HEAD_TESTS, head_holds, run_check
from scoring.checks.check import DECISION_AID
from scoring.units import FOOT_M, Units, plain

AIR_STANDARD: Final[Mapping[str | None, str | None]] = {
    None: "F1417",
    "pvc": "F1417",
    "abs": "F1417",
    "polyethylene": "F1417",
    "cured_in_place_liner": "F1417",
    "vitrified_clay": "C828",
}
_TENTH: Final = Decimal("0.1")


def outcome(kind: PressureTestKind, reading: Mapping[str, Any], units: Units) -> Outcome:
    """Return what a reading says. Raises `CheckInputInvalid` where it cannot be one."""
    if kind == "air_test":
        return _air(reading, units)
    return _leakage(reading, units) if kind == "water_test" else _head(reading, units)


def _air(reading: Mapping[str, Any], units: Units) -> Outcome:
    found = run_check("air-test", {"units": units, **reading})
    standard, drop = str(reading["standard"]), found_drop(reading)
    asked = f"Air test by ASTM {standard}, {drop} psi: at least {found['required_s']} s"
    measured = reading.get("measured_s")
    detail = f"{asked}; {measured} s read." if measured is not None else f"{asked}; no time was read."
    missing = None if measured is not None else "measured_s"
    return Outcome(found["passed"], detail, missing, standard, tuple(found["source"]), tuple(found["cautions"]))


def found_drop(reading: Mapping[str, Any]) -> Decimal | int:
    """Return the drop that was timed; the clay standard times 1.0 psi where nothing is said."""
    drop: Decimal | int | None = reading.get("pressure_drop_psi")
    return Decimal("1.0") if drop is None else drop


def _leakage(reading: Mapping[str, Any], units: Units) -> Outcome:
    found = run_check("water-test", {"units": units, **reading})
    measured = reading.get("measured_gph")
    asked = f"Water test: at most {found['allowed_gph']} gal/h ({reading['limit_gpd_per_inch_mile']} gpd/in/mile)"
    detail = f"{asked}; {measured} gal/h read." if measured is not None else f"{asked}; no leakage was read."
    missing = None if measured is not None else "measured_gph"
    return Outcome(found["passed"], detail, missing, None, tuple(found["source"]), tuple(found["cautions"]))


def _head(reading: Mapping[str, Any], units: Units) -> Outcome:
    code = str(reading["code"])
    asked = HEAD_TESTS[code]
    words = f"Head of water by {asked.source}: {_feet(asked.head_ft)} held for {asked.hold_s} s"
    missing = next((name for name in ("head", "held_s") if reading.get(name) is None), None)
    if missing is not None:
        return Outcome(None, f"{words}; {missing} was not read.", missing, code, (asked.source,), (DECISION_AID,))
    head, held_s = Decimal(reading["head"]), Decimal(reading["held_s"])
    head_ft = head if units == "us" else head / FOOT_M
    detail = f"{words}; {_feet(head_ft)} for {held_s} s read."
    return Outcome(head_holds(code, head_ft, held_s), detail, None, code, (asked.source,), (DECISION_AID,))


def _feet(head_ft: Decimal) -> str:
    return f"{plain(head_ft, _TENTH)} ft ({plain(head_ft * FOOT_M, Decimal('0.01'))} m)"
