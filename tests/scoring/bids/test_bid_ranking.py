"""Which bid is lowest, which are left out, and who pays the lowest one, to the cent.

Shares after public programmes: 50 % of the lowest bid, at most 2,500 (San Mateo CA, FY25/26); 85/15, 2,500 gives 2,125
and 375 (a city programme).
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scoring.bids import Place, compare, shared
from scoring.bids.holding import hold
from scoring.scope import DEFAULT_RULE_SET, load_rule_set
from scoring.scope.watching import Judged
from scoring.types import Boundary, Defect, LateralDefect
from tests.scoring.bids.plans import bid, lump, plan, whole

D = Decimal


def of(id: str, one: str, other: str, **more: Any) -> Any:
    return bid(lump(1, None, one), lump(2, None, other), id=id, **more)


def test_bids_are_ranked_by_what_they_come_to_and_not_by_what_was_written_under_them() -> None:
    low = of("low", "2800.00", "250.00", total=D("3200.00"))
    high = of("high", "2900.00", "250.00", total=D("2000.00"))
    found = compare(plan(), [high, low])
    assert [(one.bid.id, one.rank, one.total) for one in found.bids] == [
        ("low", 1, D("3050.00")),
        ("high", 2, D("3150.00")),
    ]


def test_the_lowest_bid_may_be_incomplete_and_then_another_is_the_lowest_complete_one() -> None:
    part = bid(lump(1, None, "2500.00"), id="part")
    found = compare(plan(), [of("all", "2800.00", "250.00"), part])
    assert found.lowest is not None and found.lowest.bid.id == "part"
    assert found.lowest_complete is not None and found.lowest_complete.bid.id == "all"
    nobody = compare(plan(), [part])
    assert nobody.lowest_complete is None


def test_equal_totals_share_a_rank_and_the_one_received_first_stands_first() -> None:
    later = of("later", "2800.00", "250.00", received_on=date(2027, 4, 21))
    first = of("first", "2850.00", "200.00", received_on=date(2027, 4, 20))
    third = of("third", "2900.00", "250.00", received_on=date(2027, 4, 1))
    found = compare(plan(), [later, third, first])
    assert [(one.bid.id, one.rank) for one in found.bids] == [("first", 1), ("later", 1), ("third", 3)]


@pytest.mark.parametrize(
    ("on", "code"),
    [
        (date(2027, 6, 19), None),
        (date(2027, 6, 20), "not_valid_any_more"),
        (date(2027, 4, 20), None),
        (date(2027, 4, 19), "not_received_yet"),
        (None, None),
    ],
)
def test_a_bid_counts_from_the_day_it_was_received_to_the_last_day_it_is_valid(on: date | None, code: Any) -> None:
    one = of("one", "2800.00", "250.00", received_on=date(2027, 4, 20), valid_until=date(2027, 6, 19))
    found = compare(plan(), [one], on=on)
    assert [left.code for left in found.left_out] == ([code] if code else [])
    assert len(found.bids) == (0 if code else 1)


def test_a_bid_in_another_currency_is_left_out_by_name() -> None:
    found = compare(plan(), [of("one", "2800.00", "250.00", currency="CAD")])
    assert [(one.code, "USD" in one.detail and "CAD" in one.detail) for one in found.left_out] == [
        ("currency_differs", True)
    ]


# --- who pays -------------------------------------------------------------------------------------


def place(at_m: str = "9.0", **changes: Any) -> Place:
    """Section 1 (20 to 40 ft) cures a fracture on private ground; the property line lies at 60 ft."""
    programme = {**DEFAULT_RULE_SET["programmes"][0], **changes}
    rules = load_rule_set({**DEFAULT_RULE_SET, "programmes": [programme]})
    fracture = LateralDefect(Defect("b", "fracture", D(at_m)), D(at_m), None, D("0.1"), ())
    roots = LateralDefect(Defect("a", "roots", D("1.5")), D("1.5"), None, D("0.1"), ())
    judged = {"b": Judged(fracture, 4, True, True), "a": Judged(roots, 3, True, False)}
    return Place(rules, [Boundary("building_wall", D(0)), Boundary("property_line", D("18.288"))], judged)


def paid(amount: str, **changes: Any) -> dict[str, Decimal]:
    """Return who pays what of a bid of `amount` for section 1, its cleaning for nothing."""
    found = shared(plan(), hold(plan(), of("one", amount, "0.00")), place(**changes))
    assert found is not None
    sums: dict[str, Decimal] = {}
    for one in found.paid:
        sums[one.payer] = sums.get(one.payer, D(0)) + one.amount
    assert sum(sums.values()) == found.total == D(amount)
    return sums


@pytest.mark.parametrize(
    ("amount", "programme"),
    [("4999.98", "2499.99"), ("5000.00", "2500.00"), ("5000.02", "2500.00"), ("9000.00", "2500.00")],
)
def test_half_of_the_lowest_bid_up_to_the_cap(amount: str, programme: str) -> None:
    assert paid(amount)["repair_programme"] == D(programme)


def test_eighty_five_to_fifteen() -> None:
    assert paid("2500.00", share_percent=85) == {"repair_programme": D("2125.00"), "owner": D("375.00")}


def test_cleaning_is_no_part_of_what_the_programme_counts() -> None:
    found = shared(plan(), hold(plan(), of("one", "3000.00", "1000.00")), place())
    assert found is not None
    assert {one.payer: one.amount for one in found.paid if one.payer != "owner"} == {"repair_programme": D("1500.00")}
    assert sum(one.amount for one in found.paid) == D("4000.00")


def test_an_addition_is_the_owners_own() -> None:
    found = shared(
        plan(), hold(plan(), bid(lump(1, None, "3000.00"), lump(2, None, "0"), lump(1, "rock", "400.00"))), place()
    )
    assert found is not None
    assert (found.not_shared, found.total) == (D("400.00"), D("3400.00"))
    assert sum(one.amount for one in found.paid if one.payer == "repair_programme") == D("1500.00")


@pytest.mark.parametrize(
    ("section", "programme"),
    [(1, "1000.00"), (None, "1125.00")],  # half of 3,000 - 1,000; half of 3,000 - 1,000 x 3,000/4,000
)
def test_a_credit_is_taken_off_before_the_programme_counts(section: int | None, programme: str) -> None:
    lines = (lump(1, None, "3000.00"), lump(2, None, "1000.00"), lump(section, "early start", "-1000.00"))
    found = shared(plan(), hold(plan(), bid(*lines)), place())
    assert found is not None and found.total == D("3000.00")
    assert sum(one.amount for one in found.paid if one.payer == "repair_programme") == D(programme)
    assert sum(one.amount for one in found.paid) == D("3000.00")


def test_a_credit_larger_than_a_section_is_not_shared_out() -> None:
    lines = (lump(1, None, "3000.00"), lump(2, None, "100.00"), lump(2, "early start", "-100.01"))
    assert shared(plan(), hold(plan(), bid(*lines)), place()) is None


def test_no_rule_counts_from_the_bid_twice_in_words() -> None:
    found = shared(plan(), hold(plan(), whole()), place())
    assert found is not None
    assert not [one.rule for one in found.paid if "no bid yet" in one.rule]


_MONEY = st.integers(0, 2_000_000).map(lambda cents: D(cents).scaleb(-2))


@given(one=_MONEY, other=_MONEY, everywhere=_MONEY, addition=_MONEY)
def test_the_shares_of_any_bid_add_up_to_it(
    one: Decimal, other: Decimal, everywhere: Decimal, addition: Decimal
) -> None:
    lines = [lump(1, None, str(one)), lump(2, None, str(other)), lump(None, None, str(everywhere))]
    held = hold(plan(), bid(*lines, lump(2, "rock", str(addition))))
    found = shared(plan(), held, place())
    assert found is not None
    assert sum(share.amount for share in found.paid) == held.total == one + other + everywhere + addition
    assert sum(share.amount for share in found.paid if share.payer == "repair_programme") <= 2500


@given(st.lists(_MONEY, min_size=1, max_size=6), st.randoms())
def test_the_order_in_which_bids_come_in_decides_nothing(totals: list[Decimal], random: Any) -> None:
    bids = [of(str(n), str(total), "0") for n, total in enumerate(totals)]
    found = compare(plan(), bids)
    random.shuffle(bids)
    assert compare(plan(), bids) == found
    assert [one.total for one in found.bids] == sorted(totals)
