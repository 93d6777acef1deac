"""Every row of the tables, at its limits and on both sides of each, and proof that no limit can slip.

Expected classes: Stein & Partner, Instandhaltung von Kanalisationen, 2001, ch. 4.7.4.3.1, class 1 worst, 5
least; a value two ranges share takes the worse class, "<" and ">" are strict (house rule). `open-five`
counts the other way: grade = 6 - class. Limits for acting at once: ATV-M 149:1999 as restated.
"""

from copy import deepcopy
from decimal import Decimal

import pytest

from scoring.grading import BUILT_IN_SCHEMES, KINDS, apply_scheme, load_scheme
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
    "0.99": 5, "1": 4, "1.1": 4, "4.9": 4, "5": 3, "5.1": 3, "9.9": 3, "10": 2, "10.1": 2, "20": 2, "20.1": 1,
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


def rows(table, kind, measure, segments=(), **given):
    return [(finding(kind, **{measure: Decimal(value)}, **given), segments, grade) for value, grade in table.items()]


UNKNOWN, SMALL, JUST_SMALL, LARGE, LARGEST, BEYOND = (
    pipe(size) for size in (None, Decimal(150), Decimal("299.9"), Decimal(300), Decimal(600), Decimal(800))
)
MEASURED = [  # finding, segments, class of the handbook
    *rows(CRACK_MM, "crack", "width_mm"),
    *rows(CRACK_MM, "fracture", "width_mm"),
    *rows(SMALL_OFFSET_MM, "displaced_joint", "offset_mm", UNKNOWN),
    *rows(SMALL_OFFSET_MM, "displaced_joint", "offset_mm", SMALL),
    *rows(SMALL_OFFSET_MM, "displaced_joint", "offset_mm", JUST_SMALL),
    *rows(LARGE_OFFSET_MM, "displaced_joint", "offset_mm", LARGE),
    *rows(LARGE_OFFSET_MM, "displaced_joint", "offset_mm", LARGEST),
    *rows(LARGE_OFFSET_MM, "displaced_joint", "offset_mm", BEYOND),
    *rows(SAG_PERCENT, "sag", "percent"),
    *rows(ROOTS_IN_JOINT_MM, "roots", "thickness_mm", at_joint=True),
    *rows(ROOTS_IN_CRACK_MM, "roots", "thickness_mm", at_joint=False),
    *rows(OBSTACLE_PERCENT, "roots", "percent"),
    *rows(DEPOSIT_PERCENT, "bed_deposits", "percent"),
    *rows(OBSTACLE_PERCENT, "obstruction", "percent"),
    *rows(OBSTACLE_PERCENT, "protruding_connection", "percent"),
    *rows(WEAR_MM, "surface_wear", "thickness_mm"),
    *rows(DEFORMATION_PERCENT, "deformation", "percent"),
]
# Rows of the published table that have no number: break and collapse, visible leak, corrosion.
SEEN = [
    (finding("collapse"), (), 1),
    (finding("broken"), (), 2),
    (finding("infiltration", degree="damp"), (), 2),
    (finding("infiltration", degree="dripping"), (), 2),
    (finding("infiltration", degree="flowing"), (), 1),
    (finding("corrosion", degree="general"), (), 3),
    (finding("corrosion", degree="missing"), (), 2),
]


def by_degree(kinds, **grades):
    return [
        (finding(kind, degree=None if degree == "none" else degree), (), 6 - grade)
        for kind in kinds
        for degree, grade in grades.items()
    ]


# Where nothing was measured: house rules, given as open-five grades and turned round to classes.
HOUSE = [
    (finding("crack"), (), 6 - 2),
    (finding("crack", pattern="longitudinal"), (), 6 - 2),
    (finding("crack", pattern="multiple"), (), 6 - 3),
    (finding("crack", opening="hairline"), (), 6 - 2),
    (finding("crack", opening="visible"), (), 6 - 3),
    (finding("crack", opening="open"), (), 6 - 4),
    (finding("crack", opening="hairline", pattern="multiple"), (), 6 - 3),
    (finding("fracture"), (), 6 - 3),
    (finding("fracture", pattern="multiple"), (), 6 - 4),
    (finding("hole"), (), 6 - 4),
    *by_degree(("displaced_joint", "open_joint", "angular_joint"), slight=2, moderate=3, severe=4, none=3),
    *by_degree(("deformation",), slight=2, moderate=3, severe=4, none=3),
    *by_degree(("roots",), hairs=2, bundles=3, plug=5, none=3),
    *by_degree(("infiltration",), jetting=5, none=4),
    (finding("soil_ingress"), (), 6 - 5),
    *by_degree(("wall_deposits", "bed_deposits"), slight=2, moderate=3, heavy=4, none=3),
    *by_degree(("obstruction", "protruding_connection"), slight=2, moderate=3, severe=4, none=3),
    *by_degree(("surface_wear", "corrosion"), slight=2, general=3, missing=4, through=5, none=3),
    *by_degree(("lining_fault", "failed_repair", "faulty_connection"), slight=2, moderate=3, severe=4, none=3),
    *by_degree(("sag",), slight=1, moderate=3, severe=4, none=3),
    (finding("foreign_line"), (), 6 - 5),
]
EXPECTED = [*MEASURED, *SEEN, *HOUSE]

