"""Low, likely and high: doubt about stations and depths carried into lengths, quantities and prices."""

from decimal import Decimal

import pytest

from scoring.scope.types import Section
from scoring.types import Depth, Policy, Site
from tests.scoring.scope.laterals import found, generated, graded, line
from tests.scoring.scope.test_plans import scoped


def dug(sd: str, site: Site | None = None) -> Section:
    lateral = line([found("sag", "sag", "6", "14", sd=sd)])
    policy = Policy(3, margin_m=Decimal("0.5"), methods=("open_cut_replacement",))
    (section,) = scoped(lateral, graded(("sag", 4)), site, policy).plans[0].sections
    return section


def amount(section: Section, item: str) -> tuple[Decimal, Decimal, Decimal]:
    line = next(each for each in section.quantities if each.item == item)
    low, high = line.range or (line.amount, line.amount)
    return low, line.amount, high


def test_a_station_in_doubt_makes_the_length_a_range() -> None:
    # 6 to 14 m, margin 0.5 m, sd 0.2 m: 5.1 to 14.9; without the doubt 5.5 to 14.5; twice it 4.7 to 15.3
    section = dug("0.2")
    assert (section.from_m, section.to_m) == (Decimal("5.1"), Decimal("14.9"))
    low, high = section.extents_m
    assert (low, high) == ((Decimal("5.5"), Decimal("14.5")), (Decimal("4.7"), Decimal("15.3")))
    assert amount(section, "open_cut_replacement") == (Decimal("9.0"), Decimal("9.8"), Decimal("10.6"))


def test_a_sure_station_leaves_the_length_one_number() -> None:
    assert amount(dug("0"), "open_cut_replacement") == (9, 9, 9)


def test_a_depth_nobody_measured_makes_the_digging_a_range() -> None:
    low, likely, high = amount(dug("0"), "excavation")
    assert low < likely < high
    measured = Site(depths=(Depth(Decimal(0), Decimal("1.2"), "invert"), Depth(Decimal(20), Decimal("1.2"), "invert")))
    low, likely, high = amount(dug("0", measured), "excavation")
    assert low == likely == high


def test_a_depth_carried_on_past_the_last_measured_is_a_range_of_a_fifth() -> None:
    site = Site(depths=(Depth(Decimal(0), Decimal("1.2"), "invert"),))
    low, likely, high = amount(dug("0", site), "excavation")
    # The trench bottom lies 4 in of bedding and the pipe's wall under the invert: 1.2 m becomes 0.96 and 1.44 m.
    below = 0.1016 + 0.0027305
    assert float(low / likely) == pytest.approx((0.96 + below) / (1.2 + below), rel=1e-4)
    assert float(high / likely) == pytest.approx((1.44 + below) / (1.2 + below), rel=1e-4)


def test_the_rule_of_the_ranges_is_in_the_answer() -> None:
    scope = scoped(line([found("c", "crack", "10")]), graded(("c", 4)))
    assert any("twice the standard deviation" in words for words in scope.assumptions)


def test_no_range_goes_under_the_minimum_length() -> None:
    lateral = line([found("c", "crack", "10", sd="0.4")])
    (section,) = scoped(lateral, graded(("c", 4)), policy=Policy(3, methods=("full_liner",))).plans[0].sections
    low, _ = section.extents_m
    assert low[1] - low[0] >= Decimal("3.048")  # 10 ft in the default rate book


@pytest.mark.parametrize("seed", range(6000, 6040))
def test_every_quantity_and_every_price_rises_from_low_to_high(seed: int) -> None:
    case = generated(seed)
    for plan in scoped(case.lateral, case.findings, case.site, case.policy).plans:
        for section in plan.sections:
            (low_from, low_to), (high_from, high_to) = section.extents_m
            assert high_from <= section.from_m <= low_from <= low_to <= section.to_m <= high_to
            for each in section.quantities:
                low, high = each.range or (each.amount, each.amount)
                assert low <= each.amount <= high, each.item
                assert each.due is None or each.due.low <= each.due.likely <= each.due.high, each.item
