"""The grading as a document, from a run and from a lateral."""

from decimal import Decimal as D

import pytest

from scoring.grading import (
    BUILT_IN_SCHEMES,
    KindUnknown,
    apply_scheme,
    grade,
    grade_lateral,
    grading_document,
    inspected_from_lateral,
    inspected_from_run,
    load_scheme,
    unplaced_defects,
    verdict,
)
from scoring.types import (
    Access,
    Defect,
    Feature,
    Inspected,
    Lateral,
    LateralDefect,
    LateralFeature,
    Run,
    Segment,
    Source,
    Unseen,
)

OPEN_FIVE = load_scheme(BUILT_IN_SCHEMES["open-five"])


def run(reached="main", unseen=(), **more):
    return Run("run-1", "downstream", Access("clean_out"), D(1), D("13.5"), reached, unseen=tuple(unseen), **more)


BROKEN = Defect("b", "broken", D("4.5"), to_m=D("5.5"))
ROOTS = Defect("r", "roots", D("6.1"), at_joint=True, percent=D(20))
WATER = Unseen(D(9), D(10), "under_water")


def document(inspected=None, **more):
    return grading_document(
        grade(inspected or inspected_from_run(run(defects=(BROKEN, ROOTS), unseen=[WATER], **more)), OPEN_FIVE)
    )


def test_a_grade_never_travels_without_its_scheme_and_coverage():
    told = document()
    assert told["scheme"]["id"] == "open-five"
    assert (told["scheme"]["version"], told["scheme"]["best"], told["scheme"]["worst"]) == (1, 1, 5)
    # 1 m of 12.5 m under water
    assert told["coverage"]["length_share"] == D("0.92")
    assert told["coverage"]["unseen"] == [{"from": D(9), "to": D(10), "reason": "under_water"}]
    assert told["verdict"] == "grade 4 on 92 % seen"
    assert "A recording is not a pressure test." in told["cautions"][0]


def test_each_graded_finding_says_by_which_rule_on_which_measure_from_which_source():
    told = document()["defects"]
    assert [one["ref"] for one in told] == ["b", "r"]
    assert (told[1]["aspect"], told[1]["grade"]) == ("service", 4)
    assert told[1]["rule"] == "open-five/roots/section"
    assert told[1]["measure"] == "share 20 % (from 15 to 30 %)"
    assert told[1]["source"].startswith("Stein & Partner")


def test_sums_carry_counts_by_grade_as_text_and_lengths_in_metres():
    told = document()["structural"]
    assert told["counts"] == {"1": 0, "2": 0, "3": 0, "4": 1, "5": 0}
    assert told["worst_two"] == [{"grade": 4, "count": 1}]
    assert (told["weighted_count"], told["mean_grade"], told["two_grade_sum"]) == (4, 4, 4)
    assert (told["damage_length"], told["time_left"]) == (1, "5 to 10 years")


def test_a_stopped_run_says_that_the_rest_was_not_reached():
    told = document(inspected_from_run(run("stopped", stopped_by="trap")))
    assert told["coverage"]["unseen"] == [{"from": D("13.5"), "to": None, "reason": "not_reached"}]
    assert told["coverage"]["length_share"] == 1


def test_a_stopped_run_that_says_so_itself_is_not_told_twice():
    open_end = Unseen(D("13.5"), None, "picture_lost")
    assert inspected_from_run(run("stopped", [open_end])).unseen == (open_end,)


@pytest.mark.parametrize(
    ("hidden", "words"),
    [
        ([], "nothing found on 100 % seen"),
        ([("1", "1.01")], "nothing found on 99 % seen"),
        ([("1", "13.49")], "nothing found on 1 % seen"),
        ([("1", "13.5")], "nothing could be judged"),
    ],
)
def test_nothing_found_is_never_said_of_what_was_not_seen(hidden, words):
    stretches = [Unseen(D(start), D(end), "fog") for start, end in hidden]
    assert verdict(grade(inspected_from_run(run(unseen=stretches)), OPEN_FIVE)) == words


def test_a_finding_where_all_was_under_water_says_that_nothing_was_seen():
    everything = Unseen(D(1), D("13.5"), "under_water")
    found = grade(inspected_from_run(run(defects=(BROKEN,), unseen=[everything])), OPEN_FIVE)
    assert verdict(found) == "grade 4 on 0 % seen"


