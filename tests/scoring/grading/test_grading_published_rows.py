"""Every row of the published measure table, at its limits and on both sides of each.

Expected classes: Stein & Partner, Instandhaltung von Kanalisationen, 2001, ch. 4.7.4.3.1, class 1 worst, 5
least; a value two ranges share takes the worse class, "<" and ">" are strict (house rule). `open-five`
counts the other way: grade = 6 - class.
"""

from decimal import Decimal

import pytest
from scoring.grading import BUILT_IN_SCHEMES, apply_scheme, load_scheme
from scoring.types import Defect, Segment

OPEN_FIVE = load_scheme(BUILT_IN_SCHEMES["open-five"])
FIVE_CLASS = load_scheme(BUILT_IN_SCHEMES["five-class"])

CRACK_MM = {
    "0": 5, "0.19": 5, "0.2": 4, "0.21": 4, "0.49": 4, "0.5": 3, "0.51": 3,
    "1.99": 3, "2.0": 2, "2.01": 2, "4.99": 2, "5.0": 2, "5.01": 1, "50": 1,
}  # fmt: skip
SMALL_OFFSET_MM = {"0": 4, "9.9": 4, "10": 3, "10.1": 3, "19.9": 3, "20": 3, "20.1": 2, "200": 2}
LARGE_OFFSET_MM = {
    "0": 5, "9.9": 5, "10": 4, "10.1": 4, "19.9": 4, "20": 3, "20.1": 3, "30": 3, "30.1": 2, "99": 2,
}  # fmt: skip
SAG_PERCENT = {
    "0": 5, "9.9": 5, "10": 4, "10.1": 4, "24.9": 4, "25": 3, "25.1": 3, "50": 3, "50.1": 2, "100": 2,
}  # fmt: skip
ROOTS_IN_JOINT_MM = {
    "0.9": 5, "1": 4, "1.1": 4, "4.9": 4, "5": 3, "5.1": 3, "9.9": 3, "10": 2, "10.1": 2, "20": 2, "20.1": 1,
}  # fmt: skip
ROOTS_IN_CRACK_MM = {"0": 3, "4.9": 3, "5": 2, "5.1": 2, "10": 2, "10.1": 1}
DEPOSIT_PERCENT = {"0": 4, "9.9": 4, "10": 3, "10.1": 3, "24.9": 3, "25": 2, "25.1": 2, "50": 2, "50.1": 1}
OBSTACLE_PERCENT = {"0": 4, "4.9": 4, "5": 3, "5.1": 3, "14.9": 3, "15": 2, "15.1": 2, "30": 2, "30.1": 1}
WEAR_MM = {"0": 3, "9.9": 3, "10": 2, "10.1": 2, "30": 2, "30.1": 1}
DEFORMATION_PERCENT = {"0": 4, "4.9": 4, "5": 3, "5.1": 3, "10": 3, "10.1": 2, "40": 2}


def finding(kind, **given):
    return Defect(ref="d", kind=kind, at_m=Decimal(1), **given)


def pipe(diameter_mm):
    return (Segment(Decimal(0), Decimal(9), diameter_mm=diameter_mm),)


def cases(table, kind, measure, **given):
    return [
        pytest.param(finding(kind, **{measure: Decimal(value)}, **given), grade, id=f"{kind}-{value}")
        for value, grade in table.items()
    ]


MEASURED = [
    *cases(CRACK_MM, "crack", "width_mm"),
    *cases(CRACK_MM, "fracture", "width_mm"),
    *cases(SAG_PERCENT, "sag", "percent"),
    *cases(ROOTS_IN_JOINT_MM, "roots", "thickness_mm", at_joint=True),
    *cases(ROOTS_IN_CRACK_MM, "roots", "thickness_mm", at_joint=False),
    *cases(OBSTACLE_PERCENT, "roots", "percent"),
    *cases(DEPOSIT_PERCENT, "bed_deposits", "percent"),
    *cases(OBSTACLE_PERCENT, "obstruction", "percent"),
    *cases(OBSTACLE_PERCENT, "protruding_connection", "percent"),
    *cases(WEAR_MM, "surface_wear", "thickness_mm"),
    *cases(DEFORMATION_PERCENT, "deformation", "percent"),
]


def worst(defect, scheme, segments=()):
    graded = apply_scheme(defect, scheme, segments)
    return max((one.finding for one in graded), key=lambda found: scheme.severity(found.grade))


@pytest.mark.parametrize(("defect", "handbook_class"), MEASURED)
def test_each_measure_gives_its_published_class_in_both_directions(defect, handbook_class):
    assert worst(defect, FIVE_CLASS).grade == handbook_class
    assert worst(defect, OPEN_FIVE).grade == 6 - handbook_class