AT_ONCE = [  # kind, aspect, measure, the limit itself, just over it, rule
    ("crack", "structural", "width_mm", "10", "10.01", "crack-width"),
    ("roots", "service", "percent", "30", "30.1", "roots-section"),
    ("wall_deposits", "service", "percent", "30", "30.1", "crust-section"),
    ("bed_deposits", "service", "percent", "50", "50.1", "deposit-section"),
    ("obstruction", "service", "percent", "50", "50.1", "obstacle-section"),
    ("deformation", "structural", "percent", "40", "40.1", "deformation"),
    ("broken", "structural", "width_mm", "50", "50.1", "break-size"),
]
AT_ONCE_SEEN = [  # finding, aspect, rule
    (finding("corrosion", degree="through"), "structural", "wall-through"),
    (finding("infiltration", degree="damp", soil_seen=True), "service", "leak-with-soil"),
    (finding("crack", soil_seen=True), "structural", "soil-seen"),
    (finding("crack", void_seen=True), "structural", "void-seen"),
    (finding("sag", soil_seen=True), "structural", "soil-seen"),
    (finding("sag", soil_seen=True), "service", "soil-seen"),
    (finding("sag", void_seen=True), "structural", "void-seen"),
    (finding("sag", void_seen=True), "service", "void-seen"),
]
# Rows that another row of the same or a worse grade always goes with: what each says by itself.
BESIDE_OTHERS = [  # finding, aspect, rule, open-five grade
    (finding("crack", opening="hairline"), "structural", "crack/opening", 2),
    (finding("soil_ingress"), "structural", "soil-ingress/seen", 5),
    (finding("soil_ingress"), "service", "soil-ingress/seen", 5),
    (finding("corrosion", degree="through"), "structural", "wear/degree", 5),
    (finding("roots", percent=Decimal("30.1")), "service", "roots/section", 5),
    (finding("bed_deposits", percent=Decimal("50.1")), "service", "deposits/section", 5),
]


def worst(defect, scheme, segments=()):
    graded = apply_scheme(defect, scheme, segments)
    return max((one.finding for one in graded), key=lambda found: scheme.severity(found.grade))


def row_grades(defect, scheme):
    """What each row that fits says by itself: (aspect, rule) -> grade."""
    return {(row.aspect, row.rule.split("/", 1)[1]): row.grade for row in scheme.rows if row.fits(defect, None)}


@pytest.mark.parametrize(("defect", "segments", "handbook_class"), EXPECTED)
def test_each_row_gives_its_class_in_both_directions(defect, segments, handbook_class):
    assert worst(defect, FIVE_CLASS, segments).grade == handbook_class
    assert worst(defect, OPEN_FIVE, segments).grade == 6 - handbook_class


@pytest.mark.parametrize("sizes", [(150, 300), (300, 150)])
def test_an_offset_where_two_sizes_meet_is_graded_by_the_stricter_band(sizes):
    before, after = (Decimal(size) for size in sizes)
    pipes = (
        Segment(Decimal(0), Decimal(1), diameter_mm=before),
        Segment(Decimal(1), Decimal(9), diameter_mm=after),
    )
    defect = finding("displaced_joint", offset_mm=Decimal("20.1"))  # class 2 below 300 mm, 3 from 300 mm
    assert worst(defect, FIVE_CLASS, pipes).grade == 2


@pytest.mark.parametrize(("kind", "aspect", "measure", "at_limit", "over", "rule"), AT_ONCE)
def test_over_a_limit_for_acting_at_once_it_is_worst_and_says_so(kind, aspect, measure, at_limit, over, rule):
    name = f"open-five/at-once/{rule}"
    within = worst(finding(kind, **{measure: Decimal(at_limit)}), OPEN_FIVE)
    beyond = worst(finding(kind, **{measure: Decimal(over)}), OPEN_FIVE)
    assert name not in (within.rule, *within.also)
    assert (beyond.grade, beyond.rule, beyond.aspect) == (5, name, aspect)


@pytest.mark.parametrize(("defect", "aspect", "rule"), AT_ONCE_SEEN)
def test_a_wall_gone_and_ground_to_be_seen_are_acted_on_at_once(defect, aspect, rule):
    """ATV-M 149:1999 as restated; BFR Abwasser A-3.1.6 for soil and void."""
    graded = {one.finding.aspect: one.finding for one in apply_scheme(defect, OPEN_FIVE)}
    assert graded[aspect].grade == 5
    assert f"open-five/at-once/{rule}" in (graded[aspect].rule, *graded[aspect].also)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("flag", ["soil_seen", "void_seen"])
