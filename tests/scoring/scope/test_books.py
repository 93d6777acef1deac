"""Rate books, rule sets, payers and waiting."""

import copy
from decimal import Decimal
from typing import Any

import pytest

from scoring.scope import (
    DEFAULT_RATE_BOOK,
    DEFAULT_RULE_SET,
    RateBookInvalid,
    RuleSetInvalid,
    load_rate_book,
    load_rule_set,
)
from scoring.scope.deterioration import after, in_class, mean_class
from scoring.scope.dividing import ZoneCost
from scoring.scope.payers import Payers, Work
from scoring.scope.present_worth import present_value
from scoring.scope.shares import apportioned


def changed(document: dict[str, Any], path: str, value: object) -> dict[str, Any]:
    copied = copy.deepcopy(document)
    *steps, last = path.split("/")
    place: Any = copied
    for step in steps:
        place = place[int(step)] if isinstance(place, list) else place[step]
    place[last] = value
    return copied


@pytest.mark.parametrize(
    ("path", "value", "code"),
    [
        ("currency", "", "not_a_text"),
        ("units", "imperial", "not_a_choice"),
        ("colour", "red", "unknown_field"),
        ("items/excavation", {"low": 5, "likely": 4, "high": 6}, "not_a_range"),
        ("items/excavation", {"low": -1, "likely": 4, "high": 6}, "out_of_range"),
        ("items/pits", [], "required"),
        ("methods/full_liner/minimum_length", "ten", "not_a_number"),
        ("methods/full_liner/minimum_length", float("nan"), "not_a_number"),
        ("methods/full_liner/per_length", "none", "not_a_list"),
        ("trench", None, "not_an_object"),
    ],
)
def test_a_rate_book_with_a_fault_says_where(path: str, value: object, code: str) -> None:
    with pytest.raises(RateBookInvalid) as caught:
        load_rate_book(changed(DEFAULT_RATE_BOOK, path, value))
    assert (code, f"/{path}") in {
        (fault.code, fault.path if len(fault.path) <= len(path) + 1 else fault.path[: len(path) + 1])
        for fault in caught.value.faults
    }


def test_all_faults_come_at_once() -> None:
    document = changed(changed(DEFAULT_RATE_BOOK, "currency", ""), "units", "imperial")
    with pytest.raises(RateBookInvalid) as caught:
        load_rate_book(document)
    assert {fault.path for fault in caught.value.faults} >= {"/currency", "/units"}


def test_prices_per_foot_and_per_metre_are_the_same_money() -> None:
    # $75 per ft is $246.06 per m; 22 per cy is 28.77 per m3
    book = load_rate_book(DEFAULT_RATE_BOOK)
    liner = next(rate for rate in book.methods["full_liner"].per_length if rate.diameter_up_to_mm == Decimal("152.4"))
    assert float(liner.price.likely) == pytest.approx(246.06, abs=0.01)
    assert float(book.earthworks["backfill"].likely) == pytest.approx(28.77, abs=0.01)


@pytest.mark.parametrize(
    ("path", "value", "code"),
    [
        ("ownership/0/zones", ["moon"], "not_a_choice"),
        ("programmes/0/share_percent", 101, "out_of_range"),
        ("notice", 5, "not_a_text"),
        ("surprise", 1, "unknown_field"),
    ],
)
def test_a_rule_set_with_a_fault_says_what(path: str, value: object, code: str) -> None:
    with pytest.raises(RuleSetInvalid) as caught:
        load_rule_set(changed(DEFAULT_RULE_SET, path, value))
    assert code in {fault.code for fault in caught.value.faults}


def programme(**terms: object) -> dict[str, Any]:
    row = {"id": "help", "payer": "city", "relieves": "owner", "zones": ["private"], "causes": ["structural"]}
    terms = {"share_percent": 50, "source": "invented", **terms}
    return changed(DEFAULT_RULE_SET, "programmes", [{**row, **terms}])


