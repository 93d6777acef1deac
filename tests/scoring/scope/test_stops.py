"""A run that was stopped: work at its end is incomplete, and nobody may read it as a cure."""

from dataclasses import replace
from decimal import Decimal

import pytest

from scoring.scope import scope_document
from scoring.types import Lateral, Unseen
from tests.scoring.scope.laterals import found, graded, line
from tests.scoring.scope.test_plans import Policy, scoped


def stopped(station: str = "20", sd: str = "0.1") -> Lateral:
    lateral = line([found("y", "collapse", station, sd=sd), found("c", "crack", "5")])
    return replace(lateral, reaches_main=False, unseen=(Unseen(Decimal(20), None, "not_reached"),))


def test_a_collapse_at_a_stop_is_not_said_to_be_cured() -> None:
    plan = scope_document(scoped(stopped(), graded(("y", 5))), "us")["plans"][0]
    (section,) = plan["sections"]
    assert (section["cures"], section["cures_in_part"]) == ([], ["y"])
    assert section["is_complete"] is False
    assert "nobody saw on" in section["incomplete"]
    assert plan["is_possible"] and "incomplete" in plan["reason"]
    assert "holds for what was seen" in plan["proof"]["method"]


def test_the_lateral_is_to_be_looked_at_again_and_the_answer_says_what_was_assumed() -> None:
    scope = scoped(stopped(), graded(("y", 5)), as_of="2026-03-04")
    (again,) = scope.monitor
    assert (again.defect, again.look_again_by) == ("y", "2027-03-04")
    assert "as soon as the way is free" in again.reason
    assert any("quantities and prices end with the seeing" in words for words in scope.assumptions)


@pytest.mark.parametrize(("station", "is_hidden"), [("19.4", False), ("19.5", True)])
def test_what_reaches_the_stop_with_margin_and_doubt_is_hidden(station: str, is_hidden: bool) -> None:
    # 0.3 m margin and 2 x 0.1 m: 19.5 m reaches the stop at 20 m, 19.4 m does not
    scope = scoped(stopped(station), graded(("y", 5)))
    assert [each.defect for each in scope.monitor] == (["y"] if is_hidden else [])
    sections = scope.plans[0].sections
    assert [each.cures_in_part for each in sections] == [("y",) if is_hidden else ()]


def test_away_from_the_stop_work_is_complete() -> None:
    plan = scoped(stopped(), graded(("c", 4)), policy=Policy(3, methods=("spot_repair",))).plans[0]
    (section,) = plan.sections
    assert section.incomplete is None
    assert "holds for what was seen" not in plan.proof.method
    assert section.cures == ("c",)


def test_a_line_renewed_up_to_a_stop_is_incomplete_and_leaves_what_lies_beyond() -> None:
    whole = scoped(stopped(), graded(("c", 4))).plans[2]
    assert [section.incomplete is not None for section in whole.sections if section.to_m == 20] == [True]
    assert [(left.from_m, left.to_m) for left in whole.leaves] == [(Decimal(20), None)]


def test_a_run_stopped_on_its_way_up_hides_the_upstream_end() -> None:
    lateral = replace(line([found("y", "hole", "0.1")]), is_upstream_end_open=True, reaches_building=False)
    scope = scoped(lateral, graded(("y", 5)))
    (section,) = scope.plans[0].sections
    assert section.cures == ()
    assert section.incomplete is not None and "up to the building" in section.incomplete
    assert [(left.from_m, left.to_m) for left in scope.plans[2].leaves] == [(None, Decimal(0))]


def test_runs_stopped_from_both_sides_hide_what_lies_between() -> None:
    lateral = line([found("y", "collapse", "10")])
    lateral = replace(lateral, unseen=(Unseen(Decimal(10), Decimal(12), "not_reached"),))
    (section,) = scoped(lateral, graded(("y", 5))).plans[0].sections
    assert section.cures_in_part == ("y",)


def test_a_stop_hides_how_far_the_damage_goes_and_the_scope_says_so() -> None:
    said = scoped(stopped(), graded(("y", 5))).cautions
    assert any("how far the damage goes" in caution for caution in said)
    seen_through = scoped(line([found("y", "collapse", "10")]), graded(("y", 5)))
    assert not any("how far the damage goes" in caution for caution in seen_through.cautions)
    assert seen_through.plans[0].sections[0].cures == ("y",)
