"""What a bid comes to and how its lines lie beside the plan's, each boundary from both sides.

Expected sums are multiplied out by hand. That a unit price governs over a wrong extension: Tukwila WA, bid documents
of 2016. Ranges of unit prices: the invented default rate book (excavation 25 to 50, likely 35, per cy).
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from scoring.bids import Bid, corrected
from scoring.bids.holding import hold
from scoring.bids.types import HeldLine
from tests.scoring.bids.plans import bid, line, lump, plan, whole


def held(*lines: object, number: int = 1, **more: object) -> HeldLine:
    return hold(plan(), bid(*lines, **more)).lines[number - 1]  # type: ignore[arg-type]


def codes(one: HeldLine) -> list[str]:
    return [remark.code for remark in one.remarks]


# --- arithmetic -----------------------------------------------------------------------------------


def test_the_unit_price_governs_over_a_wrong_extension() -> None:
    done = corrected(bid(line(1, "excavation", "14.81", "cy", "36.00", "553.16"), total=Decimal("553.16")))
    assert done.total == Decimal("533.16")  # 14.81 x 36
    assert done.lines[0].extension == Decimal("533.16")
    assert [remark.code for remark in done.lines[0].remarks] == ["extension_differs"]
    assert "-20.00" in done.lines[0].remarks[0].detail
    assert [remark.code for remark in done.remarks] == ["total_differs"]
    assert "do add up" in done.remarks[0].detail


@pytest.mark.parametrize(
    ("extension", "counts"), [("1.00", "1.00"), ("1.01", "1.01"), ("0.99", "1.01"), ("1.02", "1.01")]
)
def test_an_extension_rounded_either_way_is_right_and_a_cent_more_is_not(extension: str, counts: str) -> None:
    one = held(line(1, "excavation", "3", "cy", "0.335", extension))  # 3 x 0.335 = 1.005
    assert one.extension == Decimal(counts)
    assert ("extension_differs" in codes(one)) is (extension != counts)


def test_an_extension_that_was_left_blank_is_filled_in_and_no_fault() -> None:
    one = held(line(1, "excavation", "14.81", "cy", "35"))
    assert (one.extension, codes(one)) == (Decimal("518.35"), [])


def test_a_total_that_does_not_add_up_is_named_with_the_difference() -> None:
    done = corrected(bid(lump(1, None, "2900.00"), lump(2, None, "250.00"), total=Decimal("3050.00")))
    assert done.total == Decimal("3150.00")
    assert "+100.00" in done.remarks[0].detail and "do add up" not in done.remarks[0].detail


def test_a_total_of_the_corrected_lines_is_right() -> None:
    assert corrected(bid(lump(1, None, "2900.00"), total=Decimal("2900.0"))).remarks == ()


# --- quantities -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "differs"),
    [
        ("14.81", False),
        ("14.80", True),
        ("14.8", False),
        ("14.7", True),
        ("15", False),
        ("14", True),
        ("14.8104", False),  # finer than the plan's own three decimals
        ("14.811", True),
    ],
)
def test_a_quantity_is_the_plans_rounded_to_the_decimals_that_were_written(written: str, differs: bool) -> None:
    assert ("quantity_differs" in codes(held(line(1, "excavation", written, "cy", "35")))) is differs


def test_cubic_feet_are_held_against_cubic_yards() -> None:
    # 12.303 cy x 27 = 332.181 cf
    assert codes(held(line(1, "backfill", "332.2", "cf", "0.80"))) == []
    assert codes(held(line(1, "backfill", "332.3", "cf", "0.80"))) == ["quantity_differs"]


@pytest.mark.parametrize(("written", "differs"), [("2", False), ("1", False), ("3", True), ("2.0", True)])
def test_half_a_step_off_is_still_the_same(written: str, differs: bool) -> None:
    # the plan has 1.5 days: 1 and 2 are it rounded either way, 2.0 says tenths and is not
    assert ("quantity_differs" in codes(held(line(1, "days", written, "days", "100")))) is differs


def test_metres_are_held_against_the_plan_in_metres() -> None:
    one = held(line(1, "open_cut_replacement", "6.096", "m", "180"))  # 20 ft = 6.096 m
    assert codes(one) == []
    assert codes(held(line(1, "open_cut_replacement", "6.196", "m", "180"))) == ["quantity_differs"]


def test_a_unit_that_measures_something_else_is_said_and_not_guessed() -> None:
    one = held(line(1, "excavation", "20", "ft", "26"))
    assert codes(one) == ["unit_differs"]
    assert one.extension == one.at_asked_quantity == Decimal("520.00")


def test_what_another_quantity_would_come_to_at_the_plans_stands_beside_it() -> None:
    one = held(line(1, "open_cut_replacement", "25", "ft", "55", "1375.00"))
    assert (one.extension, one.at_asked_quantity) == (Decimal("1375.00"), Decimal("1100.00"))


def test_an_item_split_over_two_lines_is_held_against_the_plan_together() -> None:
    first = line(1, "excavation", "10.00", "cy", "30")
    both = hold(plan(), bid(first, line(1, "excavation", "4.81", "cy", "45")))
    assert [codes(one) for one in both.lines] == [["item_stands_twice"], ["item_stands_twice"]]
    assert both.at_asked_quantities == both.total == Decimal("516.45")  # 300 + 216.45
    alone = hold(plan(), bid(first))
    assert codes(alone.lines[0]) == ["quantity_differs"]


# --- prices ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("price", "code"),
    [("25", None), ("24.99", "unit_price_low"), ("50", None), ("50.01", "unit_price_high")],
)
def test_a_unit_price_at_the_end_of_the_range_is_inside_it(price: str, code: str | None) -> None:
    assert codes(held(line(1, "excavation", "14.81", "cy", price))) == ([code] if code else [])


@pytest.mark.parametrize(("price", "code"), [("1.8518", "unit_price_low"), ("1.8519", None)])
def test_the_range_is_turned_into_the_unit_that_was_written(price: str, code: str | None) -> None:
    # 50 a cubic yard over 27 cubic feet is 1.8519, to four decimals; 25 over 27 is 0.9259
    one = held(line(1, "excavation", "399.9", "cf", price))
    assert "unit_price_high" not in codes(one)
    assert "unit_price_high" in codes(held(line(1, "excavation", "399.9", "cf", "1.8520")))
    assert codes(held(line(1, "excavation", "399.9", "cf", "0.9258"))) == ["unit_price_low"]


def test_a_price_by_depth_and_surface_lies_within_the_ratios_of_its_rows() -> None:
    # open cut per ft: 40/55/75, 55/75/105, 90/130/190, 75/100/140, 120/165/235, each also with 10/15/25 or 12/18/30
    # under a street: the least ratio is (90 + 12)/(130 + 18), the greatest (190 + 30)/(130 + 18)
    price = plan().sections[0].lines[1].prices
    assert price is not None
    assert price["us"].low == Decimal("37.9054")  # 55 x 102/148
    assert price["us"].high == Decimal("81.7568")  # 55 x 220/148
    assert price["us"].likely == 55


@pytest.mark.parametrize(
    ("amount", "code"),
    [("2090.00", None), ("2089.99", "lump_sum_low"), ("4300.00", None), ("4300.01", "lump_sum_high")],
)
def test_a_lump_sum_for_a_section_is_held_against_the_sections_range(amount: str, code: str | None) -> None:
    assert codes(held(lump(1, None, amount))) == ([code] if code else [])


@pytest.mark.parametrize(
    ("amount", "code"),
    [("370.25", None), ("370.24", "lump_sum_low"), ("740.50", None), ("740.51", "lump_sum_high")],
)
def test_a_lump_sum_for_an_item_is_held_against_its_quantity_at_the_books_prices(
    amount: str, code: str | None
) -> None:
    # 14.81 cy at 25 and at 50
    assert codes(held(lump(1, "excavation", amount))) == ([code] if code else [])


# --- what is missing, added or there twice -----------------------------------------------------------


def test_a_bid_that_prices_every_line_is_complete_though_unpriced_lines_are_left_out() -> None:
    found = hold(plan(), whole())
    assert found.is_complete
    assert found.total == Decimal("3148.38")
    assert [remark for one in found.lines for remark in one.remarks] == []


def test_each_line_left_out_is_named() -> None:
    lines = [one for one in whole().lines if one.item not in ("backfill", "set_up")]
    found = hold(plan(), bid(*lines))
    assert [(one.section, one.item) for one in found.missing] == [(1, "backfill"), (2, "set_up")]
    assert "470.67 (likely)" in found.remarks[0].detail


def test_what_is_likely_to_cost_nothing_may_be_left_out_of_a_complete_bid() -> None:
    """A surface that is touched in the high case only has a line of 0; a bidder prices what is asked for."""
    asked = plan()
    section = asked.sections[1]
    row = replace(section.lines[0], item="restore_lawn", cost=Decimal("0.00"))
    with_lawn = replace(asked, sections=(asked.sections[0], replace(section, lines=(*section.lines, row))))
    assert hold(with_lawn, whole()).is_complete


def test_lump_sums_for_both_sections_or_for_the_plan_are_complete() -> None:
    assert hold(plan(), bid(lump(1, None, "2900.00"), lump(2, None, "250.00"))).is_complete
    assert hold(plan(), bid(lump(None, None, "3100.00"))).is_complete
    assert not hold(plan(), bid(lump(1, None, "2900.00"))).is_complete


def test_an_item_without_a_section_is_for_every_section_that_has_it() -> None:
    found = held(lump(None, "Mobilisation", "800.00"))
    assert [(one.section, one.item) for one in found.covers] == [(1, "mobilisation")]


def test_what_the_plan_does_not_have_is_an_addition_and_a_near_name_is_offered() -> None:
    rock, typo, elsewhere = (
        held(lump(1, "rock excavation by hammer", "500.00")),
        held(lump(1, "excavaton", "500.00")),
        held(lump(2, "excavation", "500.00")),
    )
    assert [codes(one) for one in (rock, typo, elsewhere)] == [["not_in_scope"]] * 3
    assert "Did the bidder mean excavation?" in typo.remarks[0].detail
    assert "It stands in section 1." in elsewhere.remarks[0].detail


def test_two_additions_at_unit_prices_are_two_things() -> None:
    found = hold(plan(), bid(line(1, "rock", "2", "cy", "90"), line(1, "boulders", "3", "each", "40")))
    assert [codes(one) for one in found.lines] == [["not_in_scope"], ["not_in_scope"]]
    assert found.at_asked_quantities == found.total == Decimal("300.00")


def test_an_item_under_a_lump_sum_for_its_section_is_covered_twice_and_both_count() -> None:
    found = hold(plan(), bid(lump(1, None, "2900.00"), lump(1, "excavation", "500.00")))
    assert [codes(one) for one in found.lines] == [["covered_twice"], ["covered_twice"]]
    assert found.total == Decimal("3400.00")


def test_a_line_the_plan_prices_with_others_is_said() -> None:
    assert codes(held(line(1, "bedding", "0.617", "cy", "55"))) == ["priced_with_others"]


def test_exclusions_stand_in_the_bidders_words() -> None:
    found = hold(plan(), whole(exclusions=("rock", "permits")))
    assert [(one.code, "rock; permits" in one.detail) for one in found.remarks] == [("has_exclusions", True)]


def test_what_was_written_stays_as_written() -> None:
    said: Bid = whole(total=Decimal("3000.00"))
    found = hold(plan(), said)
    assert found.bid is said and [one.written for one in found.lines] == list(said.lines)