METRE = 1_000_000


def work(cents: int, zone: str = "private") -> Work:
    """Return a liner of a crack, 10 m long, in one zone, at one price in all cases."""
    everywhere = ZoneCost(zone, 0, 10 * METRE, {"low": cents, "likely": cents, "high": cents}, "")
    return Work("full_liner", (everywhere,), ((0, 10 * METRE, "structural"),), ("crack",))


def shares(document: dict[str, Any], cents: int) -> dict[str, Decimal]:
    (found,) = Payers(load_rule_set(document)).shares([work(cents)])
    return {share.payer: share.cost.likely for share in found}


def test_eighty_five_to_fifteen() -> None:
    # A city programme: $2,500 -> $2,125 and $375
    assert shares(programme(share_percent=85), 250_000) == {"owner": Decimal(375), "city": Decimal(2125)}


def test_half_of_the_cost_up_to_a_cap() -> None:
    # 50 % at most $2,500: $4,999.98 -> 2,499.99; $9,000 -> 2,500
    assert shares(programme(cap=2500), 499_998)["city"] == Decimal("2499.99")
    assert shares(programme(cap=2500), 900_000) == {"owner": Decimal(6500), "city": Decimal(2500)}


def test_a_deductible_comes_off_first() -> None:
    # (1000 - 200) x 50 % = 400
    assert shares(programme(deductible=200), 100_000) == {"owner": Decimal(600), "city": Decimal(400)}


def test_an_excluded_kind_gets_nothing() -> None:
    assert shares(programme(excluded_kinds=["crack"]), 100_000) == {"owner": Decimal(1000)}


def test_parts_of_a_sum_add_up() -> None:
    assert apportioned(100, [1, 1, 1]) == [34, 33, 33]
    assert apportioned(5, [0, 0]) == [5, 0]
    assert sum(apportioned(10_001, [3, 7, 11, 13])) == 10_001


def test_fifty_years_from_new() -> None:
    # Roa, doctoral thesis fig. 5.1, computed: [0.1000, 0.3750, 0.3449, 0.1516, 0.0284], mean 2.633
    shares_after = after(50, in_class(1))
    expected = [0.1000, 0.3750, 0.3449, 0.1516, 0.0284]
    assert [float(share) for share in shares_after] == pytest.approx(expected, abs=5e-5)
    assert float(mean_class(shares_after)) == pytest.approx(2.633, abs=5e-4)


def test_a_thousand_in_ten_years_at_three_percent() -> None:
    # 1000 / 1.03^10 = 744.09
    assert present_value(Decimal(1000), 10, Decimal(3)).quantize(Decimal("0.01")) == Decimal("744.09")


def test_a_rule_for_one_cause_pays_only_where_a_finding_of_that_cause_is_cured() -> None:
    """Crack at 5 m in the private part, sag at 15 m beyond the line at 10 m: the authority's rule is for structural
    failure beyond the line, so the owner pays both parts of the section; with the two swapped it pays its part."""
    payers = Payers(load_rule_set({**DEFAULT_RULE_SET, "programmes": []}))
    half = {"low": 500, "likely": 500, "high": 500}
    zones = (ZoneCost("private", 0, 10 * METRE, half, ""), ZoneCost("public", 10 * METRE, 20 * METRE, half, ""))
    beyond = ((5 * METRE, 5 * METRE, "structural"), (15 * METRE, 15 * METRE, "blockage"))
    before = ((5 * METRE, 5 * METRE, "blockage"), (15 * METRE, 15 * METRE, "structural"))
    for findings, expected in (
        (beyond, {"owner": Decimal("10.00")}),
        (before, {"owner": Decimal("5.00"), "sewer_authority": Decimal("5.00")}),
    ):
        (found,) = payers.shares([Work("open_cut_replacement", zones, findings, ("crack", "sag"))])
        assert {share.payer: share.cost.likely for share in found} == expected
