"""Who pays: shares that rise with the cost, one cap for the whole plan, costs divided by where things lie."""

from decimal import Decimal
from itertools import pairwise

import pytest

from scoring.scope import DEFAULT_RULE_SET, load_rule_set, scope_document
from scoring.scope.payers import Payers, Work
from scoring.scope.shares import Cents, apportioned_rising
from scoring.scope.types import SCENARIOS
from scoring.types import Boundary, Depth, Site, Surface
from tests.scoring.scope.laterals import found, generated, graded, line
from tests.scoring.scope.test_books import METRE, ZoneCost, programme
from tests.scoring.scope.test_plans import BOOK, RULES, Policy, plan, scoped


def cents(low: int, likely: int, high: int) -> Cents:
    return {"low": low * 100, "likely": likely * 100, "high": high * 100}


def work(cost: Cents) -> Work:
    zone = ZoneCost("private", 0, 10 * METRE, cost, "")
    return Work("full_liner", (zone,), ((0, 10 * METRE, "structural"),), ("crack",))


def test_under_a_cap_no_share_falls_where_the_cost_rises() -> None:
    """Half, at most $1,000: 2,000 / 6,000 / 10,000 in all, so 1,000 in every case. The first section costs 1,000 in
    every case and keeps the 500 it had in the low one; the second has 500 too and its rise stays with the owner."""
    payers = Payers(load_rule_set(programme(cap=1000)))
    first, second = payers.shares([work(cents(1000, 1000, 1000)), work(cents(1000, 5000, 9000))])
    paid = [{share.payer: share.cost for share in shares} for shares in (first, second)]
    for each in paid:
        assert [each["city"].pick(scenario) for scenario in SCENARIOS] == [500, 500, 500]
    assert [paid[1]["owner"].pick(scenario) for scenario in SCENARIOS] == [500, 4500, 8500]


def test_a_deductible_and_a_cap_hold_once_for_the_plan() -> None:
    # 85 % of what is over 1,000, of two sections of 2,000: 0.85 x 3,000 = 2,550, capped at 2,000
    payers = Payers(load_rule_set(programme(share_percent=85, deductible=1000, cap=2000)))
    shares = payers.shares([work(cents(2000, 2000, 2000)), work(cents(2000, 2000, 2000))])
    assert sum(share.cost.likely for each in shares for share in each if share.payer == "city") == 2000


@pytest.mark.parametrize(("as_of", "share"), [("2026-03-03", 0), ("2026-03-04", 500)])
def test_once_in_five_years_pays_again_on_the_day_they_are_over(as_of: str, share: int) -> None:
    payers = Payers(load_rule_set(programme(once_per_years=5)), {"help": "2021-03-04"}, as_of)
    (shares,) = payers.shares([work(cents(1000, 1000, 1000))])
    assert sum(each.cost.likely for each in shares if each.payer == "city") == share


def test_a_rising_sum_is_split_so_that_no_part_falls() -> None:
    split = apportioned_rising({"low": 10, "likely": 11, "high": 20}, [cents(3, 3, 9), cents(3, 4, 4)])
    assert [[part[scenario] for scenario in SCENARIOS] for part in split] == [[5, 5, 14], [5, 6, 6]]


@pytest.mark.parametrize("seed", range(5000, 5060))
def test_every_share_rises_and_all_add_up_to_the_cent(seed: int) -> None:
    case = generated(seed)
    for each in scoped(case.lateral, case.findings, case.site, case.policy).plans:
        for section in each.sections:
            for share in section.payer_shares:
                assert share.cost.low <= share.cost.likely <= share.cost.high
            for scenario in SCENARIOS:
                whole = section.cost.pick(scenario)
                assert sum(share.cost.pick(scenario) for share in section.payer_shares) == whole
                assert sum(zone.cost.pick(scenario) for zone in section.zones) == whole


