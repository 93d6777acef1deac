"""The drawing is to scale, legible, told in words as well, and safe to open."""

import xml.etree.ElementTree as ET
from decimal import Decimal as D
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspections.reports import drawing_svg
from inspections.reports.layout import lay_out
from inspections.reports.marks import Circle, Path, Text
from inspections.reports.stage import NARROW, WIDE, nice_ticks, set_stage
from tests.reports import cases

SVG = "{http://www.w3.org/2000/svg}"
EVERY_CASE = pytest.mark.parametrize("name", list(cases.CASES))
BOTH_WIDTHS = pytest.mark.parametrize("width", [WIDE, NARROW])


def texts(source, width=WIDE):
    return [mark for mark in lay_out(source, width).marks if isinstance(mark, Text)]


def words(source, width=WIDE):
    return [text.words for text in texts(source, width)]


def box(text):
    left = text.at[0] - {"start": 0, "middle": text.width / 2, "end": text.width}[text.anchor]
    return left, text.at[1] - 0.75 * text.size, left + text.width, text.at[1] + 0.2 * text.size


def meet(one, other):
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def overlaps(source, width):
    boxes = [(text.words, box(text)) for text in texts(source, width)]
    return [(one[0], other[0]) for one, other in combinations(boxes, 2) if meet(one[1], other[1])]


@EVERY_CASE
@pytest.mark.parametrize("is_narrow", [False, True])
def test_drawing_is_well_formed_and_has_a_text_alternative(name, is_narrow):
    root = ET.fromstring(drawing_svg(cases.CASES[name](), is_narrow=is_narrow).encode())

    assert root.get("role") == "img"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("aria-labelledby") == title.get("id")
    assert root.get("aria-describedby") == description.get("id")
    assert title.text.startswith("Side view of the lateral")
    assert description.text


@EVERY_CASE
def test_drawing_holds_only_shapes_and_words(name):
    root = ET.fromstring(drawing_svg(cases.CASES[name]()).encode())

    allowed = {"svg", "title", "desc", "defs", "pattern", "path", "circle", "rect", "text"}
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= allowed
    assert not [key for element in root.iter() for key in element.attrib if key.startswith("on") or "href" in key]


@EVERY_CASE
@BOTH_WIDTHS
def test_no_words_lie_on_other_words(name, width):
    assert overlaps(cases.CASES[name](), width) == []


@EVERY_CASE
@BOTH_WIDTHS
def test_everything_lies_on_the_sheet(name, width):
    sheet = lay_out(cases.CASES[name](), width)

    for text in (mark for mark in sheet.marks if isinstance(mark, Text)):
        left, top, right, bottom = box(text)
        assert left >= 0 and right <= width and top >= 0 and bottom <= sheet.height, text.words
    for path in (mark for mark in sheet.marks if isinstance(mark, Path)):
        assert all(0 <= x <= width and 0 <= y <= sheet.height for x, y in path.points)


@given(stations=st.lists(st.integers(0, 620), min_size=1, max_size=40))
@settings(max_examples=25, derandomize=True, deadline=None)
@BOTH_WIDTHS
def test_labels_keep_apart_wherever_the_defects_are(width, stations):
    defects = [
        cases.defect(f"d{place}", "crack", str(D(station) / 10), pattern="longitudinal", clock_from=D(3))
        for place, station in enumerate(stations)
    ]

    assert overlaps(cases.report(cases.lateral(defects=defects, grading=None)), width) == []


@BOTH_WIDTHS
def test_stations_are_to_scale(width):
    stage = set_stage(cases.bad(), width)

    # half the line is half the width, a quarter a quarter
    assert stage.x(31) == pytest.approx((stage.left + stage.right) / 2)
    assert stage.x(D("15.5")) == pytest.approx(stage.left + (stage.right - stage.left) / 4)


def test_stations_upstream_of_the_datum_are_negative_and_left_of_it():
    said = words(cases.negative())

    assert "−10" in said
    assert set_stage(cases.negative(), WIDE).x(-10) < set_stage(cases.negative(), WIDE).x(0)


def test_depth_falls_as_measured():
    stage = set_stage(cases.clean(), WIDE)

    # invert 3.5 ft at 0 and 8 ft at 62: at 31 ft halfway, 5.75 ft, which is 5.75/8 of the deepest
    invert = stage.middle(31) + stage.half_height(31)
    assert invert == pytest.approx(5.75 / 8 * (stage.middle(62) + stage.half_height(62)))


def test_unknown_depth_is_said_to_be_unknown():
    assert "depth not known: drawn flat" in words(cases.stopped())
    assert "depth not known: drawn flat" not in words(cases.clean())


