"""The order of work, and what sections that meet share."""

from itertools import combinations

import pytest

from scoring.scope.takeoff import DIGGING, LINING
from scoring.scope.types import Plan
from scoring.types import Boundary, Decimal, Site
from tests.scoring.scope.laterals import found, generated, graded, line
from tests.scoring.scope.test_plans import Access, Policy, replace, scoped


def lined_through() -> Plan:
    """Soil shows at 10 m, so it is dug up; the whole line is to be renewed, by lining."""
    lateral = line([found("hole", "hole", "10", soil_seen=True)])
    methods = ("spot_repair", "full_liner")
    return scoped(lateral, graded(("hole", 5)), policy=Policy(3, methods=methods)).plans[2]


def test_what_is_dug_up_is_dug_up_before_the_line_is_lined_through_it() -> None:
    sections = {section.method: section for section in lined_through().sections}
    spot, liner = sections["spot_repair"], sections["full_liner"]
    assert (spot.order, liner.order) == (1, 2)
    (shared,) = liner.shares
    assert (shared.order, shared.from_m, shared.to_m) == (1, spot.from_m, spot.to_m)
    assert "Dug up in step 1, lined through in step 2" in shared.note
    assert any("common practice" in reason for reason in liner.order_reasons)


def test_roots_are_cut_before_anything_is_lined_or_dug() -> None:
    lateral = line([found("roots", "roots", "3"), found("sag", "sag", "15")])
    plan = scoped(lateral, graded(("roots", 4), ("sag", 4))).plans[0]
    orders = {section.method: section.order for section in plan.sections}
    assert orders["root_cutting_and_cleaning"] < orders["spot_repair"]


def test_the_clean_out_comes_first() -> None:
    lateral = replace(line([found("roots", "roots", "10")]), datum=Access("roof_vent"))
    policy = Policy(3, methods=("root_cutting_and_cleaning",))
    first = min(scoped(lateral, graded(("roots", 4)), policy=policy).plans[0].sections, key=lambda each: each.order)
    assert first.method == "new_clean_out"
    assert "Root cutting and cleaning" in first.reasons[0]


def test_a_section_that_cures_nothing_says_why_it_is_there() -> None:
    plan = scoped(line([found("c", "crack", "10")]), graded(("c", 2))).plans[2]
    assert [section.cures for section in plan.sections] == [()]
    assert plan.sections[0].reasons[0] == "No finding is cured here: this plan renews the whole line."


@pytest.mark.parametrize("seed", range(4000, 4060))
def test_every_plan_has_one_order_in_which_nothing_is_undone(seed: int) -> None:
    case = generated(seed)
    for plan in scoped(case.lateral, case.findings, case.site, case.policy).plans:
        assert sorted(section.order for section in plan.sections) == list(range(1, len(plan.sections) + 1))
        for one, other in combinations(plan.sections, 2):
            meet = max(one.from_m, other.from_m) < min(one.to_m, other.to_m)
            assert meet is any(shared.order == other.order for shared in one.shares)
            if one.method in LINING and other.method in DIGGING:
                assert other.order < one.order


def test_replacing_inside_and_outside_do_not_dig_the_same_ground_where_they_need_not() -> None:
    """A defect over the wall at 5 m is dug out from inside; the trench outside begins where that ends."""
    site = Site(boundaries=(Boundary("building_wall", Decimal(5)),))
    lateral = line([found("sag", "sag", "5", sd="0")])
    policy = Policy(3, methods=("open_cut_replacement", "inside_replacement"))
    whole = scoped(lateral, graded(("sag", 5)), site, policy).plans[2]
    assert [(section.method, section.from_m, section.to_m) for section in whole.sections] == [
        ("inside_replacement", Decimal(0), Decimal("5.3")),
        ("open_cut_replacement", Decimal("5.3"), Decimal(20)),
    ]
