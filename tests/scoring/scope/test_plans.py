"""What a scope proposes, refuses, watches and costs."""

from dataclasses import replace
from decimal import Decimal

import pytest

from scoring.grading import BUILT_IN_SCHEMES, grade_lateral, load_scheme
from scoring.scope import (
    DEFAULT_RATE_BOOK,
    DEFAULT_RULE_SET,
    Scope,
    load_rate_book,
    load_rule_set,
    plan,
    scope_document,
)
from scoring.types import (
    Access,
    Boundary,
    Defect,
    GradedFinding,
    LateralDefect,
    Policy,
    Segment,
    Site,
    Surface,
)
from tests.scoring.scope.laterals import feature, found, generated, graded, line

BOOK = load_rate_book(DEFAULT_RATE_BOOK)
RULES = load_rule_set(DEFAULT_RULE_SET)


def scoped(lateral, findings, site=None, policy=None, **more) -> Scope:  # type: ignore[no-untyped-def]
    return plan(lateral, findings, site or Site(), policy or Policy(3), BOOK, RULES, **more)


def limits(scope: Scope, defect: str, method: str) -> set[str]:
    """Return the limits that refused a method for a defect."""
    refused = dict(scope.refused)
    return {one.limit for one in refused.get(defect, ()) if one.method == method}


def likely(scope: Scope) -> Decimal:
    """Return the likely cost of the cheapest plan; nothing where nothing can be fixed."""
    total = scope.plans[0].total
    return Decimal(0) if total is None else total.likely


def one(kind: str, station: str = "10", **more: object):  # type: ignore[no-untyped-def]
    return scoped(line([found("d", kind, station, **more)]), graded(("d", 4)))


def test_a_defect_lies_widened_by_margin_and_doubt_in_its_section() -> None:
    scope = one("crack", sd="0.2")
    section = scope.plans[0].sections[0]
    # 10 m less and more 0.3 m margin and 2 x 0.2 m
    assert section.from_m <= Decimal("9.3")
    assert section.to_m >= Decimal("10.7")
    assert section.cures == ("d",)


def test_what_lies_at_the_main_is_clipped_to_the_pipe() -> None:
    scope = one("crack", "20", sd="0.2")
    assert scope.plans[0].sections[0].to_m == 20


@pytest.mark.parametrize("method", ["full_liner", "sectional_liner", "pipe_bursting"])
def test_a_sag_stays_where_the_new_pipe_follows_the_old_grade(method: str) -> None:
    assert limits(one("sag"), "d", method) == {"sag_not_cured"}


def test_soil_showing_rules_a_liner_out_and_digging_in() -> None:
    scope = one("fracture", soil_seen=True)
    assert limits(scope, "d", "full_liner") == {"soil_or_void"}
    assert scope.plans[0].sections[0].method == "spot_repair"


@pytest.mark.parametrize(("percent", "refused"), [("10", set()), ("10.1", {"ovality"})])
def test_over_ten_percent_out_of_round_no_liner(percent: str, refused: set[str]) -> None:
    assert limits(one("deformation", percent=Decimal(percent)), "d", "full_liner") == refused


@pytest.mark.parametrize(("size", "refused"), [("76.1", True), ("76.2", False), ("304.8", False), ("304.9", True)])
def test_lateral_liners_are_made_for_three_to_twelve_inches(size: str, refused: bool) -> None:
    # ASTM F2561: 3 to 12 in laterals
    lateral = line([found("d", "crack", "10")])
    lateral = replace(lateral, segments=(Segment(Decimal(0), Decimal(20), "vitrified_clay", Decimal(size)),))
    scope = scoped(lateral, graded(("d", 4)))
    assert (limits(scope, "d", "full_liner") == {"liner_size"}) is refused


@pytest.mark.parametrize(("kind", "limit"), [("trap", "through_trap"), ("size_change", "size_change")])
def test_no_liner_goes_through_a_trap_or_a_change_of_size(kind: str, limit: str) -> None:
    lateral = line([found("a", "crack", "5"), found("b", "crack", "10"), found("c", "crack", "15")])
    lateral = replace(lateral, features=(feature(kind, "10"),))
    scope = scoped(lateral, graded(("a", 4), ("b", 4), ("c", 4)), policy=Policy(3, methods=("full_liner",)))
    assert limits(scope, "b", "full_liner") == {limit}
    assert [each.defect for each in scope.not_curable] == ["b"]
    assert all(section.to_m <= 10 or section.from_m >= 10 for section in scope.plans[0].sections)


