"""The density figures against the published checks; limits on both sides.

Checks and formulas: CJJ 181-2012 as restated. The scores used are those of the checks.
"""

from copy import deepcopy
from decimal import Decimal as D

import pytest

from scoring.grading import BUILT_IN_SCHEMES, SchemeInvalid, grade, load_scheme
from scoring.grading.density import Scored, density
from scoring.types import Defect, Inspected

SCHEME = load_scheme(BUILT_IN_SCHEMES["density-four"])
RULES = SCHEME.density


def points(*pairs):
    return [Scored(D(score), D(at), D(at)) for score, at in pairs]


def figures(scored, length="30", rules=RULES):
    return density(scored, D(length), rules)


def test_scores_far_apart_are_averaged_and_the_worst_leads():
    found = figures(points(("0.5", "1"), ("2", "10"), ("5", "20")))
    assert (found.s, found.s_max, found.f, found.steps) == (D("2.5"), 5, 5, 2)  # class III


def test_scores_near_each_other_weigh_more():
    found = figures(points(("5", "1"), ("5", "2.2"), ("5", "3.4")))
    assert (found.s, found.f) == (D("5.5"), D("5.5"))


def test_density_over_the_length():
    # (2 x 1.0 + 5 x 2.0) / 30 = 0.40
    far_apart = [Scored(D(2), D(3), D(4)), Scored(D(5), D(20), D(22))]
    found = figures(far_apart)
    assert (found.s_m, found.extent) == (D("0.40"), "part_or_whole")


@pytest.mark.parametrize(("spacing", "s"), [("1.5", "2.2"), ("1.51", "2"), ("1.01", "2.2")])
def test_spacing_up_to_a_metre_and_a_half_is_near(spacing, s):
    assert figures(points(("2", "5"), ("2", D(5) + D(spacing)))).s == D(s)


def test_no_more_than_a_metre_apart_is_one_defect_with_the_scores_added():
    assert figures(points(("2", "5"), ("3", "6"))).f == 5


def test_scores_add_up_to_ten_at_most():
    assert figures(points(("5", "5"), ("5", "5.5"), ("5", "6"))).f == 10


@pytest.mark.parametrize(
    ("f", "steps"), [("1", 0), ("1.01", 1), ("3", 1), ("3.01", 2), ("6", 2), ("6.01", 3), ("10", 3)]
)
def test_class_limits_belong_to_the_better_class(f, steps):
    """I F<=1, II <=3, III <=6, IV >6."""
    assert figures(points((f, "5"))).steps == steps


@pytest.mark.parametrize(
    ("score", "extent"), [("0.99", "local"), ("1", "part_or_whole"), ("5", "part_or_whole"), ("5.1", "whole")]
)
def test_extent_limits(score, extent):
    """<0.1 local, 0.1-0.5 part or whole, >0.5 whole: one metre of the score on ten."""
    assert figures([Scored(D(score), D(3), D(4))], "10").extent == extent


def test_no_finding_has_no_density_and_no_length_no_s_m():
    assert figures([]) is None
    assert figures(points(("2", "0")), "0").s_m is None


def test_a_finding_without_a_station_stands_alone():
    loose = Scored(D(2), None, None)
    assert figures([loose, *points(("2", "5"))]).s == 2


def test_a_small_finding_far_away_can_lower_f_as_published():
    alone = figures(points(("6", "1"), ("6", "2.2")))
    with_a_small_one = figures(points(("6", "1"), ("6", "2.2"), ("0.5", "20")))
    assert (alone.f, with_a_small_one.f) == (D("6.6"), 6)


def test_the_class_of_f_is_the_grade_of_the_aspect():
    defects = tuple(Defect(f"d{n}", "broken", D(n) * D("1.2")) for n in range(3))  # score 5 each, invented
    found = grade(Inspected(D(0), D(30), defects=defects), SCHEME)
    assert (found.structural.density.f, found.structural.grade, found.overall.grade) == (D("5.5"), 3, 3)


LIMITS = ("alpha", "near_up_to_m", "one_defect_up_to_m", "score_limit", "point_length_m")
LISTED = (*(("class_limits", n) for n in range(3)), *(("extent_limits", n) for n in range(2)))


def checks(rules):
    """Figures that hang on every number of the rules."""
    return (
        figures(points(("5", "1"), ("5", "2.2")), rules=rules),
        figures(points(("2", "5"), ("2", "6.5")), rules=rules),
        figures(points(("2", "5"), ("2", "6.51")), rules=rules),
        figures(points(("2", "5"), ("2", "6")), rules=rules),
        figures(points(("2", "5"), ("2", "6.01")), rules=rules),
        figures(points(("9", "5"), ("9", "5.5")), rules=rules),
        *(figures(points((f, "5")), rules=rules) for f in ("1", "1.01", "3", "3.01", "6", "6.01")),
        *(figures([Scored(D(s), D(3), D(4))], "10", rules) for s in ("0.99", "1", "5", "5.01")),
    )


@pytest.mark.parametrize("factor", [D("0.95"), D("1.05")])
@pytest.mark.parametrize("place", [*((name, None) for name in LIMITS), *LISTED])
def test_a_number_of_the_rules_that_slips_is_caught(place, factor):
    name, index = place
    document = deepcopy(BUILT_IN_SCHEMES["density-four"])
    block = document["density"]
    if index is None:
        block[name] *= factor
    else:
        block[name][index] *= factor
    assert checks(load_scheme(document).density) != checks(RULES)


def test_as_many_class_limits_as_steps_are_asked_for():
    document = deepcopy(BUILT_IN_SCHEMES["density-four"])
    document["density"]["class_limits"] = [1, 3]
    with pytest.raises(SchemeInvalid) as caught:
        load_scheme(document)
    assert [fault.path for fault in caught.value.faults] == ["/density/class_limits"]


def test_a_point_is_thirty_centimetres_long():
    """By house rule, after BFR Abwasser A-3.1.3: a score of 10 at a point of 10 m of pipe."""
    assert figures(points(("10", "5")), "10").s_m == D("0.3")


@pytest.mark.parametrize(("width", "score"), [("0.1", "0.5"), ("0.3", "2"), ("1", "2.5"), ("3", "5"), ("6", "10")])
def test_each_severity_of_the_handbook_has_its_invented_score(width, score):
    found = grade(Inspected(D(0), D(30), defects=(Defect("d", "crack", D(4), width_mm=D(width)),)), SCHEME)
    assert found.structural.density.f == D(score)
