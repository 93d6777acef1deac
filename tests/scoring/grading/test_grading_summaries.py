"""Counts, sums and lengths over findings, against published figures where there are any."""

from decimal import Decimal as D

import pytest

from scoring.grading import (
    BUILT_IN_SCHEMES,
    damage_length_m,
    damage_points,
    grade,
    grade_segments,
    load_scheme,
    pipe_lengths,
)
from scoring.types import Defect, Inspected, Segment

OPEN_FIVE = load_scheme(BUILT_IN_SCHEMES["open-five"])
FIVE_CLASS = load_scheme(BUILT_IN_SCHEMES["five-class"])


def collapse(ref, at="1"):
    return Defect(ref, "collapse", D(at))  # open-five 5


def fracture(ref, at="2", to=None):
    return Defect(ref, "fracture", D(at), None if to is None else D(to))  # open-five 3


def graded(defects, scheme=OPEN_FIVE, segments=(), length="30"):
    return grade(Inspected(D(0), D(length), segments=tuple(segments), defects=tuple(defects)), scheme)


def test_two_grade_sum_of_the_published_example():
    """City of Santa Ana, Sewer Rate Study 2014, p. 245: grade 5 twice and grade 3 six times give 28."""
    defects = [collapse("a"), collapse("b"), *(fracture(f"f{n}") for n in range(6))]
    structural = graded(defects).structural
    assert structural.two_grade_sum == 28
    assert [(one.grade, one.count) for one in structural.worst_two] == [(5, 2), (3, 6)]


def test_counts_weighted_count_and_mean():
    # 5 + 3 + 3 = 11; 11 / 3 = 3.667
    found = graded([collapse("a"), fracture("b"), fracture("c")]).structural
    assert found.counts == {1: 0, 2: 0, 3: 2, 4: 0, 5: 1}
    assert (found.grade, found.weighted_count, found.mean_grade) == (5, 11, D("3.667"))


def test_a_third_grade_stays_out_of_the_worst_two():
    crack = Defect("c", "crack", D(3))  # open-five 2
    found = graded([crack, fracture("b"), collapse("a")]).structural
    assert [one.grade for one in found.worst_two] == [5, 3]


def test_nothing_found_is_grade_0_with_no_mean():
    found = graded([])
    assert (found.overall.grade, found.overall.mean_grade, found.overall.worst_two) == (0, None, ())
    assert found.overall.time_left == "nothing found"


def test_nothing_found_has_no_number_in_the_five_classes():
    assert graded([], FIVE_CLASS).overall.grade is None


def test_in_the_five_classes_the_smallest_number_leads():
    found = graded([fracture("b"), collapse("a")], FIVE_CLASS).structural
    assert found.grade == 1
    assert [(one.grade, one.count) for one in found.worst_two] == [(1, 1), (3, 1)]


@pytest.mark.parametrize(
    ("kind", "degree", "years"),
    [
        ("collapse", None, "within 5 years or now"),
        ("broken", None, "5 to 10 years"),
        ("fracture", None, "10 to 20 years"),
        ("crack", None, "over 20 years"),
        ("sag", "slight", "none foreseen"),
    ],
)
def test_time_left_by_the_worst_grade(kind, degree, years):
    """Years as in City of Santa Ana, Sewer Rate Study 2014, app. B p. 240."""
    assert graded([Defect("a", kind, D(1), degree=degree)]).overall.time_left == years


def test_the_overall_is_led_by_the_worse_aspect():
    roots = Defect("r", "roots", D(4), degree="plug")  # service 5
    found = graded([fracture("f"), roots])
    assert (found.structural.grade, found.service.grade, found.overall.grade) == (3, 5, 5)


def test_a_finding_in_both_aspects_counts_once_overall():
    found = graded([Defect("s", "soil_ingress", D(4))])
    assert (found.structural.counts[5], found.service.counts[5], found.overall.counts[5]) == (1, 1, 1)


@pytest.mark.parametrize(
    ("length", "times"), [("1.0", 1), ("2.49", 2), ("2.5", 3), ("2.51", 3), ("3.49", 3), ("3.5", 4)]
)
def test_a_stretch_counts_once_per_pipe_length_a_half_rounded_up(length, times):
    clay = (Segment(D(0), D(30), joint_spacing_m=D(1)),)
    assert pipe_lengths(fracture("a", "2", D(2) + D(length)), clay) == times


def test_a_stretch_counts_at_least_once():
    clay = (Segment(D(0), D(30), joint_spacing_m=D(3)),)
    assert pipe_lengths(fracture("a", "2", "2.4"), clay) == 1


def test_five_feet_stand_for_a_joint_spacing_nobody_knows():
    # 12.5 ft over 5 ft: 2.5 pipe lengths, half up 3
    assert pipe_lengths(fracture("a", "0", D("12.5") * D("0.3048")), ()) == 3


