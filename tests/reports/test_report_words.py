"""Numbers and listed values read as the trade says them."""

from decimal import Decimal as D

import pytest

from inspections.reports import words
from inspections.reports.content import clean


@pytest.mark.parametrize(
    ("share", "said"),
    [("1", "100 %"), ("0.999", "99 %"), ("0.919", "92 %"), ("0.001", "1 %"), ("0", "0 %"), (None, "an unknown share")],
)
def test_a_part_never_reads_as_the_whole_nor_as_nothing(share, said):
    assert words.share(None if share is None else D(share)) == said


@pytest.mark.parametrize(
    ("number", "said"),
    [("1234.5", "1,234.5"), ("3.00", "3"), ("-0.001", "0"), ("-4", "−4"), ("0.125", "0.12"), ("100", "100")],
)
def test_numbers_are_short_and_exact_to_two_decimals(number, said):
    assert words.rounded(D(number)) == said


def test_a_range_whose_likely_case_lies_outside_is_told_by_its_cases():
    cost = {"low": D(767), "likely": D(1060), "high": D(897)}

    assert words.money(cost, "USD") == "USD 767 in the low, 1,060 in the likely, 897 in the high case"


@pytest.mark.parametrize(
    ("start", "end", "said"),
    [
        ("2026-03-04T09:12:00-05:00", "2026-03-04T09:41:00-05:00", "2026-03-04 09:12 to 09:41 (UTC-05:00)"),
        (
            "2026-03-04 23:50:00+01:00",
            "2026-03-05T00:10:00Z",
            "2026-03-04 23:50 (UTC+01:00) to 2026-03-05 00:10 (UTC)",
        ),
        ("2026-03-04T09:12:00-05:00", None, "2026-03-04 09:12 (UTC-05:00)"),
        ("at noon", None, "at noon"),
        (None, None, ""),
    ],
)
def test_times_are_read_out_with_their_offset(start, end, said):
    assert words.period(start, end) == said


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("offset 25.400000 mm (over 20 mm)", "offset 25.4 mm (over 20 mm)"),
        ("share 40.000000 % (from 25 to 50 %)", "share 40 % (from 25 to 50 %)"),
        ("ch. 4.7.4.3.10, 100 mm", "ch. 4.7.4.3.10, 100 mm"),
    ],
)
def test_trailing_zeros_of_decimals_are_dropped_and_nothing_else(given, said):
    assert words.tidy(given) == said


def test_a_stretch_with_an_open_end_says_so():
    assert words.stretch(D(3), None, "us") == "from 3 ft on, end not known"
    assert words.stretch(None, D(3), "si") == "up to 3 m, start not known"
    assert words.stretch(None, None, "si") == "extent not known"


def test_text_is_one_line_without_forbidden_or_direction_turning_characters():
    assert clean("a\n b\tc\x00\u202e\u2066\ud800") == "a b c\ufffd\ufffd\ufffd\ufffd"


def test_a_value_nobody_listed_is_read_out_as_it_stands():
    assert words.phrase("brand_new_kind") == "brand new kind"
