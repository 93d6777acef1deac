"""Public guidance for house drains beside the grades, limits on both sides."""

from decimal import Decimal as D

import pytest

from scoring.grading import BUILT_IN_SCHEMES, grade, grading_document, load_scheme
from scoring.grading.guidance import guidance
from scoring.types import Defect, Inspected, Segment

OPEN_FIVE = load_scheme(BUILT_IN_SCHEMES["open-five"])
FOUR_INCH = Segment(D(0), D(30), diameter_mm=D("101.6"))


def lines(kind, scheme=OPEN_FIVE, segments=(), **given):
    pipe = Inspected(D(0), D(30), tuple(segments), defects=(Defect("d", kind, D(4), **given),))
    told = grading_document(grade(pipe, scheme))["guidance"]
    return {line["rule"].removeprefix("guidance/"): line for line in told}


@pytest.mark.parametrize(
    ("percent", "word", "years"),
    [
        ("24.9", "minor", None),
        ("25", "moderate", [2, 5]),
        ("50", "moderate", [2, 5]),
        ("50.1", "severe", None),
    ],
)
def test_a_sag_by_the_share_of_the_diameter(percent, word, years):
    """Seattle Public Utilities, side sewers: <25 % minor, 25-50 % moderate, look again in 2-5 years."""
    line = lines("sag", percent=D(percent))["sag"]
    assert line["says"].startswith(word)
    assert line["look_again_years"] == years


@pytest.mark.parametrize(
    ("given", "word", "years"),
    [
        ({"opening": "hairline"}, "minor", [3, 5]),
        ({"opening": "visible"}, "moderate", [1, 2]),
        ({"opening": "open"}, "severe", None),
        ({"soil_seen": True}, "severe", None),
    ],
)
@pytest.mark.parametrize("scheme", ["open-five", "five-class"])
def test_a_crack_whichever_way_the_scheme_counts(given, word, years, scheme):
    """Seattle: minor 3-5 years, moderate every 1-2 years; which is which by the grade is a house rule."""
    line = lines("crack", load_scheme(BUILT_IN_SCHEMES[scheme]), **given)["crack"]
    assert line["says"].startswith(word)
    assert line["look_again_years"] == years


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"degree": "slight"}, "minor"),
        ({"degree": "moderate"}, "moderate, no soil exposed"),
        ({"degree": "severe"}, "severe"),
        ({"degree": "slight", "soil_seen": True}, "severe or soil exposed"),
    ],
)
def test_a_joint_offset_by_degree_and_soil(given, words):
    """Seattle; City of Tacoma."""
    assert lines("displaced_joint", **given)["joint-offset"]["says"].startswith(words)


@pytest.mark.parametrize(
    ("kind", "given", "is_reported"),
    [
        ("displaced_joint", {"offset_mm": D("6.35")}, False),
        ("displaced_joint", {"offset_mm": D("6.36")}, True),
        ("sag", {"percent": D(25)}, False),  # 25 % of 4 in is 1 in
        ("sag", {"percent": D("25.01")}, True),
        ("roots", {"degree": "hairs"}, True),
        ("crack", {}, True),
        ("open_joint", {}, False),
    ],
)
def test_what_a_home_inspection_reports(kind, given, is_reported):
    """InterNACHI standard 3.1 as restated: offset over 1/4 in, water over 1 in, any root, any crack."""
    assert ("reporting-limit" in lines(kind, segments=[FOUR_INCH], **given)) is is_reported


def test_depth_of_water_needs_the_size_of_the_pipe():
    assert "reporting-limit" not in lines("sag", percent=D(90))


def test_each_line_names_its_source():
    assert "Seattle" in lines("crack")["crack"]["source"]
    assert "InterNACHI" in lines("crack")["reporting-limit"]["source"]


@pytest.mark.parametrize(
    ("share", "word"), [("0.25", "minor"), ("0.26", "moderate"), ("0.74", "moderate"), ("0.75", "severe")]
)
def test_minor_ends_a_quarter_of_the_way_to_the_worst_and_severe_begins_at_three(share, word):
    """House rule, for schemes of any number of grades."""
    [crack, _] = guidance(Defect("d", "crack", D(4)), D(share))
    assert crack.says.startswith(word)
