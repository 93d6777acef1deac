"""A lateral of 20 m in clay with a fracture at 10 m and roots at 3 m, and how it looks after the work."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from scoring.acceptance import Built, Closer, Closing, Later, Planned, PressureTest, outcome
from scoring.grading import BUILT_IN_SCHEMES, grade_lateral, load_scheme
from scoring.reconcile import reconcile
from scoring.scope.watching import Scale
from scoring.types import Access, Defect, Feature, Policy, Run, Segment

D = Decimal
SCHEME = load_scheme(BUILT_IN_SCHEMES["open-five"])
POLICY = Policy(fix_from_grade=3)
SCALE = Scale(True, 1)
PLAN = (Planned(1, "full_liner", D(8), D(12), ("b",), "The scope asks for an air test."),)


def run(id: str = "later", **changes: Any) -> Run:
    """A run of the whole lateral, the main reached, nothing found."""
    said: dict[str, Any] = {
        "id": id,
        "direction": "downstream",
        "start_access": Access("clean_out", "front clean-out"),
        "counter_start_m": D(0),
        "counter_end_m": D(20),
        "reached": "main",
        "segments": (Segment(D(0), D(20), "vitrified_clay", D(150)),),
        "features": (Feature("main", D(20)),),
    }
    return Run(**{**said, **changes})


def lined(**changes: Any) -> Run:
    """The run after the work: a liner from 8 to 12 m."""
    clay, liner = ("vitrified_clay", D(150)), ("cured_in_place_liner", D(144))
    segments = (Segment(D(0), D(8), *clay), Segment(D(8), D(12), *liner), Segment(D(12), D(20), *clay))
    return run(**{"segments": segments, **changes})


BEFORE = reconcile(
    [
        run(
            "before",
            defects=(
                Defect("a", "roots", D(3), degree="bundles"),
                Defect("b", "fracture", D(10), pattern="multiple"),
            ),
        )
    ]
)


def later(*runs: Run) -> Later:
    """Return what runs after the work saw."""
    pipe = reconcile(list(runs))
    return Later(tuple(one.id for one in runs), pipe, grade_lateral(pipe, SCHEME).findings)


def built(**changes: Any) -> Built:
    """The liner as it was built."""
    return Built(
        **{"section": 1, "method": "full_liner", "from_m": D(8), "to_m": D(12), "done_on": "2027-05-20", **changes}
    )


def air(measured_s: int | None, number: int = 1, **changes: Any) -> PressureTest:
    """An air test of the liner, 6 in, 0.5 psi: 170 s are asked (2:50, ASTM F1417, Table 2)."""
    standard = changes.pop("standard", "F1417")
    reading = {
        "standard": standard,
        "sections": [{"diameter": D("152.4"), "length": D(4)}],
        "pressure_drop_psi": D("0.5") if standard == "F1417" else D(1),
        "measured_s": measured_s,
    }
    said = {"from_m": D(8), "to_m": D(12), "made_at": "2027-05-20T15:00:00-05:00", **changes}
    return PressureTest(number=number, kind="air_test", outcome=outcome("air_test", reading, "si"), **said)


def head(head_m: str, held_s: int, code: str = "ipc", **changes: Any) -> PressureTest:
    """A head of water on the liner."""
    found = outcome("water_head", {"code": code, "head": D(head_m), "held_s": held_s}, "si")
    said = {"from_m": D(8), "to_m": D(12), "made_at": "2027-05-20T16:00:00-05:00", **changes}
    return PressureTest(number=changes.pop("number", 2), kind="water_head", outcome=found, **said)


def close(
    seen: Later | None, *tests: PressureTest, work: Built | None = None, plan: Any = PLAN, is_reported: bool = True
) -> Closing:
    """Return the scope after the work."""
    one = work or built()
    reported = {one.section: one} if is_reported else {}
    return Closer(BEFORE, POLICY, SCALE, "si").close(plan, reported, {one.section: seen}, list(tests))


def states(closing: Closing) -> list[str]:
    """Return the state of the whole and of each section."""
    return [closing.state, *(one.state for one in closing.sections)]


def met(closing: Closing) -> dict[str, bool | None]:
    """Return by criterion of the first section whether it is met."""
    return {one.name: one.is_met for one in closing.sections[0].criteria}


def said(closing: Closing, name: str) -> str:
    """Return what a criterion of the first section says."""
    return next(one.detail for one in closing.sections[0].criteria if one.name == name)
