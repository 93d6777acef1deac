"""Now, in stages or late: never to be read as a saving."""

from decimal import Decimal

from scoring.scope import Scope
from scoring.types import Policy
from tests.scoring.scope.laterals import found, graded, line
from tests.scoring.scope.test_plans import scoped


def lined(horizon: int = 20) -> Scope:
    """Two cracks to be lined, the first of the worst grade, by sections of their own."""
    lateral = line([found("bad", "crack", "3"), found("less", "crack", "17")])
    policy = Policy(3, methods=("sectional_liner", "full_liner"), horizon_years=horizon)
    return scoped(lateral, graded(("bad", 5), ("less", 4)), policy=policy)


def alternatives(scope: Scope) -> dict[str, dict[str, object]]:
    return {each["name"]: each for each in scope.waiting["alternatives"]}  # type: ignore[attr-defined]


def test_the_caution_comes_first_and_denies_a_saving() -> None:
    waiting = lined().waiting
    assert next(iter(waiting)) == "caution"
    assert "no saving" in str(waiting["caution"])
    assert "not from laterals" in str(waiting["caution"])
    assert "present_value" not in waiting


def test_acting_now_counts_what_wears_out_within_the_horizon() -> None:
    """Cut roots are back in about two years: over five years they are cut in years 0, 2 and 4, at 3 % discount
    worth C (1 + 1.03^-2 + 1.03^-4)."""
    policy = Policy(3, methods=("root_cutting_and_cleaning",), horizon_years=5)
    scope = scoped(line([found("r", "roots", "10")]), graded(("r", 4)), policy=policy)
    now = alternatives(scope)["now"]
    total = scope.plans[0].total
    assert total is not None
    assert [step["year"] for step in now["steps"]] == [0, 2, 4]  # type: ignore[attr-defined]
    expected = float(total.likely) * (1 + 1.03**-2 + 1.03**-4)
    assert abs(float(now["present_value"]["likely"]) - expected) < 0.02  # type: ignore[index]


def test_the_worst_grade_comes_first_and_the_rest_in_five_years() -> None:
    stages = alternatives(lined())["in_stages"]
    first, second = stages["steps"]  # type: ignore[misc]
    assert (first["year"], second["year"]) == (0, 5)
    # The second stage pays crew and permit again: 400 and 250 in the default rate book. What falls from class 4 in
    # five years, 1 - 0.988^5, is renewed whole instead.
    scope, failed = lined(), 1 - Decimal("0.988") ** 5
    whole = scope.plans[2].total
    assert whole is not None
    costs = {section.cures[0]: section.cost.likely for section in scope.plans[0].sections}
    assert first["cost"] == costs["bad"]
    expected = costs["less"] * (1 - failed) + whole.likely * failed + 400 + 250
    assert abs(second["cost"] - expected) < Decimal("0.01")


def test_one_grade_alone_gives_no_stages() -> None:
    stages = alternatives(scoped(line([found("c", "crack", "10")]), graded(("c", 4))))["in_stages"]
    assert (stages["is_possible"], stages["present_value"]) == (False, None)


def test_late_counts_what_will_have_failed_at_the_price_of_the_whole_line() -> None:
    """From the worst class on all has failed: in ten years the whole line, worth its price / 1.03^10 today."""
    scope = lined()
    late, whole = alternatives(scope)["late"], scope.plans[2].total
    assert whole is not None
    assert abs(float(late["present_value"]["likely"]) - float(whole.likely) / 1.03**10) < 0.02  # type: ignore[index]
    assert late["before_acting"]["share_in_worst_class"] == 1  # type: ignore[index]


def test_the_life_of_a_method_is_a_range_and_so_is_what_it_is_worth() -> None:
    """A sectional liner lasts 15, 30 or 50 years: over 40 years it is done once in the low case, twice in the likely,
    three times in the high."""
    scope = lined(40)
    total, now = scope.plans[0].total, alternatives(scope)["now"]["present_value"]
    assert {section.method for section in scope.plans[0].sections} == {"sectional_liner"}
    assert total is not None
    assert now["low"] == total.low  # type: ignore[index]
    assert abs(float(now["likely"]) - float(total.likely) * (1 + 1.03**-30)) < 0.02  # type: ignore[index]
    assert abs(float(now["high"]) - float(total.high) * (1 + 1.03**-15 + 1.03**-30)) < 0.02  # type: ignore[index]


def test_nothing_to_fix_is_nothing_to_put_off() -> None:
    waiting = scoped(line([found("c", "crack", "10")]), graded(("c", 2))).waiting
    assert waiting["alternatives"] == []
    assert "Nothing has to be fixed" in str(waiting["reason"])


def test_what_nobody_can_cure_makes_no_stage_of_its_own() -> None:
    """The worst finding lies where no method allowed fits; the rest is one grade and so one stage."""
    lateral = line([found("sag", "sag", "3"), found("crack", "crack", "15")])
    scope = scoped(lateral, graded(("sag", 5), ("crack", 4)), policy=Policy(3, methods=("sectional_liner",)))
    assert [each.defect for each in scope.not_curable] == ["sag"]
    assert alternatives(scope)["in_stages"]["is_possible"] is False
    assert scope.waiting["starts_in_class"] == 5


def test_what_may_fall_in_is_never_put_off() -> None:
    """A hole with a void behind it raises the alarm; graded milder than the crack, it is still done first."""
    defects = [found("bad", "crack", "3"), found("fall", "hole", "17", void_seen=True)]
    scope = scoped(line(defects), graded(("bad", 5), ("fall", 4)), policy=Policy(3))
    assert [alarm.ref for alarm in scope.alarms] == ["fall"]
    offered = alternatives(scope)
    assert (offered["late"]["is_possible"], offered["late"]["present_value"]) == (False, None)
    assert "fall: an alarm says that the pipe may fall in" in str(offered["late"]["reason"])
    assert offered["now"]["is_possible"]


def test_without_an_alarm_acting_late_is_weighed() -> None:
    assert alternatives(lined())["late"]["is_possible"] is True


def test_what_may_fall_in_comes_in_the_first_stage_beside_the_worst() -> None:
    defects = [found("bad", "crack", "3"), found("fall", "hole", "10", void_seen=True), found("less", "crack", "17")]
    scope = scoped(line(defects), graded(("bad", 5), ("fall", 4), ("less", 4)), policy=Policy(3))
    cured = {each.order: each.cures for each in scope.plans[0].sections}
    first, second = alternatives(scope)["in_stages"]["steps"][:2]  # type: ignore[index]
    assert "fall" in [ref for order in first["sections"] for ref in cured[order]]
    assert [ref for order in second["sections"] for ref in cured[order]] == ["less"]
