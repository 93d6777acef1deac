"""Start and finish marks of continuous findings: what pairs, what does not, nothing dropped."""

from decimal import Decimal as D

from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.grading import Observation, pair_continuous


def start(ref, label, at, kind="crack"):
    return Observation(ref, kind, D(at), label, "start")


def finish(ref, label, at, kind="crack"):
    return Observation(ref, kind, D(at), label, "finish")


def problems(*observations):
    return [(one.code, one.refs) for one in pair_continuous(observations).problems]


def spans(*observations):
    pairs = pair_continuous(observations).pairs
    return [(pair.label, pair.start.at_m, pair.finish.at_m) for pair in pairs]


def test_a_start_and_its_finish_make_a_stretch():
    marks = (start("a", "1", 3), Observation("p", "hole", D(4)), finish("b", "1", 7))
    assert spans(*marks) == [("1", 3, 7)]
    assert problems(*marks) == []
    assert [one.ref for one in pair_continuous(marks).points] == ["p"]


def test_1_and_01_are_two_findings():
    """Known dirt of the open University of Auckland data: "S1" and "S01" in one inspection differ."""
    marks = (
        start("a", "1", 3),
        start("b", "01", 4, "roots"),
        finish("c", "1", 7),
        finish("d", "01", 9, "roots"),
    )
    assert spans(*marks) == [("1", 3, 7), ("01", 4, 9)]
    assert problems(*marks) == []


def test_a_start_without_a_finish_is_unclosed():
    assert problems(start("a", "1", 3), finish("b", "01", 7)) == [("unclosed", ("a",)), ("unopened", ("b",))]


def test_two_starts_under_one_label_cannot_be_told_apart():
    marks = (start("a", "1", 3), start("b", "1", 4), finish("c", "1", 7))
    assert problems(*marks) == [("doubled", ("a", "b", "c"))]
    assert [one.ref for one in pair_continuous(marks).loose] == ["a", "b", "c"]


def test_two_finishes_under_one_label_cannot_be_told_apart():
    assert problems(start("a", "1", 3), finish("b", "1", 4), finish("c", "1", 7)) == [("doubled", ("a", "b", "c"))]


def test_ends_of_two_kinds_are_crossed():
    marks = (
        start("a", "1", 3),
        start("b", "2", 4, "roots"),
        finish("c", "1", 7, "roots"),
        finish("d", "2", 9),
    )
    assert problems(*marks) == [("crossed", ("a", "c")), ("crossed", ("b", "d"))]
    assert spans(*marks) == []


def test_stretches_of_one_kind_that_interleave_are_kept_but_told():
    marks = (start("a", "1", 3), start("b", "2", 4), finish("c", "1", 7), finish("d", "2", 9))
    assert problems(*marks) == [("crossed", ("a", "c", "b", "d"))]
    assert len(spans(*marks)) == 2


def test_stretches_of_one_kind_inside_each_other_or_of_two_kinds_may_overlap():
    inside = (start("a", "1", 3), start("b", "2", 4), finish("c", "2", 7), finish("d", "1", 9))
    kinds = (
        start("a", "1", 3),
        start("b", "2", 4, "roots"),
        finish("c", "1", 7),
        finish("d", "2", 9, "roots"),
    )
    assert problems(*inside) == problems(*kinds) == []


def test_stretches_of_one_kind_that_only_touch_or_share_an_end_are_not_crossed():
    touching = (start("a", "1", 3), finish("b", "1", 5), start("c", "2", 5), finish("d", "2", 9))
    same_start = (start("a", "1", 3), finish("b", "1", 5), start("c", "2", 3), finish("d", "2", 9))
    same_end = (start("a", "1", 3), finish("b", "1", 9), start("c", "2", 5), finish("d", "2", 9))
    assert problems(*touching) == problems(*same_start) == problems(*same_end) == []


def test_a_stretch_may_end_where_it_starts():
    assert spans(start("a", "1", 3), finish("b", "1", 3)) == [("1", 3, 3)]


def test_a_finish_before_its_start_runs_backwards():
    assert problems(finish("b", "1", 2), start("a", "1", 3)) == [("backwards", ("b", "a"))]


def test_a_finish_may_stand_before_its_start_in_the_file():
    assert spans(finish("b", "1", 7), start("a", "1", 3)) == [("1", 3, 7)]


def test_a_mark_without_a_label_and_a_label_without_a_mark_are_told():
    bare = Observation("a", "crack", D(3), None, "start")
    labelled = Observation("b", "crack", D(4), "1", None)
    assert problems(bare, labelled) == [("unlabelled", ("a",)), ("unmarked", ("b",))]


marks = st.builds(
    Observation,
    st.uuids(version=4).map(str),
    st.sampled_from(["crack", "roots"]),
    st.integers(0, 20).map(D),
    st.sampled_from([None, "", "1", "01", "2"]),
    st.sampled_from([None, "start", "finish"]),
)


@settings(derandomize=True, max_examples=150, deadline=None, database=None)
@given(st.lists(marks, max_size=10))
def test_no_observation_is_dropped_and_what_is_loose_has_a_problem(observations):
    found = pair_continuous(observations)
    paired = [one.ref for pair in found.pairs for one in (pair.start, pair.finish)]
    others = [one.ref for one in (*found.points, *found.loose)]
    assert sorted(paired + others) == sorted(one.ref for one in observations)
    named = {ref for problem in found.problems for ref in problem.refs}
    assert {one.ref for one in found.loose} <= named
