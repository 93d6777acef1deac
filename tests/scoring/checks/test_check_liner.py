"""Liner wall thickness against worked examples and hand calculations of ASTM F1216 Appendix X1."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.checks import CheckInputInvalid, run_check
from scoring.checks.liner_design import buoyancy, ovality_factor, soil_support

STEADY = settings(derandomize=True, max_examples=60, deadline=None)
NAJAFI = "Najafi, Trenchless Technology Piping, pp. 75-83"


def partial(**changes):
    given_ = {"units": "us", "condition": "partially_deteriorated", "diameter": 6, "water_over_invert": 8}
    return run_check("liner", {**given_, **changes})


def full(**changes):
    given_ = {
        "units": "us",
        "condition": "fully_deteriorated",
        "diameter": 6,
        "cover": 8,
        "water_over_crown": 4,
    }
    return run_check("liner", {**given_, **changes})


def case(result, name):
    return next(entry for entry in result["cases"] if entry["case"] == name)


def inches(result, name):
    return float(case(result, name)["thickness_mm"]) / 25.4


def near(expected, share=0.005):
    return pytest.approx(expected, rel=share)


# --- published ------------------------------------------------------------------------------------------


def large_example(**changes):
    return full(
        diameter=48,
        ovality_percent=2,
        cover=16,
        water_over_crown=8,
        external_pressure=Decimal("14.90"),
        safety_factor=2,
        long_term_modulus=125_000,
        soil_modulus=1000,
        initial_modulus=250_000,
        **changes,
    )


def test_a_48_inch_pipe_buckles_below_an_inch():  # Najafi pp. 75-83: 1.01 in
    assert inches(large_example(), "buckling") == near(1.01)
    assert large_example()["governs"] == "buckling"


def test_a_48_inch_pipe_needs_the_least_stiffness():  # Najafi pp. 75-83: X1.4, 0.790 in
    assert inches(large_example(), "stiffness") == near(0.790)


def test_stiffness_asks_for_a_dimension_ratio_of_60_73():  # ASTM F1216 X1.4 at 250,000 psi: DR <= 60.73
    assert 48 / inches(large_example(), "stiffness") == near(60.73, 1e-4)


def test_the_soil_support_at_16_feet():  # Najafi pp. 75-83: 0.414
    assert float(soil_support(Decimal(16))) == near(0.414)


def test_the_ovality_factor_at_two_percent():  # Najafi pp. 75-83: 0.836
    assert float(ovality_factor(Decimal("0.02"))) == near(0.836)


def test_the_buoyancy_factor_of_the_example():  # Najafi pp. 75-83: Rw 0.835
    assert buoyancy(Decimal(8), Decimal(16)) == Decimal("0.835")


# --- lateral size, worked from the formulas --------------------------------------------------------------


def test_a_lateral_with_a_sound_host_needs_little():
    # P = 0.4333 x 8 = 3.4664 psi; C = 0.8356; (2 x 7 x 125000 x 0.8356 / (3.4664 x 2 x 0.91))^(1/3) = 61.4
    # 6 in / 62.4 = 0.0961 in = 2.44 mm
    result = partial(ovality_percent=2)
    assert float(result["thickness_mm"]) == near(2.44)
    assert result["governs"] == "buckling"


def test_the_head_over_the_invert_presses_with_0_4333_psi_a_foot():  # F1216 X1.1: P = 0.4333 H
    assert partial(water_over_invert=10)["cases"] == partial(external_pressure=Decimal("4.333"))["cases"]


def test_oval_stress_has_its_own_smaller_wall():
    # 1.5 x 0.02 x 1.02 = 0.0306; 0.5 x 1.02 = 0.51; 4500 / (3.4664 x 2) = 649.09
    # DR = (0.51 + sqrt(0.2601 + 4 x 0.0306 x 649.09)) / 0.0612 = (0.51 + 8.9279) / 0.0612 = 154.2
    assert inches(partial(ovality_percent=2), "stress") == near(6 / 154.2)


def test_a_lateral_without_a_host_is_governed_by_stiffness():
    result = full()
    assert inches(result, "buckling") == near(0.0874)
    assert inches(result, "stiffness") == near(0.0988)
    assert result["governs"] == "stiffness"
    assert float(result["thickness_mm"]) == near(2.51)


def test_before_2007_the_wall_came_out_six_percent_thicker():  # C on the load: C^(-1/3) at 2 % = 1.062
    older = inches(full(edition="before_2007b"), "buckling")
    assert older / inches(full(), "buckling") == near(1.0617, 1e-3)


def test_the_edition_does_not_touch_the_partial_cases():
    assert partial(edition="before_2007b")["cases"] == partial()["cases"]


def test_the_edition_is_named_in_the_source():
    assert "F1216-07b and later" in full()["source"][0]
    assert "before F1216-07b" in full(edition="before_2007b")["source"][0]


# --- where there is no number ----------------------------------------------------------------------------


def test_without_external_water_no_partial_case_applies():
    result = partial(water_over_invert=0)
    assert result["thickness_mm"] is None
    assert result["order_mm"] is None
    assert result["governs"] == "none"
    assert case(result, "buckling")["note"] == "no external water: not applicable"
    assert case(result, "stress")["note"] == "no external water: not applicable"


def test_a_dry_pipe_still_gets_the_agency_minimum():
    result = partial(water_over_invert=0, agency_minimum_mm=Decimal("3.5"), step_mm=Decimal("0.7"))
    assert (result["thickness_mm"], result["order_mm"]) == (None, Decimal("3.5"))


def test_a_round_pipe_has_no_oval_stress():
    result = partial(ovality_percent=0)
    assert case(result, "stress")["thickness_mm"] is None
    assert "not applicable" in case(result, "stress")["note"]
    assert result["governs"] == "buckling"


def test_without_any_load_stiffness_remains():
    result = full(external_pressure=0)
    assert case(result, "buckling")["note"] == "no external load: not applicable"
    assert result["governs"] == "stiffness"


def test_cases_of_the_other_condition_are_marked_not_applicable():
    assert "not applicable" in case(partial(), "stiffness")["note"]
    assert "not applicable" in case(full(), "stress")["note"]


# --- agency minimum and steps ----------------------------------------------------------------------------


def test_an_agency_minimum_decides_at_lateral_size():  # Nashua NH: 3.5 mm in 0.7 mm steps
    result = full(agency_minimum_mm=Decimal("3.5"), step_mm=Decimal("0.7"))
    assert result["order_mm"] == Decimal("3.5")
    assert float(result["thickness_mm"]) == near(2.51)
    assert any("agency minimum" in note.lower() for note in result["notes"])


@pytest.mark.parametrize(
    ("minimum", "step", "order"),
    [
        ("3.5", "0.7", "3.5"),  # exactly a step: no more
        ("3.51", "0.7", "4.2"),
        ("4.5", "1.5", "4.5"),  # a statewide bid: 4.5 mm
        ("4.5", None, "4.5"),
    ],
)
def test_the_wall_ordered_is_a_whole_number_of_steps(minimum, step, order):
    given_step = None if step is None else Decimal(step)
    assert full(agency_minimum_mm=Decimal(minimum), step_mm=given_step)["order_mm"] == Decimal(order)


def test_a_computed_wall_is_rounded_up_to_the_next_step():
    assert full(step_mm=Decimal("0.7"))["order_mm"] == Decimal("2.8")  # 2.51 -> 4 x 0.7


# --- what is assumed and what is asked -------------------------------------------------------------------


def test_an_assumed_ovality_is_said():
    assert any(note.startswith("ovality_percent not given: 2") for note in partial()["notes"])
    assert partial()["thickness_mm"] == partial(ovality_percent=2)["thickness_mm"]


def test_what_a_condition_does_not_use_is_said():
    assert any(note.startswith("cover is not used") for note in partial(cover=8)["notes"])
    assert partial(cover=8)["cases"] == partial()["cases"]
    assert any(note.startswith("water_over_invert is not used") for note in full(water_over_invert=9)["notes"])
    assert not any("is not used" in note for note in full()["notes"] + partial()["notes"])


def test_assumptions_are_said_in_the_units_asked():
    notes = full(units="si", diameter=150)["notes"]
    assert any(note.startswith("initial_modulus not given: 1723690 kPa") for note in notes)  # 250,000 psi


def test_the_water_of_an_unknown_table_is_taken_to_the_surface():
    known = full(external_pressure=10, water_over_crown=8)
    unknown = full(external_pressure=10, water_over_crown=None)
    assert unknown["thickness_mm"] == known["thickness_mm"]
    assert any("water to the surface" in note for note in unknown["notes"])


@pytest.mark.parametrize(("water", "lift"), [("0", "1"), ("7.99", "0.6704125"), ("8", "0.67"), ("9", "0.67")])
def test_the_buoyancy_factor_stops_at_067(water, lift):  # 1 - 0.33 Hw/H, at least 0.67
    assert buoyancy(Decimal(water), Decimal(8)) == Decimal(lift)


def faults_of(make, **changes):
    with pytest.raises(CheckInputInvalid) as refused:
        make(**changes)
    return [(fault.path, fault.code) for fault in refused.value.faults]


@pytest.mark.parametrize("diameter", [Decimal("3.99"), Decimal("108.01")])
def test_sizes_outside_the_standard_are_refused(diameter):  # F1216 covers 4 to 108 in
    assert faults_of(full, diameter=diameter) == [("/diameter", "out_of_range")]


@pytest.mark.parametrize("diameter", [4, 108])
def test_the_standards_own_limits_are_computed(diameter):
    assert full(diameter=diameter)["thickness_mm"] > 0


def test_a_metric_100_mm_lateral_is_inside():
    assert full(units="si", diameter=100)["thickness_mm"] > 0
    assert faults_of(full, units="si", diameter=99) == [("/diameter", "out_of_range")]


@pytest.mark.parametrize(("ovality", "is_refused"), [(10, False), (Decimal("10.01"), True), (-1, True)])
def test_more_ovality_than_a_liner_takes_is_refused(ovality, is_refused):
    if is_refused:
        assert faults_of(partial, ovality_percent=ovality) == [("/ovality_percent", "out_of_range")]
    else:
        assert partial(ovality_percent=ovality)["thickness_mm"] > 0


def test_a_partial_design_needs_the_groundwater():
    assert faults_of(partial, water_over_invert=None) == [("/water_over_invert", "required")]


def test_a_full_design_needs_cover_and_water():
    assert faults_of(full, cover=None, water_over_crown=None) == [
        ("/cover", "required"),
        ("/water_over_crown", "required"),
    ]


def test_a_liner_does_not_stiffen_with_time():
    assert faults_of(full, initial_modulus=100_000, long_term_modulus=125_000) == [("/long_term_modulus", "conflict")]


# --- what always holds -----------------------------------------------------------------------------------

FEET = st.integers(1, 40).map(Decimal)


@STEADY
@given(low=FEET, more=FEET, ovality=st.integers(0, 10))
def test_more_water_never_needs_less_wall(low, more, ovality):
    thin = partial(water_over_invert=low, ovality_percent=ovality)
    thick = partial(water_over_invert=low + more, ovality_percent=ovality)
    assert thin["thickness_mm"] < thick["thickness_mm"]


@STEADY
@given(cover=FEET, water=FEET, ovality=st.integers(0, 9))
def test_a_rounder_pipe_never_needs_more_wall(cover, water, ovality):
    same = {"cover": cover, "water_over_crown": min(water, cover)}
    rounder, flatter = (full(**same, ovality_percent=percent) for percent in (ovality, ovality + 1))
    assert case(rounder, "buckling")["thickness_mm"] < case(flatter, "buckling")["thickness_mm"]


@STEADY
@given(cover=FEET, water=FEET, step=st.sampled_from(["0.5", "0.7", "1.5"]))
def test_the_order_covers_the_design_by_less_than_a_step(cover, water, step):
    result = full(cover=cover, water_over_crown=min(water, cover), step_mm=Decimal(step))
    assert 0 <= result["order_mm"] - result["thickness_mm"] < Decimal(step)