def test_how_much_too_thick_the_pipe_is_drawn_is_said():
    # bad: widest pipe 6 in = 0.5 ft, drawn 20 units high; the line is 62 ft over the stage's width
    stage = set_stage(cases.bad(), WIDE)
    factor = 20 / 0.5 / ((stage.right - stage.left) / 62)

    assert f"The pipe is drawn {factor:.1f} times too thick." in " ".join(words(cases.bad()))


def test_every_defect_is_told_by_number_shape_and_words():
    sheet = lay_out(cases.bad())
    said = [mark.words for mark in sheet.marks if isinstance(mark, Text)]

    assert "roots, plug" in said
    assert "39 ft · grade 5" in said
    assert {str(place) for place in range(1, 15)} <= set(said)
    assert any(isinstance(mark, Circle) and mark.radius == 8.5 for mark in sheet.marks)  # service findings are round


def test_phone_drawing_has_the_words_in_a_key_when_there_is_no_room_beside_the_signs():
    said = words(cases.bad(), NARROW)

    assert "Findings" in said
    assert "soil ingress" in said
    assert "60 ft · grade 5 in both aspects · 4 o'clock" in said


def test_unseen_stretch_is_hatched_and_named():
    sheet = lay_out(cases.bad())

    assert "not seen: under water" in words(cases.bad())
    assert [mark for mark in sheet.marks if isinstance(mark, Path) and mark.ink.pattern == "unseen"]


def test_an_end_nobody_reached_is_torn_and_questioned():
    said = words(cases.stopped())

    assert said.count("?") == 2
    assert "never reached, downstream" in said


def test_alarm_stands_over_the_drawing():
    first = texts(cases.foreign_line())[0]

    assert first.words == "Alarm: foreign line in the pipe at 29.4 ft. Keep away, stop work."


def test_grade_on_the_drawing_comes_with_coverage_and_scheme():
    said = " ".join(words(cases.stopped()))

    assert "Grade 5 of 5 (5 worst) on 100 % seen of 0 to 37.5 ft, not the whole line" in said
    assert "Grades by the scheme open-five version 1 (1 best, 5 worst)." in said


def test_runs_are_tracks_with_direction_and_end():
    said = " ".join(words(cases.two_runs()))

    assert "Run 1, downstream from front clean-out: stopped short by a bend" in said
    assert (
        "Run 2, upstream from manhole 7 (maintenance hole on the main): stopped short by the end of the cable" in said
    )
    assert "not tied to the datum: no landmark shared with any other run" in said


def test_cheapest_plan_is_drawn_with_its_methods_in_words():
    said = words(cases.bad())

    assert "Plan “Least cost”: USD 14,500 to 26,900, likely 19,400" in said
    assert "full liner cured in place" in said
    assert said.count("spot repair by digging") == 2


@EVERY_CASE
def test_nothing_is_said_by_hue(name):
    for mark in lay_out(cases.CASES[name]()).marks:
        inks = [mark.ink] if isinstance(mark, Text) else [mark.ink.stroke, mark.ink.fill]
        for ink in filter(None, inks):
            assert ink[1:3] == ink[3:5] == ink[5:7], ink  # grey: red, green and blue alike


def test_description_tells_what_the_picture_shows():
    description = lay_out(cases.bad()).description

    for expected in ("on 92 % seen", "31 to 36 ft: under water", "8 roots, plug, 39 ft, grade 5", "Plan Least cost"):
        assert expected in description


@pytest.mark.parametrize(
    ("start", "end", "most", "expected"),
    [
        (0, 10, 5, [0, 2, 4, 6, 8, 10]),
        (-18, 44, 7, [-10, 0, 10, 20, 30, 40]),
        (0, 0.9, 5, [0, 0.2, 0.4, 0.6, 0.8]),
    ],
)
def test_ticks_are_round_values_inside_the_line(start, end, most, expected):
    assert nice_ticks(start, end, most) == pytest.approx(expected)


def test_hostile_words_stay_words_in_the_drawing():
    drawing = drawing_svg(cases.hostile())
    root = ET.fromstring(drawing.encode())

    assert "<script" not in drawing
    assert "<script>alert(1)</script>" in [element.text for element in root.iter(f"{SVG}text")]


@pytest.mark.parametrize("key", list(cases.lateral()))
def test_any_gap_or_nonsense_in_the_documents_still_gives_a_drawing(key):
    for value in (None, [], {}, "", "x", 0, D("-5"), 10**30, True, [None], [{}], [{"station": "x", "from": 5}]):
        lateral = cases.bad().lateral | {key: value}

        ET.fromstring(drawing_svg(cases.report(lateral, scope=cases.scope())).encode())
