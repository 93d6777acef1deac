"""Air and water tests against the printed tables of the standards, and by hand."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.checks import CheckInputInvalid, head_holds, run_check

STEADY = settings(derandomize=True, max_examples=60, deadline=None)


def air(standard="F1417", diameter=4, length=50, drop="0.5", **changes):
    document = {
        "units": "us",
        "standard": standard,
        "sections": [{"diameter": diameter, "length": length}],
        "pressure_drop_psi": None if drop is None else Decimal(drop),
    }
    return run_check("air-test", {**document, **changes})


# --- ASTM F1417, Table 2 (0.5 psi) -----------------------------------------------------------------------


@pytest.mark.parametrize(("diameter", "minutes", "seconds"), [(4, 1, 53), (6, 2, 50), (8, 3, 47), (12, 5, 40)])
def test_plastic_pipe_holds_the_printed_minimum(diameter, minutes, seconds):
    assert air(diameter=diameter)["required_s"] == minutes * 60 + seconds


@pytest.mark.parametrize(("diameter", "feet"), [(4, 597), (6, 398), (8, 298), (12, 199)])
def test_the_minimum_governs_to_the_printed_length(diameter, feet):
    short, minimum = air(diameter=diameter, length=feet - 1), air(diameter=diameter, length=10)
    assert short["required_s"] == minimum["required_s"]
    assert short["governs"] == "minimum_time"
    assert air(diameter=diameter, length=feet + 1)["governs"] == "length"


def test_a_long_six_inch_pipe_holds_longer():  # Table 2: 6 in, 450 ft, 3:12
    assert air(diameter=6, length=450)["required_s"] == 3 * 60 + 12


def test_a_drop_of_one_psi_takes_twice_as_long():
    assert air(diameter=6, drop="1")["required_s"] == 340  # 2 x 2:50


def test_several_plastic_sizes_weigh_by_surface():
    sections = [{"diameter": 4, "length": 60}, {"diameter": 6, "length": 20}]
    # (16 x 60 + 36 x 20) / (4 x 60 + 6 x 20) = 1680 / 360 = 4.6667 in; 0.085 x 4.6667 / 0.0015 / 2 = 132.2
    assert air(sections=sections)["required_s"] == 132


def test_one_size_in_two_sections_is_one_section():
    halves = [{"diameter": 6, "length": 225}, {"diameter": 6, "length": 225}]
    assert air(sections=halves)["required_s"] == air(diameter=6, length=450)["required_s"]


# --- ASTM C828 -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("diameter", "length", "minutes"),
    [(15, 300, Decimal("6.3")), (8, 350, Decimal("4.2"))],  # ASTM C828
)
def test_clay_pipe_holds_the_printed_time(diameter, length, minutes):
    assert air("C828", diameter, length, drop="1")["required_s"] == minutes * 60


def test_clay_rounds_per_hundred_feet_before_the_length_counts():
    # 6 in: 0.371e-3 x 36 x 100 / 2 = 0.6678 -> 0.7 min; 250 ft: 1.75 min = 105 s (unrounded: 100.2 s)
    assert air("C828", 6, 250, drop="1")["required_s"] == 105


def test_several_clay_sizes_add_up():
    sections = [{"diameter": 8, "length": 350}, {"diameter": 15, "length": 300}]
    assert air("C828", sections=sections, drop="1")["required_s"] == 252 + 378


@pytest.mark.parametrize("diameter", [Decimal("8.01"), 10, 12, Decimal("15.01"), 18])
def test_clay_sizes_whose_loss_is_not_held_are_refused(diameter):
    with pytest.raises(CheckInputInvalid) as refused:
        air("C828", diameter, drop="1")
    assert [fault.path for fault in refused.value.faults] == ["/sections/0/diameter"]


@pytest.mark.parametrize("diameter", [4, 8, 15])
def test_clay_sizes_whose_loss_is_held_are_computed(diameter):
    assert air("C828", diameter, drop=None)["required_s"] > 0


# --- pass or fail ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("measured", "passed"), [(112, False), (113, True), (114, True), (0, False)])
def test_a_reading_passes_from_the_required_time_on(measured, passed):
    assert air(measured_s=measured)["passed"] is passed


def test_without_a_reading_nothing_is_said_to_have_passed():
    assert air()["passed"] is None
    assert air()["leakage_cfm"] is None


def test_a_drop_in_the_formulas_time_leaks_what_the_standard_allows():
    # 0.0015 cfm/sf over pi x 4/12 x 60 ft = 62.83 sf: 0.0942 cfm
    result = air(length=60, drop="1", measured_s=Decimal("226.667"))
    assert float(result["leakage_cfm"]) == pytest.approx(0.0942, rel=0.005)


def test_clay_leaks_its_allowed_loss_in_the_formulas_time():
    # T = 0.371e-3 x 64 x 350 / 2.0 = 4.1552 min = 249.3 s leaves 2.0 cfm
    result = air("C828", 8, 350, drop="1", measured_s=Decimal("249.312"))
    assert float(result["leakage_cfm"]) == pytest.approx(2.0, rel=0.005)


def test_a_pressure_that_fell_at_once_has_no_loss_to_give():
    result = air(measured_s=0)
    assert result["leakage_cfm"] is None
    assert any("did not hold" in note for note in result["notes"])


@pytest.mark.parametrize(
    ("standard", "drop", "code"),
    [("F1417", None, "required"), ("F1417", "0.7", "unknown_value"), ("C828", "0.5", "unknown_value")],
)
def test_a_drop_the_standard_does_not_time_is_refused(standard, drop, code):
    with pytest.raises(CheckInputInvalid) as refused:
        air(standard, drop=drop)
    assert [(fault.path, fault.code) for fault in refused.value.faults] == [("/pressure_drop_psi", code)]


@pytest.mark.parametrize(
    ("sections", "paths"),
    [
        ([], ["/sections"]),
        ("6", ["/sections"]),
        (None, ["/sections"]),
        ([{"diameter": 3, "length": 0}], ["/sections/0/diameter", "/sections/0/length"]),
        (
            [{"diameter": 4, "length": 9}, {"length": 9, "size": 4}],
            ["/sections/1/size", "/sections/1/diameter"],
        ),
        ([4], ["/sections/0"]),
    ],
)
def test_a_wrong_section_is_named_by_its_place(sections, paths):
    with pytest.raises(CheckInputInvalid) as refused:
        air(sections=sections)
    assert [fault.path for fault in refused.value.faults] == paths


def test_a_wrong_section_and_a_wrong_drop_are_told_at_once():
    with pytest.raises(CheckInputInvalid) as refused:
        air(sections=[{"diameter": 3, "length": 9}], drop="0.7")
    assert [fault.path for fault in refused.value.faults] == ["/sections/0/diameter", "/pressure_drop_psi"]


@STEADY
@given(diameter=st.integers(4, 12), length=st.integers(1, 2000), more=st.integers(1, 500))
def test_a_longer_pipe_never_needs_less_time(diameter, length, more):
    shorter, longer = air(diameter=diameter, length=length), air(diameter=diameter, length=length + more)
    assert shorter["required_s"] <= longer["required_s"]


def test_the_plugs_are_warned_of():
    assert any("plug" in caution for caution in air()["cautions"])


# --- water -----------------------------------------------------------------------------------------------


def water(**changes):
    laid = {"units": "us", "diameter": 6, "length": 5280, "limit_gpd_per_inch_mile": 3000}
    return run_check("water-test", {**laid, **changes})


def test_the_leakage_allowed_follows_size_and_length():
    assert water()["allowed_gph"] == 750  # 3,000 x 6 in x 1 mile / 24 h (Amity OR: more must be repaired)
    # 3,000 x 4 x 66 / 5280 / 24 = 6.25
    assert water(diameter=4, length=66)["allowed_gph"] == Decimal("6.25")


@pytest.mark.parametrize(
    ("measured", "passed"), [(Decimal("749.9"), True), (750, True), (Decimal("750.1"), False), (None, None)]
)
def test_leakage_passes_up_to_the_limit(measured, passed):
    assert water(measured_gph=measured)["passed"] is passed


def test_a_leakage_limit_has_no_default():
    with pytest.raises(CheckInputInvalid) as refused:
        water(limit_gpd_per_inch_mile=None)
    assert refused.value.faults[0].path == "/limit_gpd_per_inch_mile"


@pytest.mark.parametrize(
    ("code", "head", "held", "holds"),
    [
        ("ipc", 10, 900, True),  # International Plumbing Code 312: 10 ft for 15 minutes
        ("ipc", "9.9", 900, False),
        ("ipc", 10, 899, False),
        ("chicago", 10, 900, True),
        ("philadelphia", 10, 900, True),
        ("oakland", 5, 900, True),  # Oakland 13.08.500: 5 ft for 15 minutes
        ("oakland", "4.9", 900, False),
    ],
)
def test_a_head_of_water_must_stand_its_time(code, head, held, holds):
    assert head_holds(code, Decimal(head), Decimal(held)) is holds
