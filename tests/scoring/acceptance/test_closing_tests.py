"""Pressure tests of a section, each limit from both sides.

Sources: ASTM F1417, Table 2, 0.5 psi: 6 in 2:50 at the least; ASTM C828: T = 0.371e-3 D^2 L / Q minutes, rounded to
0.1 per 100 ft; a head of 10 ft held 15 min (IPC 312), 5 ft 15 min (Oakland 13.08.500); leakage = limit x D x L / 5280
a day.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from scoring.acceptance import Planned, PressureTest, outcome
from scoring.checks import CheckInputInvalid
from tests.scoring.acceptance.pipes import air, built, close, head, later, lined, met, run, said, states

D = Decimal
SEEN = later(lined())


@pytest.mark.parametrize(("measured_s", "state"), [(170, "done"), (169, "failed"), (None, "partly_done")])
def test_an_air_test_holds_as_long_as_the_standard_asks(measured_s: int | None, state: str) -> None:
    found = close(SEEN, air(measured_s))
    assert states(found)[1] == state
    assert found.sections[0].tests[0].test.outcome.missing == ("measured_s" if measured_s is None else None)
    if measured_s is not None:
        assert "ASTM F1417" in next(one.source for one in found.sections[0].criteria if one.name == "tight")


@pytest.mark.parametrize(
    ("head_m", "held_s", "code", "state"),
    [
        ("3.048", 900, "ipc", "done"),
        ("3.047", 900, "ipc", "failed"),
        ("3.048", 899, "ipc", "failed"),
        ("1.524", 900, "oakland", "done"),
        ("1.523", 900, "oakland", "failed"),
    ],
)
def test_a_head_of_water_stands_high_and_long_enough(head_m: str, held_s: int, code: str, state: str) -> None:
    assert states(close(SEEN, head(head_m, held_s, code)))[1] == state


@pytest.mark.parametrize(("measured", "state"), [("0.227", "done"), ("0.228", "failed"), (None, "partly_done")])
def test_a_leakage_of_exactly_the_limit_passes(measured: str | None, state: str) -> None:
    # 200 gal a day for an inch and a mile: 200 x 6 x 24 / 5280 / 24 = 0.227273 gal/h for 24 ft of 6 in
    reading = {"diameter": D(6), "length": D(24), "limit_gpd_per_inch_mile": 200, "measured_gph": None}
    reading["measured_gph"] = None if measured is None else D(measured)
    found = outcome("water_test", reading, "us")
    test = PressureTest(1, "water_test", D(8), D(12), "2027-05-20T15:00:00-05:00", found)
    assert states(close(SEEN, test))[1] == state


def test_without_a_test_it_says_what_is_asked_and_that_a_recording_is_none() -> None:
    found = close(SEEN)
    assert (states(found)[1], met(found)["tight"]) == ("partly_done", None)
    assert said(found, "tight") == (
        "No reading of a pressure test was sent. The scope asks for an air test. A recording is not a pressure test."
    )


@pytest.mark.parametrize(
    ("standard", "material", "counts"),
    [
        ("F1417", None, True),
        ("C828", None, False),
        ("C828", "vitrified_clay", True),
        ("F1417", "vitrified_clay", False),
        ("F1417", "pvc", True),
        ("F1417", "cast_iron", False),
    ],
)
def test_an_air_test_counts_by_the_standard_of_the_material(standard: str, material: str | None, counts: bool) -> None:
    found = close(SEEN, air(500, standard=standard), work=built(material=material))
    assert [one.counts for one in found.sections[0].tests] == [counts]
    assert (met(found)["tight"] is True) is counts


@pytest.mark.parametrize(
    ("made_at", "counts"), [("2027-05-20T06:00:00-05:00", True), ("2027-05-19T23:59:00-05:00", False)]
)
def test_a_test_counts_from_the_day_of_the_work(made_at: str, counts: bool) -> None:
    found = close(SEEN, air(170, made_at=made_at))
    assert [one.counts for one in found.sections[0].tests] == [counts]
    assert states(found)[1] == ("done" if counts else "partly_done")


@pytest.mark.parametrize(
    ("from_m", "to_m", "state"),
    [
        ("8", "12", "done"),
        ("8.01", "12", "done"),
        ("8.02", "12", "partly_done"),
        ("0", "20", "done"),
        ("8", "11.98", "partly_done"),
    ],
)
def test_a_test_that_does_not_reach_over_the_whole_section_is_not_enough(from_m: str, to_m: str, state: str) -> None:
    assert states(close(SEEN, air(170, from_m=D(from_m), to_m=D(to_m))))[1] == state


def test_two_tests_that_meet_cover_it_together() -> None:
    one, other = air(170, to_m=D(10)), air(170, number=2, from_m=D(10))
    assert states(close(SEEN, one))[1] == "partly_done"
    assert states(close(SEEN, one, other))[1] == "done"
    gap = air(170, number=2, from_m=D("10.05"))
    assert states(close(SEEN, one, gap))[1] == "partly_done"


@pytest.mark.parametrize(
    ("again", "state"),
    [
        ({"made_at": "2027-05-20T16:00:00-05:00"}, "done"),
        ({"made_at": "2027-05-20T14:00:00-05:00"}, "failed"),  # passed first, failed later
        ({"made_at": "2027-05-20T19:30:00+00:00"}, "failed"),  # 14:30 there
        ({"made_at": "2027-05-20T16:00:00-05:00", "from_m": D(9)}, "failed"),  # not as much of it
    ],
)
def test_a_failed_test_stands_until_a_later_one_of_its_kind_passes_over_as_much(
    again: dict[str, Any], state: str
) -> None:
    found = close(SEEN, air(100), air(170, number=2, **again))
    assert states(found)[1] == state
    if state == "done":
        assert [one.reason for one in found.sections[0].tests] == [
            "Test 2 was made after it and passed.",
            "It passed.",
        ]


def test_a_head_of_water_does_not_make_a_failed_air_test_good() -> None:
    assert states(close(SEEN, air(100), head("3.1", 900)))[1] == "failed"


def test_a_test_elsewhere_says_nothing_of_the_section() -> None:
    found = close(SEEN, air(100, from_m=D(13), to_m=D(19)))
    assert (states(found)[1], found.sections[0].tests) == ("partly_done", ())


@pytest.mark.parametrize(
    ("asks", "demanded", "tested", "tight"),
    [
        (True, None, False, None),
        (True, False, False, True),
        (False, None, False, "absent"),
        (False, True, False, None),
        (False, None, True, True),
    ],
)
def test_who_closes_a_scope_may_demand_a_test_or_do_without(
    asks: bool, demanded: bool | None, tested: bool, tight: Any
) -> None:
    plan = (Planned(1, "full_liner", D(8), D(12), ("b",), "The scope asks for an air test." if asks else None),)
    tests = [air(170)] if tested else []
    found = close(SEEN, *tests, plan=plan, work=built(is_test_demanded=demanded))
    assert met(found).get("tight", "absent") == tight
    assert states(found)[1] == ("partly_done" if tight is None else "done")


def test_a_test_that_failed_counts_also_where_none_is_demanded() -> None:
    assert states(close(SEEN, air(100), work=built(is_test_demanded=False)))[1] == "failed"


def test_a_reading_outside_a_standard_is_refused_and_not_guessed() -> None:
    with pytest.raises(CheckInputInvalid) as refused:
        outcome("air_test", {"standard": "F1417", "sections": [{"diameter": D(2), "length": D(4)}],
                             "pressure_drop_psi": D("0.5")}, "us")  # fmt: skip
    assert [fault.path for fault in refused.value.faults] == ["/sections/0/diameter"]


def test_a_section_in_the_old_clay_is_not_taken_for_tight_by_what_it_is_not() -> None:
    found = close(later(run()), air(170), work=built(method="root_cutting_and_cleaning", material="vitrified_clay"))
    assert "take ASTM C828" in said(found, "tight")