def test_a_stretch_over_two_spacings_adds_up_before_it_is_rounded():
    # 1.5 m of 1 m pipes and 3 m of 2 m pipes: 1.5 + 1.5 = 3
    pipes = (Segment(D(0), D(10), joint_spacing_m=D(1)), Segment(D(10), D(20), joint_spacing_m=D(2)))
    assert pipe_lengths(fracture("a", "8.5", "13"), pipes) == 3


def test_thirds_of_a_pipe_length_do_not_lose_the_half():
    # 3.5 pipes of 1/3 ft = 0.1016 m: 0.3556 m, exactly 3.5, half up 4
    tiles = (Segment(D(0), D(10), joint_spacing_m=D("0.1016")),)
    assert pipe_lengths(fracture("a", "0", "0.3556"), tiles) == 4


def test_a_continuous_finding_weighs_in_the_counts():
    clay = Segment(D(0), D(30), joint_spacing_m=D(1))
    assert graded([fracture("a", "2", "6")], segments=[clay]).structural.counts[3] == 4


def test_damage_points_of_the_published_example():
    """BFR Abwasser A-3.1.3: 360 at a point and 140 over 4.0 m give 668."""
    assert damage_points([(360, None), (140, D("4.0"))]) == 668


@pytest.mark.parametrize(("to", "length"), [(None, "0.3"), ("2.1", "0.3"), ("2.3", "0.3"), ("2.31", "0.31")])
def test_a_point_and_anything_shorter_counts_thirty_centimetres(to, length):
    """BFR Abwasser A-3.1.3: 0.3 m is the border between point and continuous."""
    assert damage_length_m([fracture("a", "2", to)]) == D(length)


def test_each_segment_is_summed_by_itself_with_stretches_cut_to_it():
    segments = [Segment(D(0), D(10), joint_spacing_m=D(1)), Segment(D(10), D(30), joint_spacing_m=D(2))]
    pipe = Inspected(
        D(0),
        D(30),
        tuple(segments),
        defects=(fracture("f", "7", "14"), collapse("c", "10"), collapse("e", "30")),
    )
    first, second = grade_segments(pipe, OPEN_FIVE)
    assert (first.structural.counts[3], first.structural.counts[5]) == (3, 0)
    # the collapse on the border belongs to the segment that begins there, the one at the end to the last
    assert (second.structural.counts[3], second.structural.counts[5]) == (2, 2)


JAPANESE = {  # IWA journal paper, iwaponline.com view-large 2139453, Table 3: pipe-wise counts a, b, c
    "broken": (3, 8, 6),
    "crack": (1, 5, 8),
    "displaced_joint": (0, 0, 3),
    "infiltration": (0, 0, 1),
    "protruding_connection": (0, 0, 1),
    "roots": (0, 3, 0),
    "wall_deposits": (0, 0, 4),
    "obstruction": (0, 0, 1),  # "others"
}


# Which degree stands for a, b, c. Invented for the replay.
OF_KIND = {"roots": ("plug", "bundles", "hairs"), "infiltration": ("flowing", "dripping", "damp")}
ANY = ("severe", "moderate", "slight")


def three_ranks():
    """a, b, c as numbers 3, 2, 1; the rank is read as the degree of its kind. Invented for the replay."""
    every = list(dict.fromkeys(kind for row in BUILT_IN_SCHEMES["open-five"]["rows"] for kind in row["kinds"]))
    ranks = (("abc"[n], 3 - n, sorted({words[n] for words in (*OF_KIND.values(), ANY)})) for n in range(3))
    rows = [
        {
            "rule": f"ranks/{word}", "kinds": every, "applies": "unmeasured", "aspect": "structural",
            "grade": number, "source": "invented", "when": {"degree": words},
        }
        for word, number, words in ranks
    ]  # fmt: skip
    rows[-1]["when"]["degree"].append(None)
    direction = {"best": 1, "worst": 3, "nothing_found": 0}
    return load_scheme(
        {
            "id": "ranks",
            "version": 1,
            "title": "Ranks",
            "source": "invented",
            "direction": direction,
            "rows": rows,
        }
    )


def test_the_japanese_run_gives_its_published_totals():
    """Totals of the same table: 4 a, 16 b, 24 c, 44 in all."""
    defects = [
        Defect(f"{kind}-{degree}-{n}", kind, D(n), degree=degree)
        for kind, counts in JAPANESE.items()
        for degree, count in zip(OF_KIND.get(kind, ANY), counts, strict=True)
        for n in range(count)
    ]
    found = graded(defects, three_ranks()).structural
    assert found.counts == {3: 4, 2: 16, 1: 24}
    assert sum(found.counts.values()) == 44
    assert found.grade == 3
    assert [(one.grade, one.count) for one in found.worst_two] == [(3, 4), (2, 16)]


@pytest.mark.parametrize(("feet", "times"), [("7.49", 1), ("7.5", 2), ("12.49", 2), ("12.5", 3)])
def test_a_pipe_of_unknown_length_is_five_feet_to_the_hundredth(feet, times):
    assert pipe_lengths(fracture("a", "0", D(feet) * D("0.3048")), ()) == times
