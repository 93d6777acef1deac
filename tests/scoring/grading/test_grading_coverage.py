"""What was not seen is said, exactly; joints are counted by what the camera really passed."""

from decimal import Decimal as D

import pytest

from scoring.grading import coverage
from scoring.grading.joints import estimate_spacing_m
from scoring.types import Defect, Feature, Inspected, Segment, Unseen


def pipe(unseen=(), length="30", **more):
    return Inspected(D(0), D(length), unseen=tuple(unseen), **more)


def joints(*positions):
    return tuple(Feature("joint", D(position)) for position in positions)


def hidden(from_m, to_m):
    return Unseen(D(from_m), None if to_m is None else D(to_m), "under_water")


def test_a_flooded_stretch_of_eight_percent_leaves_92_percent_seen():
    assert coverage(pipe([hidden("10", "12.4")])).length_share == D("0.92")


def test_stretches_that_overlap_or_touch_count_once():
    # 5 to 8, 7 to 9 and 9 to 11 hide 6 m of 30
    assert coverage(pipe([hidden(5, 8), hidden(7, 9), hidden(9, 11)])).length_share == D("0.8")


def test_only_what_lies_within_the_inspected_length_takes_off():
    assert coverage(pipe([hidden(-5, 3), hidden(27, 40), hidden(50, 60)])).length_share == D("0.8")


def test_an_open_end_beyond_the_end_takes_nothing_off_but_is_told():
    found = coverage(pipe([hidden(30, None)]))
    assert found.length_share == 1
    assert found.unseen == (hidden(30, None),)


def test_an_open_end_from_within_hides_the_rest():
    assert coverage(pipe([hidden(24, None)])).length_share == D("0.8")


def test_a_millimetre_unseen_never_rounds_to_all_seen():
    assert coverage(pipe([hidden("1", "1.001")])).length_share == D("0.9999")


def test_a_millimetre_seen_never_rounds_to_nothing_seen():
    assert coverage(pipe([hidden("0", "29.999")])).length_share == D("0.0001")


def test_a_run_without_length_has_no_share():
    assert coverage(pipe(length="0")).length_share is None


def test_joints_seen_are_the_sound_and_the_affected():
    crack_at_joint = Defect("a", "crack", D("2"), at_joint=True)
    open_joint = Defect("b", "open_joint", D("3"))
    crack_between = Defect("c", "crack", D("3.5"))
    found = coverage(pipe(features=joints(1, 2, 4), defects=(crack_at_joint, open_joint, crack_between)))
    assert (found.joints_seen, found.joints_affected, found.joints_sound) == (4, 2, 2)


def test_positions_within_ten_centimetres_are_one_joint():
    near = Defect("a", "roots", D("1.1"), at_joint=True)
    apart = Defect("b", "roots", D("2.11"), at_joint=True)
    found = coverage(pipe(features=joints(1, 2), defects=(near, apart)))
    assert (found.joints_seen, found.joints_affected) == (3, 2)


def test_a_joint_inside_an_unseen_stretch_is_not_seen_one_at_its_edge_is():
    assert coverage(pipe([hidden(5, 8)], features=joints(5, 6, 8))).joints_seen == 2


def test_a_joint_with_a_finding_was_seen_even_where_the_water_stood():
    broken = Defect("a", "crack", D(6), at_joint=True)
    found = coverage(pipe([hidden(5, 8)], defects=(broken,)))
    assert (found.joints_seen, found.joints_affected) == (1, 1)


def test_known_spacing_tells_which_joints_nobody_looked_at():
    # joints every 3 m in 30 m: 9 within; water from 10 to 16 hides those at 12 and 15
    clay = Segment(D(0), D(30), joint_spacing_m=D(3))
    seen = joints(3, 6, 9, 18, 21, 24, 27)
    found = coverage(pipe([hidden(10, 16)], segments=(clay,), features=seen))
    assert (found.joints_expected, found.joints_seen, found.joints_not_seen) == (9, 7, 2)
    assert (found.joints_not_recorded, found.joint_spacing_from) == (0, "given")