def test_soil_or_a_void_to_be_seen_makes_any_finding_worst_in_the_structure(kind, flag):
    graded = {one.finding.aspect: one.finding.grade for one in apply_scheme(finding(kind, **{flag: True}), OPEN_FIVE)}
    assert graded["structural"] == 5
    assert set(graded.values()) == {5}


def test_soil_ingress_counts_in_both_aspects():
    graded = [(one.finding.aspect, one.finding.grade) for one in apply_scheme(finding("soil_ingress"), OPEN_FIVE)]
    assert graded == [("structural", 5), ("service", 5)]


def test_of_several_measures_the_worst_wins_and_the_other_is_named():
    thin_but_wide = finding("roots", thickness_mm=Decimal("0.5"), percent=Decimal(20), at_joint=True)
    found = worst(thin_but_wide, OPEN_FIVE)  # 0.5 mm in a joint: class 5; 20 % of the section: class 2
    assert (found.grade, found.rule) == (4, "open-five/roots/section")
    assert found.also == ("open-five/roots/thickness-in-joint",)


def test_a_measure_goes_before_the_word_for_it():
    found = worst(finding("sag", degree="slight", percent=Decimal(60)), OPEN_FIVE)
    assert (found.grade, found.rule) == (4, "open-five/sag/depth")
    assert found.measure == "share 60 % (over 50 %)"


def test_a_word_the_scheme_does_not_know_counts_as_not_given():
    assert worst(finding("roots", degree="enormous"), OPEN_FIVE).grade == 3


@pytest.mark.parametrize("percent", ["10.1", "12", "15"])
def test_a_deformation_of_10_to_15_percent_is_class_4_as_in_the_dutch_standard(percent):
    """NEN 3399:2004, as restated: 10-15 % is class 4 of 5, 5 worst."""
    assert worst(finding("deformation", percent=Decimal(percent)), OPEN_FIVE).grade == 4


# No limit, comparison, grade or rule can be changed without one of the expectations above failing.


def holds(scheme):
    """True where every expectation above holds for the scheme."""
    return _grades_hold(scheme) and _limits_hold(scheme) and _rows_hold(scheme)


def _grades_hold(scheme):
    return all(worst(defect, scheme, pipes).grade == 6 - expected for defect, pipes, expected in EXPECTED)


def _limits_hold(scheme):
    """Over a limit for acting at once the rule says 5; at the limit it does not apply."""
    for kind, aspect, measure, at_limit, over, rule in AT_ONCE:
        place = (aspect, f"at-once/{rule}")
        if place in row_grades(finding(kind, **{measure: Decimal(at_limit)}), scheme):
            return False
        if row_grades(finding(kind, **{measure: Decimal(over)}), scheme).get(place) != 5:
            return False
    return True


def _rows_hold(scheme):
    return all(
        row_grades(defect, scheme).get((aspect, f"at-once/{rule}")) == 5 for defect, aspect, rule in AT_ONCE_SEEN
    ) and all(row_grades(defect, scheme).get((aspect, rule)) == grade for defect, aspect, rule, grade in BESIDE_OTHERS)


def limits_of(document):
    """Every distinct limit: rule, "range" or "size_mm", value."""
    found = {}
    for row in document["rows"]:
        for place in ("range", "size_mm"):
            for side, value in row["when"].get(place, {}).items():
                if side != "or_unknown":
                    rule = "any" if place == "size_mm" else row["rule"]
                    found[rule, place, value] = None
    return list(found)


def with_limit(document, limit, change):
    """The document with one limit changed wherever it stands, so that the bands still meet."""
    rule, place, value = limit
    changed = deepcopy(document)
    for row in changed["rows"]:
        if rule in ("any", row["rule"]) and place in row["when"]:
            row["when"][place] = change(row["when"][place], value)
    return changed


def moved(factor):
    def move(limits, value):
        return {
            side: limit * factor if limit == value and limit is not True else limit for side, limit in limits.items()
        }

    return move


def other_side(limits, value):
    """The limit itself goes to the other band."""
    swap = {"from": "above", "above": "from", "to": "below", "below": "to"}
    return {swap.get(side, side) if limit == value else side: limit for side, limit in limits.items()}


DOCUMENT = BUILT_IN_SCHEMES["open-five"]
CHANGES = {"up": moved(Decimal("1.05")), "down": moved(Decimal("0.95")), "other side": other_side}


def test_the_scheme_as_it_stands_meets_every_expectation():
    assert holds(OPEN_FIVE)


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("limit", limits_of(DOCUMENT), ids=lambda limit: f"{limit[0]}-{limit[2]}")
def test_a_limit_that_slips_is_caught(limit, change):
    assert not holds(load_scheme(with_limit(DOCUMENT, limit, CHANGES[change])))


@pytest.mark.parametrize("index", range(len(DOCUMENT["rows"])))
def test_a_grade_that_slips_is_caught(index):
    changed = deepcopy(DOCUMENT)
    grade = changed["rows"][index]["grade"]
    changed["rows"][index]["grade"] = grade - 1 if grade > 1 else 2
    assert not holds(load_scheme(changed))
