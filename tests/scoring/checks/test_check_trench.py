"""Excavation rules of 29 CFR 1926 Subpart P, both sides of every limit, and the geometry by hand."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.checks import CheckInputInvalid, flexible_pipe_trench_width_in, run_check

STEADY = settings(derandomize=True, max_examples=60, deadline=None)
TENTH = st.integers(1, 120).map(lambda tenths: Decimal(tenths) / 10)


def trench(**changes):
    planned = {"units": "us", "depth": 8, "bottom_width": 3, "length": 20, "soil": "B"}
    return run_check("trench", {**planned, **changes})


def near(expected, share=0.005):
    return pytest.approx(expected, rel=share)


# --- geometry: V = area x L / 27, worked by hand in the comments -----------------------------------------


def test_a_type_b_trench_slopes_one_to_one():
    result = trench()
    assert result["top_width"] == 19  # 3 + 2 x 1 x 8
    assert result["section_area"] == 88  # (3 + 19) / 2 x 8
    assert float(result["volume"]) == near(65.19)  # 88 x 20 / 27
    assert (result["slope_ratio"], result["slope_degrees"]) == (1, 45)  # Table B-1


def test_a_shored_trench_has_vertical_walls():
    result = trench(protection="shored")
    assert result["top_width"] == 3
    assert float(result["volume"]) == near(17.78)  # 3 x 8 x 20 / 27


def test_type_c_needs_more_ground_than_type_b():
    assert float(trench(soil="C")["volume"]) == near(88.89)  # (3 + 27) / 2 x 8 x 20 / 27


def test_a_shield_is_vertical_below_and_the_wall_slopes_above_it():
    result = trench(protection="shielded", vertical_lower=4)
    assert result["top_width"] == 11  # 3 + 2 x 1 x (8 - 4)
    assert result["section_area"] == 40  # 3 x 4 + (3 + 11) / 2 x 4
    assert float(result["volume"]) == near(29.63)  # 40 x 20 / 27


def test_a_shield_with_no_height_given_holds_the_whole_depth():
    assert trench(protection="shielded")["volume"] == trench(protection="shored")["volume"]
    assert trench(protection="shielded", vertical_lower=8)["top_width"] == 3


def test_a_pit_slopes_on_all_four_sides():
    pit = {"bottom_width": 4, "length": 6, "sloped_sides": 4}
    assert float(trench(**pit)["volume"]) == near(56.10)  # 8 (24 + 8 x 10 + 4/3 x 64) / 27
    assert float(trench(**pit, protection="shored")["volume"]) == near(7.11)  # 6 x 4 x 8 / 27


def test_a_shielded_pit_slopes_above_the_shield_only():
    result = trench(bottom_width=4, length=6, sloped_sides=4, protection="shielded", vertical_lower=4)
    # 6 x 4 x 4 below; above, 4 ft at 1:1: 4 (24 + 4 x 10 + 4/3 x 16) = 341.33; (96 + 341.33) / 27
    assert float(result["volume"]) == near(16.198)


def test_metres_give_the_same_trench():
    result = run_check(
        "trench",
        {
            "units": "si",
            "depth": Decimal("2.4384"),
            "bottom_width": Decimal("0.9144"),
            "length": Decimal("6.096"),
            "soil": "B",
        },
    )
    assert float(result["volume"]) == near(65.1852 * 0.764554857984, 1e-5)
    assert result["spoil_setback"] == Decimal("0.6096")
    assert result["result_units"]["volume"] == "m3"


# --- limits: 29 CFR 1926, the comparison on its right side -----------------------------------------------


@pytest.mark.parametrize(("depth", "needed"), [(Decimal("3.99"), False), (4, True), (Decimal("4.01"), True)])
def test_a_ladder_is_needed_from_four_feet_on(depth, needed):  # 1926.651(c)(2): 4 feet or more
    result = trench(depth=depth)
    assert result["ladder_required"] is needed
    assert (result["ladders"] > 0) is needed


@pytest.mark.parametrize(
    ("length", "ladders"), [(1, 1), (50, 1), (Decimal("50.1"), 2), (100, 2), (Decimal("100.1"), 3)]
)
def test_nobody_walks_more_than_25_feet_to_a_ladder(length, ladders):  # 1926.651(c)(2)
    assert trench(length=length)["ladders"] == ladders


@pytest.mark.parametrize(
    ("depth", "bad_air", "needed"),
    [(4, True, False), (Decimal("4.01"), True, True), (Decimal("4.01"), False, False), (10, None, False)],
)
def test_the_air_is_tested_beyond_four_feet_where_it_may_be_bad(depth, bad_air, needed):
    # 1926.651(g)(1)(i): greater than 4 feet
    assert trench(depth=depth, bad_air_possible=bad_air)["air_test_required"] is needed


@pytest.mark.parametrize(("depth", "needed"), [(Decimal("4.99"), False), (5, True), (Decimal("5.01"), True)])
def test_walls_are_protected_from_five_feet_on(depth, needed):  # 1926.652(a)(1): exempt only below 5 feet
    assert trench(depth=depth)["protective_system_required"] is needed


def test_a_sign_of_cave_in_asks_for_protection_at_any_depth():  # 1926.652(a)(1)(ii)
    assert trench(depth=2, cave_in_signs=True)["protective_system_required"]
    assert not trench(depth=2)["protective_system_required"]


def test_stable_rock_needs_no_protection():  # 1926.652(a)(1)(i)
    result = trench(depth=10, soil="stable_rock")
    assert not result["protective_system_required"]
    assert (result["slope_ratio"], result["slope_degrees"]) == (0, 90)


def test_cave_in_signs_in_stable_rock_are_called_a_contradiction():
    cautions = trench(depth=10, soil="stable_rock", cave_in_signs=True)["cautions"]
    assert any("contradict" in caution for caution in cautions)


@pytest.mark.parametrize(("depth", "needed"), [(Decimal("19.99"), False), (20, False), (Decimal("20.01"), True)])
def test_an_engineer_designs_beyond_twenty_feet(depth, needed):  # Subpart P App. B
    result = trench(depth=depth)
    assert result["engineer_required"] is needed
    assert result["volume"] > 0


def test_exactly_twenty_feet_is_said_to_be_the_limit():
    assert any("Exactly 20 ft" in note for note in trench(depth=20)["notes"])
    assert not any("Exactly 20 ft" in note for note in trench(depth=Decimal("19.99"))["notes"])


@pytest.mark.parametrize(
    ("feet_limit", "metres", "name", "below", "at"),
    [
        (4, "1.2192", "ladder_required", False, True),
        (5, "1.524", "protective_system_required", False, True),
        (20, "6.096", "engineer_required", False, False),
    ],
)
def test_limits_in_metres_are_the_exact_feet(feet_limit, metres, name, below, at):
    assert trench(units="si", depth=Decimal(metres))[name] is at
    assert trench(units="si", depth=Decimal(metres) - Decimal("0.0001"))[name] is below
    assert trench(units="si", depth=Decimal(metres) + Decimal("0.0001"))[name] is True
    assert trench(depth=feet_limit)[name] is at


def test_a_depth_just_short_by_floating_point_is_still_protected():
    assert trench(units="si", depth=1.5239999999999998)["protective_system_required"]


def test_the_spoil_stays_two_feet_back():  # 1926.651(j)(2)
    assert trench()["spoil_setback"] == 2


# --- soil ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("soil", "ratio", "degrees"),
    [
        ("stable_rock", 0, 90),
        ("A", Decimal("0.75"), 53),
        ("B", 1, 45),
        ("C", Decimal("1.5"), 34),
        ("unclassified", Decimal("1.5"), 34),  # 1926.652(b)(1)(i)
    ],
)
def test_each_soil_has_the_slope_of_table_b1(soil, ratio, degrees):
    result = trench(soil=soil)
    assert (result["slope_ratio"], result["slope_degrees"]) == (ratio, degrees)


def test_ground_dug_before_is_never_type_a():  # App. A
    result = trench(soil="A", previously_disturbed=True)
    assert result["soil_used"] == "B"
    assert result["slope_ratio"] == 1
    assert any("type B" in note for note in result["notes"])


@pytest.mark.parametrize("soil", ["B", "C", "unclassified"])
def test_ground_dug_before_does_not_make_worse_soil_better(soil):
    assert trench(soil=soil, previously_disturbed=True)["soil_used"] == soil


def test_backfill_in_rock_is_not_stable_rock():
    result = trench(soil="stable_rock", previously_disturbed=True)
    assert result["soil_used"] == "B"
    assert result["protective_system_required"]


def test_type_a_is_questioned_while_nobody_says_whether_the_ground_was_dug():
    assert any("existing drain" in caution for caution in trench(soil="A")["cautions"])
    assert not any("existing drain" in caution for caution in trench(soil="B")["cautions"])


@pytest.mark.parametrize(
    ("hours", "depth", "ratio", "degrees"),
    [
        (24, 12, Decimal("0.5"), 63),  # Table B-1, short term: 24 h or less, 12 ft or less
        (Decimal("24.1"), 12, Decimal("0.75"), 53),
        (24, Decimal("12.01"), Decimal("0.75"), 53),
        (None, 8, Decimal("0.75"), 53),
    ],
)
def test_type_a_may_be_steeper_for_a_day_down_to_twelve_feet(hours, depth, ratio, degrees):
    result = trench(soil="A", open_hours=hours, depth=depth)
    assert (result["slope_ratio"], result["slope_degrees"]) == (ratio, degrees)


def test_short_term_steepness_is_for_type_a_only():
    assert trench(soil="B", open_hours=4)["slope_ratio"] == 1
    assert trench(soil="A", open_hours=4, previously_disturbed=True)["slope_ratio"] == 1


def test_soil_nobody_named_counts_as_unclassified():
    result = run_check("trench", {"units": "us", "depth": 8, "bottom_width": 3, "length": 20})
    assert (result["soil_used"], result["slope_ratio"]) == ("unclassified", Decimal("1.5"))


# --- what is refused -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "path", "code"),
    [
        ({"depth": 0}, "/depth", "out_of_range"),
        ({"depth": Decimal("100.1")}, "/depth", "out_of_range"),
        ({"vertical_lower": 4}, "/vertical_lower", "conflict"),
        ({"vertical_lower": 4, "protection": "shored"}, "/vertical_lower", "conflict"),
        ({"vertical_lower": 9, "protection": "shielded"}, "/vertical_lower", "out_of_range"),
        ({"sloped_sides": 3}, "/sloped_sides", "unknown_value"),
        ({"soil": "D"}, "/soil", "unknown_value"),
    ],
)
def test_what_cannot_be_dug_is_refused_by_name(changes, path, code):
    with pytest.raises(CheckInputInvalid) as refused:
        trench(**changes)
    assert [(fault.path, fault.code) for fault in refused.value.faults] == [(path, code)]
    assert path.rsplit("/", 1)[1] in refused.value.faults[0].detail


# --- what always holds -----------------------------------------------------------------------------------


@STEADY
@given(depth=TENTH, width=TENTH, length=TENTH, soil=st.sampled_from(["A", "B", "C", "unclassified"]))
def test_a_slope_never_takes_less_ground_than_a_shored_wall(depth, width, length, soil):
    same = {"depth": depth, "bottom_width": width, "length": length, "soil": soil}
    shored, sloped = trench(**same, protection="shored"), trench(**same)
    pit = trench(**same, sloped_sides=4)
    assert shored["volume"] < sloped["volume"] < pit["volume"]


@STEADY
@given(depth=TENTH, lower=st.integers(0, 100))
def test_more_shield_never_takes_more_ground(depth, lower):
    held = depth * lower / 100
    part = trench(depth=depth, protection="shielded", vertical_lower=held)
    assert trench(depth=depth, protection="shored")["volume"] <= part["volume"] <= trench(depth=depth)["volume"]


def test_a_flexible_pipe_needs_room_beside_it():  # ASTM D2321: max(OD + 16, 1.25 OD + 12)
    assert float(flexible_pipe_trench_width_in(Decimal("6.275"))) == near(22.275, 1e-9)
    assert flexible_pipe_trench_width_in(Decimal(16)) == 32  # both sides equal: 16 + 16, 20 + 12
    assert flexible_pipe_trench_width_in(Decimal(20)) == 37  # 25 + 12 beats 36