def test_bituminous_fibre_pipe_is_replaced() -> None:
    scope = scoped(line([found("d", "crack", "10")], material="bituminous_fibre"), graded(("d", 4)))
    assert limits(scope, "d", "full_liner") == {"fibre_pipe"}
    assert scope.plans[0].sections[0].method in ("spot_repair", "open_cut_replacement", "pipe_bursting")


def test_where_digging_is_not_allowed_the_answer_names_the_surface() -> None:
    site = Site(surfaces=(Surface(Decimal(0), Decimal(20), "driveway"),))
    policy = Policy(3, dig_allowed_in=("lawn",))
    scope = scoped(line([found("d", "sag", "10")]), graded(("d", 4)), site, policy)
    assert scope.plans[0].sections == ()
    (left,) = scope.not_curable
    assert {each.limit for each in left.refused if each.method == "spot_repair"} == {"dig_not_allowed"}
    assert "driveway" in next(each.detail for each in left.refused if each.method == "spot_repair")


def test_under_the_building_only_replacement_inside_serves_a_sag() -> None:
    site = Site(boundaries=(Boundary("building_wall", Decimal(5)),))
    scope = scoped(line([found("d", "sag", "2")]), graded(("d", 4)), site)
    assert [section.method for section in scope.plans[0].sections] == ["inside_replacement"]


def test_a_scope_raises_the_same_alarms_in_the_same_words_as_the_grading() -> None:
    lateral = line([found("x", "broken", "10", soil_seen=True), found("y", "collapse", "16")])
    scope = scoped(lateral, graded(("x", 5), ("y", 5)))
    assert scope.alarms == grade_lateral(lateral, load_scheme(BUILT_IN_SCHEMES["open-five"])).alarms
    assert [alarm.ref for alarm in scope.alarms] == ["x", "y"]
    assert all("do not jet or cut" in alarm.detail for alarm in scope.alarms)


def test_a_defect_without_a_station_cannot_be_worked_on() -> None:
    adrift = LateralDefect(Defect("d", "crack", Decimal(3)), None, None, None, ())
    scope = scoped(line([adrift]), graded(("d", 4)))
    assert scope.not_curable[0].reason.startswith("Position unknown")
    assert [each.is_possible for each in scope.plans] == [False, False, False]
    assert [each.total for each in scope.plans] == [None, None, None]
    assert scope.impossible is not None and "not_curable" in scope.impossible


def test_a_lateral_without_an_extent_gives_a_reason() -> None:
    scope = scoped(replace(line(), from_m=None, to_m=None), ())
    assert scope.plans == ()
    assert scope.impossible
    assert scope_document(scope, "us")["proof"]["optimal"] is False


def test_without_a_clean_out_the_methods_that_need_one_pay_for_one() -> None:
    findings, defects = graded(("d", 4)), [found("d", "roots", "10")]
    policy = Policy(3, methods=("root_cutting_and_cleaning",))
    with_it = scoped(line(defects), findings, policy=policy)
    without = scoped(replace(line(defects), datum=Access("roof_vent")), findings, policy=policy)
    assert [section.method for section in without.plans[0].sections] == [
        "new_clean_out",
        "root_cutting_and_cleaning",
    ]
    assert without.plans[0].total.likely - with_it.plans[0].total.likely == 1300  # the rate book's clean-out


@pytest.mark.parametrize(
    ("kind", "grade", "by"),
    [
        ("crack", 2, "2029-02-28"),  # minor: 3 to 5 years, Seattle Public Utilities
        ("crack", 3, "2027-02-28"),  # moderate: every 1 to 2 years, Seattle
        ("sag", 3, "2028-02-28"),  # moderate: 2 to 5 years, Seattle
    ],
)
def test_what_is_not_fixed_is_looked_at_again_by_a_date(kind: str, grade: int, by: str) -> None:
    scope = scoped(
        line([found("d", kind, "10")]), graded(("d", grade)), policy=Policy(4), as_of="2026-02-28T09:00:00Z"
    )
    assert [(each.defect, each.look_again_by) for each in scope.monitor] == [("d", by)]


def test_the_best_grade_is_left_alone() -> None:
    assert scoped(line([found("d", "sag", "10")]), graded(("d", 1)), policy=Policy(4)).monitor == ()


def test_a_scheme_that_counts_down_is_read_its_own_way() -> None:
    lateral = line([found("bad", "crack", "5"), found("good", "crack", "15")])
    findings = graded(("bad", 1), ("good", 4))
    scope = scoped(lateral, findings, policy=Policy(2), is_higher_worse=False)
    assert [section.cures for section in scope.plans[0].sections] == [("bad",)]
    assert [each.defect for each in scope.monitor] == ["good"]


