"""The engineering and rule checks that go with a section, each with the section's own numbers."""

from collections.abc import Mapping
from decimal import ROUND_CEILING, Decimal
from typing import Any, Final

from scoring.checks import CheckInputInvalid, run_check
from scoring.scope.ground import Cell, ceil_um, floor_um
from scoring.scope.methods import BY_NAME
from scoring.scope.rule_set import RuleSet
from scoring.scope.takeoff import DIGGING, LINING, Takeoff
from scoring.scope.types import Check, Section
from scoring.units import Units, length_in, size_in

UNITS: Final[tuple[Units, ...]] = ("us", "si")
_LENGTHS = ("depth", "bottom_width", "length", "cover", "water_over_invert", "water_over_crown")
_TESTED = ("full_liner", "sectional_liner", "pipe_bursting", "open_cut_replacement", "spot_repair")
_FALLEN = ("broken", "hole", "collapse")


def section_checks(section: Section, kinds: tuple[str, ...], takeoff: Takeoff, rules: RuleSet) -> tuple[Check, ...]:
    """Return the checks of one section; `kinds` are those of the defects it cures."""
    cells = takeoff.ground.cells_between(floor_um(section.from_m), ceil_um(section.to_m))
    found = []
    if section.method in DIGGING or section.method in ("pipe_bursting", "new_clean_out"):
        found += [_trench(section, cells, takeoff), _notice(rules)]
    if section.method in LINING:
        found.append(_liner(cells, kinds, takeoff))
    if BY_NAME[section.method].cures:
        found.append(_drain())
    if section.method in _TESTED and section.to_m > section.from_m:
        found.append(_air_test(section, cells))
    return (*found, *_clean_outs(takeoff, rules))


def _run(name: str, measures: Mapping[str, Any], summary: str) -> Check:
    """Run a stateless check in both systems of units; what it cannot judge is said, never guessed."""
    try:
        us, si = (run_check(name, _in_units(measures, units)) for units in UNITS)
    except CheckInputInvalid as refused:
        faults = " ".join(fault.detail for fault in refused.faults)
        return Check(name, "not_computed", f"Not computed: {faults}", "input outside the check's range")
    source = "; ".join(us["source"])
    return Check(name, str(us["governs"]), summary, source, tuple(us["cautions"]), (("us", us), ("si", si)))


def _in_units(measures: Mapping[str, Any], units: Units) -> dict[str, Any]:
    """Return the inputs of a check, lengths from metres and sizes from millimetres."""
    document: dict[str, Any] = {"units": units}
    for name, value in measures.items():
        if isinstance(value, Decimal) and name in _LENGTHS:
            document[name] = length_in(value, units)
        elif isinstance(value, Decimal) and name == "diameter":
            document[name] = size_in(value, units)
        elif name == "sections":
            document[name] = [
                {"diameter": size_in(size, units), "length": length_in(length, units)} for size, length in value
            ]
        else:
            document[name] = value
    return document


def _trench(section: Section, cells: list[Cell], takeoff: Takeoff) -> Check:
    trench = takeoff.book.trench
    depth_m = max(max(cell.depths_m["high"]) for cell in cells) + max(
        takeoff.cut(cell, "high").pipe.wall_m for cell in cells
    )
    is_pit = section.method in ("pipe_bursting", "new_clean_out") or section.to_m <= section.from_m
    widths = [takeoff.cut(cell, "high").width_m for cell in cells]
    measures = {
        "depth": depth_m + trench.bedding_m,
        "bottom_width": trench.pit_width_m if is_pit else max(widths),
        "length": trench.pit_length_m if is_pit else section.to_m - section.from_m,
        "soil": takeoff.site.soil or "unclassified",
        "previously_disturbed": True,
        "protection": trench.protection,
        "sloped_sides": 4 if is_pit else 2,
    }
    words = "Each pit" if is_pit else "The trench"
    return _run("trench", measures, f"{words} at its greatest depth; the ground was dug before.")


def _liner(cells: list[Cell], kinds: tuple[str, ...], takeoff: Takeoff) -> Check:
    depth_m = max(max(cell.depths_m["high"]) for cell in cells)
    diameter_mm = max(cell.diameter_mm for cell in cells)
    cover_m = max(depth_m - diameter_mm / 1000, Decimal("0.01"))
    water_m = takeoff.site.groundwater_depth_m
    over_m = depth_m if water_m is None else max(depth_m - water_m, Decimal(0))
    is_fallen = any(kind in _FALLEN for kind in kinds)
    measures: dict[str, Any] = {
        "condition": "fully_deteriorated" if is_fallen else "partially_deteriorated",
        "diameter": diameter_mm,
        "cover": cover_m,
        "water_over_invert": over_m,
        "water_over_crown": max(over_m - diameter_mm / 1000, Decimal(0)),
    }
    words = "at its greatest depth" + (", water taken to the surface (house rule)" if water_m is None else "")
    return _run("liner", measures, f"Wall thickness {words}.")


def _drain() -> Check:
    return Check(
        "drain",
        "not_computed",
        "Depths below a surface of unknown level give no slope: measure invert levels to check slope and"
        " self-cleansing, before and after.",
        "house rule",
    )


def _air_test(section: Section, cells: list[Cell]) -> Check:
    sizes: dict[Decimal, Decimal] = {}
    first, last = floor_um(section.from_m), ceil_um(section.to_m)
    for cell in cells:
        length_um = min(cell.to_um, last) - max(cell.from_um, first)
        sizes[cell.diameter_mm] = sizes.get(cell.diameter_mm, Decimal(0)) + Decimal(length_um) / 10**6
    measures = {"standard": "F1417", "pressure_drop_psi": Decimal("0.5"), "sections": list(sizes.items())}
    return _run("air-test", measures, "Acceptance after the work: the loss of 0.5 psi takes at least this long.")


def _notice(rules: RuleSet) -> Check:
    return Check("notice", "rule_set", rules.notice, rules.notice_source)


def _clean_outs(takeoff: Takeoff, rules: RuleSet) -> list[Check]:
    length_m = Decimal(takeoff.ground.to_um - takeoff.ground.from_um) / 10**6
    spacing_m = rules.clean_out_spacing_m
    if not spacing_m or length_m <= spacing_m:
        return []
    number = (length_m / spacing_m).to_integral_value(rounding=ROUND_CEILING) - 1
    words = f"The line is longer than the spacing allowed: clean-outs between its ends, at least {number}."
    return [Check("clean_outs", "spacing", words, rules.clean_out_source)]
