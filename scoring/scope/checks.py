"""The engineering and rule checks that go with a section, each with the section's own numbers."""

from decimal import ROUND_CEILING, Decimal
from typing import Any, Final

from scoring.checks import HEAD_TESTS
from scoring.scope.bill import Bill
from scoring.scope.check_runs import run
from scoring.scope.drain_check import drain_check
from scoring.scope.rule_set import RuleSet
from scoring.scope.takeoff import DIGGING, LINING, Takeoff
from scoring.scope.types import Check
from scoring.units import length_in

_TESTED: Final = (*LINING, *DIGGING, "pipe_bursting")
_IN_PITS: Final = ("pipe_bursting", "new_clean_out")
_FALLEN: Final = ("broken", "hole", "collapse")
_HEAD: Final = "ipc"


def section_checks(kinds: tuple[str, ...], bill: Bill, rules: RuleSet) -> tuple[Check, ...]:
    """Return the checks of one section; `kinds` are those of the defects it cures."""
    return tuple(_SectionChecks(kinds, bill).all(rules))


class _SectionChecks:
    def __init__(self, kinds: tuple[str, ...], bill: Bill) -> None:
        self.kinds, self.bill, self.takeoff = kinds, bill, bill.takeoff
        self.method = bill.method
        self.is_long = bill.chosen.to_um > bill.chosen.from_um
        self.cells = self.takeoff.ground.cells_between(*bill.extents["high"])

    def all(self, rules: RuleSet) -> list[Check]:
        """Return the checks that apply, in the order of work."""
        found, liner_mm = [], None
        if self.method.name in (*DIGGING, *_IN_PITS):
            found += [self._trench(), *self._spoil(), Check("notice", "rule_set", rules.notice, rules.notice_source)]
        if self.method.name in LINING:
            liner = self._liner()
            found.append(liner)
            liner_mm = dict(liner.results).get("si", {}).get("thickness_mm")
        if self.method.cures:
            found.append(drain_check(self.method.name, self.cells, liner_mm, self.takeoff))
        if self.method.name in _TESTED and self.is_long:
            found += [self._air_test(), _water_test()]
        return [*found, _clean_outs(self.takeoff, rules)]

    def _trench(self) -> Check:
        trench, takeoff = self.takeoff.book.trench, self.takeoff
        is_pit = self.method.name in _IN_PITS or not self.is_long
        first, last = self.bill.extents["high"]
        ends = (self.takeoff.bottom_m(at, "high") for at in (first, last))
        inside = (takeoff.bottom_m(at, "high") for at in takeoff.ground.marks if first < at < last)
        is_upright = self.method.name in _IN_PITS
        measures = {
            "depth": takeoff.pit_depth_m("high") if is_upright else max((*ends, *inside)),
            "bottom_width": trench.pit_width_m if is_pit else max(takeoff.cut(c, "high").width_m for c in self.cells),
            "length": trench.pit_length_m if is_pit else self.bill.length_m,
            "soil": takeoff.site.soil or "unclassified",
            "previously_disturbed": True,
            "protection": "shored" if is_upright else trench.protection,
            "sloped_sides": 4 if is_pit else 2,
        }
        words = "Each pit, shored on four sides," if is_upright else f"The {'pit' if is_pit else 'trench'}"
        return run("trench", measures, f"{words} at the greatest depth of the high case; the ground was dug before.")

    def _spoil(self) -> list[Check]:
        trench = self.takeoff.book.trench
        line = next((each for each in self.bill.lines if each.item in ("spoil", "pit_excavation")), None)
        if line is None or not line.amount("likely"):
            return []
        measures = {
            "bank_volume": line.amount("likely"),
            "swell_percent": trench.swell_percent,
            "truck_volume": trench.truck_volume_m3,
        }
        whole = "all that comes out of the pits" if line.item == "pit_excavation" else "what is not put back"
        return [run("spoil", measures, f"To carry away: {whole}.")]

    def _liner(self) -> Check:
        depth_m = max(max(cell.depths_m["high"]) for cell in self.cells)
        diameter_mm = max(cell.diameter_mm for cell in self.cells)
        water_m = self.takeoff.site.groundwater_depth_m
        over_m = depth_m if water_m is None else max(depth_m - water_m, Decimal(0))
        is_fallen = any(kind in _FALLEN for kind in self.kinds)
        measures: dict[str, Any] = {
            "condition": "fully_deteriorated" if is_fallen else "partially_deteriorated",
            "diameter": diameter_mm,
            "cover": max(depth_m - diameter_mm / 1000, Decimal("0.01")),
            "water_over_invert": over_m,
            "water_over_crown": max(over_m - diameter_mm / 1000, Decimal(0)),
        }
        words = "at its greatest depth" + (", water taken to the surface (house rule)" if water_m is None else "")
        return run("liner", measures, f"Wall thickness {words}.")

    def _air_test(self) -> Check:
        sizes: dict[Decimal, Decimal] = {}
        first, last = self.bill.chosen.from_um, self.bill.chosen.to_um
        for cell in self.cells:
            length_um = max(0, min(cell.to_um, last) - max(cell.from_um, first))
            if length_um:
                sizes[cell.diameter_mm] = sizes.get(cell.diameter_mm, Decimal(0)) + Decimal(length_um) / 10**6
        measures = {"standard": "F1417", "pressure_drop_psi": Decimal("0.5"), "sections": list(sizes.items())}
        return run("air-test", measures, "Acceptance after the work: the loss of 0.5 psi takes at least this long.")


def _water_test() -> Check:
    head = HEAD_TESTS[_HEAD]
    minutes = head.hold_s // 60
    words = (
        f"Acceptance after the work, instead of air: {head.head_ft} ft"
        f" ({length_in(head.head_ft * Decimal('0.3048'), 'si')} m) of water stand for {minutes} minutes without"
        " falling. Where the authority sets a leakage limit, compute it with the water test."
    )
    us = {"head": head.head_ft, "hold_s": head.hold_s}
    si = {"head": length_in(head.head_ft * Decimal("0.3048"), "si"), "hold_s": head.hold_s}
    cautions = ("A recording is not a pressure test, and a test says nothing about the wall.",)
    return Check("water-test", "head", words, head.source, cautions, (("us", us), ("si", si)))


def _clean_outs(takeoff: Takeoff, rules: RuleSet) -> Check:
    """Return how many clean-outs the rule set asks between the ends of the line."""
    length_m = Decimal(takeoff.ground.to_um - takeoff.ground.from_um) / 10**6
    spacing_m = rules.clean_out_spacing_m
    needed = 0
    if spacing_m and length_m > spacing_m:
        needed = int((length_m / spacing_m).to_integral_value(rounding=ROUND_CEILING)) - 1
    words = "The line is no longer than the spacing allowed: no clean-out is asked between its ends."
    if needed:
        words = f"The line is longer than the spacing allowed: clean-outs between its ends, at least {needed}."
    us, si = (
        {"line_length": length_in(length_m, units), "spacing": length_in(spacing_m, units), "needed": needed}
        for units in ("us", "si")
    )
    return Check("clean_outs", "spacing", words, rules.clean_out_source, (), (("us", us), ("si", si)))