def test_the_whole_line_is_renewed_end_to_end() -> None:
    scope = one("crack")
    whole = scope.plans[2]
    assert whole.name == "whole_line"
    assert (min(s.from_m for s in whole.sections), max(s.to_m for s in whole.sections)) == (0, 20)
    assert whole.leaves == ()
    assert whole.against_least_cost == whole.total.likely - scope.plans[0].total.likely > 0


@pytest.mark.parametrize("seed", range(2000, 2040))
def test_totals_shares_and_lines_add_up_to_the_cent(seed: int) -> None:
    case = generated(seed)
    scope = scoped(case.lateral, case.findings, case.site, case.policy)
    for each in scope.plans:
        if each.total is None:
            assert not each.is_possible
            continue
        for name in ("low", "likely", "high"):
            costs = [getattr(section.cost, name) for section in each.sections]
            assert sum(costs) == getattr(each.total, name)
            for section in each.sections:
                shares = [getattr(share.cost, name) for share in section.payer_shares]
                assert sum(shares) == getattr(section.cost, name)
        for section in each.sections:
            assert sum(line.amount_due or 0 for line in section.quantities) == section.cost.likely
        assert each.total.low <= each.total.likely <= each.total.high
        assert each.proof.optimal
    first, digging, whole = scope.plans
    if first.total is None:
        return
    assert first.total.likely <= min(digging.total.likely, whole.total.likely)
    assert digging.dug_volume_m3 <= first.dug_volume_m3


@pytest.mark.parametrize("seed", range(3000, 3030))
def test_removing_a_defect_never_makes_the_plan_dearer(seed: int) -> None:
    case = generated(seed)
    full = likely(scoped(case.lateral, case.findings, case.site, case.policy))
    for defect in case.lateral.defects:
        findings = tuple(each for each in case.findings if each.ref != defect.defect.ref)
        fewer = likely(scoped(case.lateral, findings, case.site, case.policy))
        assert fewer <= full


@pytest.mark.parametrize("seed", range(3100, 3120))
def test_a_dearer_rate_never_makes_the_plan_cheaper(seed: int) -> None:
    case = generated(seed)
    base = likely(plan(case.lateral, case.findings, case.site, case.policy, BOOK, RULES))
    for name, rates in BOOK.methods.items():
        up = replace(rates, set_up=replace(rates.set_up, likely=rates.set_up.likely + 50))
        book = replace(BOOK, methods={**BOOK.methods, name: up})
        dearer = likely(plan(case.lateral, case.findings, case.site, case.policy, book, RULES))
        assert base <= dearer <= base + 50 * 20


@pytest.mark.parametrize("seed", range(3200, 3220))
def test_splitting_a_segment_at_a_feature_changes_nothing(seed: int) -> None:
    case = generated(seed)
    first, second = case.lateral.segments
    middle = (first.from_m + first.to_m) / 2
    split = replace(case.lateral, segments=(replace(first, to_m=middle), replace(first, from_m=middle), second))
    whole = scope_document(scoped(case.lateral, case.findings, case.site, case.policy), "us")
    assert scope_document(scoped(split, case.findings, case.site, case.policy), "us") == whole


def test_equal_input_gives_equal_answers() -> None:
    case = generated(7)
    answers = {repr(scope_document(scoped(case.lateral, case.findings, case.site, case.policy), "si")) for _ in "ab"}
    assert len(answers) == 1


def test_a_blockage_stays_with_the_owner_and_a_break_in_the_street_with_the_authority() -> None:
    site = Site(boundaries=(Boundary("building_wall", Decimal(1)), Boundary("property_line", Decimal(8))))
    lateral = line([found("break", "fracture", "12"), found("roots", "roots", "16")])
    findings = (
        GradedFinding("break", "structural", 4, "r", "s"),
        GradedFinding("roots", "service", 4, "r", "s"),
    )
    policy = Policy(3, methods=("spot_repair", "root_cutting_and_cleaning"))
    scope = scoped(lateral, findings, site, policy)
    payers = {s.method: {share.payer for share in s.payer_shares} for s in scope.plans[0].sections}
    assert payers == {"spot_repair": {"sewer_authority"}, "root_cutting_and_cleaning": {"owner"}}


def test_a_programme_pays_half_up_to_its_cap() -> None:
    site = Site(boundaries=(Boundary("building_wall", Decimal(1)), Boundary("property_line", Decimal(20))))
    lateral = line([found("sag", "fracture", "3", "18", soil_seen=True)])
    scope = scoped(lateral, graded(("sag", 5)), site, Policy(3, methods=("open_cut_replacement",)))
    shares = {share.payer: share.cost.likely for share in scope.plans[0].payers}
    assert scope.plans[0].total.likely > 5000
    assert shares["repair_programme"] == 2500
