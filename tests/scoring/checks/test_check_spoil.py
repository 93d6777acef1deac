"""Swell, loads, clean-outs: the published figures and both sides of each step."""

from decimal import Decimal

import pytest

from scoring.checks import SWELL_PERCENT, CheckInputInvalid, bank_volume_of, clean_outs_needed, run_check
from scoring.scope import DEFAULT_RATE_BOOK, RateBookInvalid, load_rate_book


def spoil(**changes):
    dug = {"units": "us", "bank_volume": 1000, "swell_percent": 30, "truck_volume": 7}
    return run_check("spoil", {**dug, **changes})


def test_a_thousand_yards_swell_and_fill_trucks():  # published: 1,300 loose cy, 186 loads of 7 cy
    assert spoil()["loose_volume"] == 1300
    assert spoil()["loads"] == 186


def test_compacted_fill_takes_more_bank():  # published: 500 compacted cy, shrink 95 % -> 526 bank cy
    assert float(bank_volume_of(Decimal(500), Decimal(95))) == pytest.approx(526, rel=0.005)


@pytest.mark.parametrize(("bank", "loads"), [("7", 1), ("7.01", 2), ("14", 2), ("0", 0)])
def test_a_part_load_is_a_load(bank, loads):
    assert spoil(bank_volume=Decimal(bank), swell_percent=0)["loads"] == loads


@pytest.mark.parametrize(
    ("ground", "percent"), [("clay", 40), ("loam", 25), ("gravel_and_sand", 12), ("blasted_rock", 65)]
)
def test_ground_swells_as_restated_in_estimating_texts(ground, percent):
    assert SWELL_PERCENT[ground][0] == percent


def test_a_truck_without_a_body_is_refused():
    with pytest.raises(CheckInputInvalid) as refused:
        spoil(truck_volume=0, bank_volume=-1)
    assert [fault.path for fault in refused.value.faults] == ["/bank_volume", "/truck_volume"]


@pytest.mark.parametrize(
    ("code", "diameter", "length", "count"),
    [
        ("ipc", 4, 100, 1),  # International Plumbing Code 708: every 100 ft
        ("ipc", 4, "100.1", 2),
        ("upc", 6, "200.1", 3),
        ("chicago", 4, 50, 1),  # 50 ft for 4 in and less
        ("chicago", 4, "50.1", 2),
        ("philadelphia", 3, 100, 2),
        ("chicago", 6, 50, None),  # not seen for larger sizes
    ],
)
def test_clean_outs_follow_the_codes_spacing(code, diameter, length, count):
    assert clean_outs_needed(code, Decimal(diameter), Decimal(length)) == count


def test_swell_ends_where_that_of_rate_books_ends():
    """House rule: 200 %, so that no scope is priced by a book whose spoil the check refuses."""
    book = {**DEFAULT_RATE_BOOK, "trench": {**DEFAULT_RATE_BOOK["trench"], "swell_percent": 200}}
    assert load_rate_book(book).trench.swell_percent == 200
    assert spoil(swell_percent=200)["loose_volume"] == 3000
    with pytest.raises(CheckInputInvalid):
        spoil(swell_percent=Decimal("200.1"))
    book["trench"]["swell_percent"] = Decimal("200.1")
    with pytest.raises(RateBookInvalid):
        load_rate_book(book)