def over_the_line(surface: str = "asphalt_street") -> Site:
    """Private lawn to 10 m, then public ground."""
    surfaces = (Surface(Decimal(0), Decimal(10), "lawn"), Surface(Decimal(10), Decimal(20), surface))
    depths = (Depth(Decimal(0), Decimal(1), "invert"), Depth(Decimal(20), Decimal(1), "invert"))
    return Site((Boundary("property_line", Decimal(10)),), depths, surfaces)


def test_asphalt_and_traffic_are_paid_where_they_lie() -> None:
    """Six metres dug, half of it before the property line, half in the street, by hand in feet from the rate book:
    2.5 ft wide, 1 m to the invert and so 3.623 ft to the bottom, 9.843 ft in each zone and 1 ft of cut-back."""
    lateral = line([found("sag", "sag", "7", "13", sd="0")])
    policy = Policy(3, margin_m=Decimal(0), methods=("open_cut_replacement",))
    (section,) = scoped(lateral, graded(("sag", 4)), over_the_line(), policy).plans[0].sections
    private, public = section.zones
    assert (private.to_m, public.from_m) == (10, 10)

    long = 3 / 0.3048
    dug = 2.5 * (1 / 0.3048 + (4.215 - 4) / 2 / 12 + 4 / 12) * long / 27
    pipe = 3.14159265 / 4 * (4.215 / 12) ** 2 * long / 27
    embedded = 2.5 * (4 + 4.215 + 6) / 12 * long / 27
    alike = 55 * long + 35 * dug + 55 * (embedded - pipe) + 22 * (dug - embedded)
    opened = 4.5 * (long + 1) / 9
    lawn = alike + 18 * 1.3 * embedded + 9 * opened
    street = alike + 15 * long + 18 * 1.3 * dug + 110 * opened + 500 * long / 20
    assert float(public.cost.likely / private.cost.likely) == pytest.approx(street / lawn, rel=1e-3)

    assert "where the priced items lie" in public.how
    assert "restore asphalt street" in public.how
    assert "set up" in public.how.partition("as a whole (")[2]


def test_a_pit_of_a_burst_is_paid_in_the_zone_it_lies_in() -> None:
    lateral = line([found("c", "broken", "1", "19", sd="0")])
    scope = scoped(lateral, graded(("c", 5)), over_the_line("lawn"), Policy(3, methods=("pipe_bursting",)))
    private, public = scope.plans[0].sections[0].zones
    # One pit each and the same ground: what differs is the length alone, 10 m each way of the line, 1 m unworked.
    assert abs(private.cost.likely - public.cost.likely) < Decimal(1)


def test_a_section_in_one_zone_says_so() -> None:
    scope = scoped(line([found("c", "crack", "10")]), graded(("c", 4)))
    document = scope_document(scope, "us")["plans"][0]["sections"][0]
    assert [zone["divided"] for zone in document["zones"]] == ["It lies in one zone."]


def test_splitting_the_programme_never_depends_on_the_order_of_sections() -> None:
    payers = Payers(load_rule_set(programme(cap=1000)))
    works = [work(cents(1000, 2000, 3000)), work(cents(500, 900, 4000))]
    there = [{s.payer: s.cost for s in shares} for shares in payers.shares(works)]
    back = [{s.payer: s.cost for s in shares} for shares in payers.shares(works[::-1])][::-1]
    for one, other in zip(there, back, strict=True):
        assert abs(one["city"].likely - other["city"].likely) <= Decimal("0.01")


def test_a_higher_cap_never_pays_less() -> None:
    case = generated(12)
    paid = []
    for cap in (0, 500, 1000, 2500, 100_000):
        rules = load_rule_set({**DEFAULT_RULE_SET, "programmes": [{**DEFAULT_RULE_SET["programmes"][0], "cap": cap}]})
        made = plan(case.lateral, case.findings, case.site, case.policy, BOOK, rules).plans[2]
        paid.append(sum(share.cost.likely for share in made.payers if share.payer == "repair_programme"))
    assert all(less <= more for less, more in pairwise(paid))
    assert RULES.programmes[0].cap == 2500