def test_a_joint_passed_but_not_written_down_is_not_called_unseen():
    clay = Segment(D(0), D(30), joint_spacing_m=D(3))
    found = coverage(pipe(segments=(clay,), features=joints(3, 6, 12, 15, 18, 21, 24, 27)))
    assert (found.joints_expected, found.joints_not_seen, found.joints_not_recorded) == (9, 0, 1)


def test_spacing_shows_in_the_joints_themselves_though_they_jitter_and_some_are_missing():
    # about 0.61 m apart (2 ft), each off by up to 3 cm; the water hides 3.66, 4.27 and 4.88
    seen = joints("0.61", "1.24", "1.81", "2.44", "3.07", "5.50", "6.10", "6.69", "7.33", "7.92")
    found = coverage(pipe([hidden("3.3", "5.2")], length="8.53", features=seen))
    assert found.joint_spacing_from == "estimated"
    assert (found.joints_seen, found.joints_not_seen, found.joints_expected) == (10, 3, 13)


def test_irregular_joints_give_no_spacing_and_no_expectation():
    found = coverage(pipe(features=joints(1, "1.7", 4, "8.3", "9.1", 15, "21.2")))
    assert (found.joints_expected, found.joint_spacing_from) == (None, None)


def test_four_joints_are_too_few_to_tell_a_spacing():
    assert coverage(pipe(features=joints(1, 2, 3, 4))).joints_expected is None


def test_five_joints_are_enough():
    found = coverage(pipe(features=joints(1, 2, 3, 4, 5), length="5.5"))
    assert (found.joints_expected, found.joint_spacing_from) == (5, "estimated")


def test_half_of_the_neighbours_one_spacing_apart_and_the_rest_multiples_is_enough():
    # gaps 1 1 2 3: joints at 4, 6 and 7 were not written down
    found = coverage(pipe(features=joints(1, 2, 3, 5, 8), length="8.5"))
    assert (found.joints_expected, found.joints_not_recorded) == (8, 3)


def test_one_gap_in_five_may_be_no_multiple():
    # gaps 1 1 1 1 1.5: 4 of 5 fit; 1.5 rounds to two pipes
    assert coverage(pipe(features=joints(1, 2, 3, 4, 5, "6.5"), length="7")).joint_spacing_from == "estimated"


def test_two_gaps_in_six_that_are_no_multiple_are_too_many():
    odd = joints(1, 2, 3, 4, 5, "6.5", "7.9")
    assert coverage(pipe(features=odd, length="8")).joint_spacing_from is None


@pytest.mark.parametrize(("last", "spacing"), [("5.15", "1.030"), ("5.16", "1.000")])
def test_a_gap_up_to_fifteen_percent_off_counts_into_the_spacing(last, spacing):
    # gaps 1 1 1 1 and 1.15: mean 5.15 / 5 = 1.03; with 1.16 only the first four are one spacing
    assert estimate_spacing_m([D(0), D(1), D(2), D(3), D(4), D(last)]) == D(spacing)


def test_no_joint_is_expected_within_ten_centimetres_of_the_end():
    clay = Segment(D(0), D("9.1"), joint_spacing_m=D(3))
    longer = Segment(D(0), D("9.11"), joint_spacing_m=D(3))
    assert coverage(pipe(segments=(clay,), length="9.1")).joints_expected == 2
    assert coverage(pipe(segments=(longer,), length="9.11")).joints_expected == 3


def test_a_spacing_nobody_lays_is_left_aside():
    dust = Segment(D(0), D(30), joint_spacing_m=D("0.0001"))
    assert coverage(pipe(segments=(dust,))).joints_expected is None


def test_a_spacing_known_for_a_part_says_for_how_much():
    half = Segment(D(0), D(15), joint_spacing_m=D(3))
    rest = Segment(D(15), D(30))
    found = coverage(pipe(segments=(half, rest), features=joints(3, 6, 9, 12)))
    assert (found.joints_expected, found.joint_spacing_share) == (4, D("0.5"))


def test_cutting_a_segment_in_two_changes_no_joint_count():
    whole = (Segment(D(0), D(30), joint_spacing_m=D(3)),)
    cut = (Segment(D(0), D(14), joint_spacing_m=D(3)), Segment(D(14), D(30), joint_spacing_m=D(3)))
    seen = joints(3, 6, 24)
    assert coverage(pipe(segments=whole, features=seen)) == coverage(pipe(segments=cut, features=seen))