def test_each_segment_tells_its_own_sums_and_coverage():
    clay = Segment(D(1), D(6), "vitrified_clay", D(150))
    plastic = Segment(D(6), D("13.5"), "pvc", D(100))
    first, second = document(segments=(plastic, clay))["segments"]
    assert (first["material"], first["from"], first["to"]) == ("vitrified_clay", 1, 6)
    assert (first["structural"]["grade"], first["service"]["grade"], first["overall"]["grade"]) == (4, 0, 4)
    assert (second["structural"]["grade"], second["service"]["grade"]) == (0, 4)
    assert first["coverage"]["length_share"] == 1
    # 1 m of 7.5 m
    assert second["coverage"]["length_share"] == D("0.8667")


def test_what_ends_at_the_border_of_a_segment_is_not_told_of_the_next():
    segments = (Segment(D(1), D("5.5")), Segment(D("5.5"), D(9)), Segment(D(9), D(10)), Segment(D(10), D("13.5")))
    told = document(segments=segments)["segments"]  # the break ends at 5.5, the water lies from 9 to 10
    assert [one["structural"]["counts"]["4"] for one in told] == [1, 0, 0, 0]
    assert [len(one["coverage"]["unseen"]) for one in told] == [0, 0, 1, 0]


def test_a_stretch_of_no_length_is_kept_as_a_point():
    moment = Defect("m", "hole", D("5.5"), to_m=D("5.5"))
    halves = (Segment(D(1), D("5.5")), Segment(D("5.5"), D("13.5")))
    told = document(inspected_from_run(run(defects=(moment,), segments=halves)))["segments"]
    assert [one["structural"]["grade"] for one in told] == [0, 4]


def test_an_alarm_stands_at_the_top():
    line = Defect("g", "foreign_line", D("7.25"))
    (alarm,) = document(inspected_from_run(run(defects=(line,))))["alarms"]
    assert (alarm["code"], alarm["at"], alarm["ref"]) == ("foreign_line", D("7.25"), "g")


def test_a_kind_nobody_knows_is_refused():
    with pytest.raises(KindUnknown):
        apply_scheme(Defect("x", "gremlins", D(1)), OPEN_FIVE)


def on_lateral(defect, station, to_station=None):
    placed = None if station is None else D(station)
    to = None if to_station is None else D(to_station)
    return LateralDefect(defect, placed, to, D("0.1"), (Source("run-1", defect.ref, defect.at_m),))


def lateral(**more):
    return Lateral(Access("clean_out"), "run-1", D(0), D(20), False, True, **more)


def test_a_lateral_is_graded_in_stations():
    joint = LateralFeature(Feature("joint", D(9)), D(8), D("0.1"), ())
    placed = inspected_from_lateral(lateral(defects=(on_lateral(BROKEN, "3.5", "4.5"),), features=(joint,)))
    assert [(one.at_m, one.to_m) for one in placed.defects] == [(D("3.5"), D("4.5"))]
    assert [one.at_m for one in placed.features] == [D(8)]


def test_a_finding_without_a_station_is_graded_and_counted_all_the_same():
    lost = Defect("c", "collapse", D(4))
    found = grade_lateral(lateral(defects=(on_lateral(ROOTS, "5"), on_lateral(lost, None))), OPEN_FIVE)
    assert (found.structural.grade, found.structural.counts[5], found.overall.grade) == (5, 1, 5)
    assert found.unplaced == ("c",)
    assert [(alarm.ref, alarm.at_m) for alarm in found.alarms] == [("c", None)]


def test_a_lateral_nothing_of_which_is_placed_has_grades_but_no_share():
    nowhere = Lateral(None, None, None, None, False, False, defects=(on_lateral(BROKEN, None),))
    assert inspected_from_lateral(nowhere) is None
    assert [one.ref for one in unplaced_defects(nowhere)] == ["b"]
    found = grade_lateral(nowhere, OPEN_FIVE)
    assert (found.structural.grade, found.coverage.length_share) == (4, None)
    assert verdict(found) == "grade 4, length not known"


def test_an_upstream_end_nobody_reached_is_told():
    told = grading_document(grade_lateral(lateral(is_upstream_end_open=True), OPEN_FIVE))
    assert told["coverage"]["unseen"] == [{"from": None, "to": D(0), "reason": "not_reached"}]


def test_the_same_input_gives_the_same_document():
    assert document() == document()
    assert list(document(Inspected(D(0), D(1)))) == list(document())
