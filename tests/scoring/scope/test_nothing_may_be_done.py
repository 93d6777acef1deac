"""Where nothing may or can be done a scope has no price, proves nothing, and puts the danger on top."""

from dataclasses import replace
from decimal import Decimal

from scoring.grading import FOREIGN_LINE_CAUTION
from scoring.scope import scope_document
from scoring.types import Defect, LateralDefect, Site, Surface
from tests.scoring.scope.laterals import found, graded, line
from tests.scoring.scope.test_plans import Policy, scoped

GAS = line([found("gas", "foreign_line", "10"), found("a", "crack", "11"), found("b", "crack", "16")])
GRADES = graded(("gas", 5), ("a", 4), ("b", 4))


def test_a_foreign_line_stops_every_plan_and_none_has_a_price() -> None:
    document = scope_document(scoped(GAS, GRADES), "us")
    assert [plan["name"] for plan in document["plans"]] == ["least_cost", "least_digging", "whole_line"]
    for plan in document["plans"]:
        assert plan["is_possible"] is False
        assert "foreign line" in plan["reason"]
        assert (plan["sections"], plan["payers"]) == ([], [])
        assert (plan["total"], plan["against_least_cost"]) == (None, None)
        assert (plan["proof"]["optimal"], plan["proof"]["lower_bound"]) == (False, None)
    assert (document["proof"]["optimal"], document["proof"]["lower_bound"]) == (False, None)
    assert "Nothing is proved" in document["proof"]["method"]


def test_the_danger_stands_on_top_and_with_every_finding_left() -> None:
    scope = scoped(GAS, GRADES)
    assert scope.alarms[0].code == "foreign_line"
    assert scope.cautions[0] == FOREIGN_LINE_CAUTION
    assert {each.defect for each in scope.not_curable} == {"gas", "a", "b"}
    assert all(each.cautions == (FOREIGN_LINE_CAUTION,) for each in scope.not_curable)
    refused = next(each for each in scope.not_curable if each.defect == "gas").refused
    assert len(refused) == 9  # every method that cures anything
    assert {each.limit for each in refused} == {"foreign_line"}


def test_the_caution_forbids_cutting_jetting_and_digging() -> None:
    for words in ("No cutting, no jetting", "no digging by anyone but the utility", "gas emergency number"):
        assert words in FOREIGN_LINE_CAUTION


def test_a_foreign_line_nobody_can_place_stops_as_much() -> None:
    adrift = LateralDefect(Defect("gas", "foreign_line", Decimal(3)), None, None, None, ())
    scope = scoped(line([adrift, found("a", "crack", "11")]), graded(("gas", 5), ("a", 4)))
    assert [plan.is_possible for plan in scope.plans] == [False, False, False]


def test_waiting_is_no_choice_beside_a_foreign_line() -> None:
    waiting = scoped(GAS, GRADES).waiting
    assert next(iter(waiting)) == "caution"
    assert waiting["alternatives"] == []
    assert "Waiting is no choice here" in str(waiting["reason"])


def test_where_no_method_fits_there_is_no_price_either() -> None:
    site = Site(surfaces=(Surface(Decimal(0), Decimal(20), "driveway"),))
    scope = scoped(line([found("d", "sag", "10")]), graded(("d", 4)), site, Policy(3, dig_allowed_in=("lawn",)))
    assert [plan.total for plan in scope.plans] == [None, None, None]
    assert not scope.proof.optimal


def test_what_can_be_fixed_is_planned_and_the_plan_says_what_it_leaves() -> None:
    site = Site(surfaces=(Surface(Decimal(0), Decimal(20), "driveway"),))
    lateral = line([found("sag", "sag", "10"), found("roots", "roots", "5")])
    scope = scoped(lateral, graded(("sag", 4), ("roots", 4)), site, Policy(3, dig_allowed_in=("lawn",)))
    first = scope.plans[0]
    assert first.is_possible
    assert first.reason is not None and first.reason.startswith("1 of 2 findings")


def test_nothing_to_fix_is_possible_and_costs_nothing() -> None:
    scope = scoped(line([found("d", "crack", "10")]), graded(("d", 2)))
    assert scope.plans[0].is_possible
    assert scope.plans[0].total is not None and scope.plans[0].total.likely == 0
    assert scope.proof.method == "Nothing has to be fixed under this policy: a plan without work costs nothing."


def test_a_lateral_without_an_extent_proves_nothing() -> None:
    document = scope_document(scoped(replace(line(), from_m=None, to_m=None), ()), "si")
    assert document["proof"]["lower_bound"] is None
    assert next(iter(document["waiting"])) == "caution"