@pytest.mark.parametrize(("offset_mm", "handbook_class"), SMALL_OFFSET_MM.items())
@pytest.mark.parametrize("diameter_mm", [None, Decimal(150), Decimal("299.9")])
def test_an_offset_in_a_pipe_below_300_mm_or_of_unknown_size(offset_mm, handbook_class, diameter_mm):
    defect = finding("displaced_joint", offset_mm=Decimal(offset_mm))
    assert worst(defect, FIVE_CLASS, pipe(diameter_mm)).grade == handbook_class
    assert worst(defect, OPEN_FIVE, pipe(diameter_mm)).grade == 6 - handbook_class


@pytest.mark.parametrize(("offset_mm", "handbook_class"), LARGE_OFFSET_MM.items())
@pytest.mark.parametrize("diameter_mm", [Decimal(300), Decimal(600), Decimal(800)])
def test_an_offset_in_a_pipe_from_300_mm(offset_mm, handbook_class, diameter_mm):
    defect = finding("displaced_joint", offset_mm=Decimal(offset_mm))
    assert worst(defect, FIVE_CLASS, pipe(diameter_mm)).grade == handbook_class
    assert worst(defect, OPEN_FIVE, pipe(diameter_mm)).grade == 6 - handbook_class


def test_an_offset_where_two_sizes_meet_is_graded_by_the_stricter_band():
    sizes = (
        Segment(Decimal(0), Decimal(1), diameter_mm=Decimal(150)),
        Segment(Decimal(1), Decimal(9), diameter_mm=Decimal(300)),
    )
    defect = finding("displaced_joint", offset_mm=Decimal("20.1"))  # class 2 below 300 mm, 3 from 300 mm
    assert worst(defect, FIVE_CLASS, sizes).grade == 2


@pytest.mark.parametrize(
    ("defect", "handbook_class"),
    [
        (finding("collapse"), 1),
        (finding("broken"), 2),
        (finding("hole"), 2),
        (finding("infiltration", degree="damp"), 2),
        (finding("infiltration", degree="dripping"), 2),
        (finding("infiltration", degree="flowing"), 1),
        (finding("infiltration", degree="jetting"), 1),
        (finding("corrosion", degree="general"), 3),
        (finding("corrosion", degree="missing"), 2),
        (finding("corrosion", degree="through"), 1),
    ],
)
def test_the_rows_without_a_number_give_their_published_class(defect, handbook_class):
    assert worst(defect, FIVE_CLASS).grade == handbook_class
    assert worst(defect, OPEN_FIVE).grade == 6 - handbook_class


AT_ONCE = [
    ("crack", "width_mm", "10", "10.01", "crack-width"),
    ("roots", "percent", "30", "30.1", "roots-section"),
    ("wall_deposits", "percent", "30", "30.1", "crust-section"),
    ("bed_deposits", "percent", "50", "50.1", "deposit-section"),
    ("obstruction", "percent", "50", "50.1", "obstacle-section"),
    ("protruding_connection", "percent", "50", "50.1", "obstacle-section"),
    ("deformation", "percent", "40", "40.1", "deformation"),
    ("broken", "width_mm", "50", "50.1", "break-size"),
]


@pytest.mark.parametrize(("kind", "measure", "at_limit", "over", "rule"), AT_ONCE)
def test_over_a_limit_for_acting_at_once_it_is_worst_and_says_so(kind, measure, at_limit, over, rule):
    """Limits: ATV-M 149:1999 as restated; strict, as the table's ">"."""
    name = f"open-five/at-once/{rule}"
    within = worst(finding(kind, **{measure: Decimal(at_limit)}), OPEN_FIVE)
    beyond = worst(finding(kind, **{measure: Decimal(over)}), OPEN_FIVE)
    assert name not in (within.rule, *within.also)
    assert (beyond.grade, beyond.rule) == (5, name)


@pytest.mark.parametrize(
    ("kind", "degree"), [("corrosion", "through"), ("surface_wear", "through"), ("infiltration", None)]
)
def test_a_wall_gone_or_a_leak_that_brings_soil_in_is_acted_on_at_once(kind, degree):
    """ATV-M 149:1999, as restated."""
    found = worst(finding(kind, degree=degree, soil_seen=kind == "infiltration"), OPEN_FIVE)
    assert found.grade == 5
    assert "/at-once/" in found.rule


def test_thick_wear_right_through_is_worst_though_its_thickness_is_not():
    found = worst(finding("surface_wear", degree="through", thickness_mm=Decimal(5)), OPEN_FIVE)
    assert (found.grade, found.also) == (5, ("open-five/wear/thickness",))


@pytest.mark.parametrize("percent", ["10.1", "12", "15"])
def test_a_deformation_of_10_to_15_percent_is_class_4_as_in_the_dutch_standard(percent):
    """NEN 3399:2004, as restated: 10-15 % is class 4 of 5, 5 worst."""
    assert worst(finding("deformation", percent=Decimal(percent)), OPEN_FIVE).grade == 4
