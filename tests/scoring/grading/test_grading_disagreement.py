"""Several schemes side by side; numbers that run in opposite directions are compared as severities."""

from decimal import Decimal as D

from scoring.grading import BUILT_IN_SCHEMES, disagreements, grade, load_scheme
from scoring.types import Defect, Inspected

DEFECTS = (Defect("a", "crack", D(3), width_mm=D(1)), Defect("b", "collapse", D(9)))
PIPE = Inspected(D(0), D(30), defects=DEFECTS)


def stricter():
    """open-five but for cracks, which it grades 5 whatever their width; invented."""
    document = {**BUILT_IN_SCHEMES["open-five"], "id": "stricter"}
    rows = [dict(row) for row in document["rows"]]
    for row in rows:
        if row["kinds"] == ["crack"]:
            row["grade"] = 5
    return load_scheme({**document, "rows": rows})


def compared(*schemes, pipe=PIPE):
    return disagreements([grade(pipe, scheme) for scheme in schemes])


def built_in(name):
    return load_scheme(BUILT_IN_SCHEMES[name])


def test_schemes_that_only_count_the_other_way_agree():
    found = compared(built_in("open-five"), built_in("five-class"))
    assert not any(one.is_disagreement for one in found)
    crack = next(one for one in found if one.ref == "a")
    assert [(one.grade, one.severity) for one in crack.opinions] == [(3, D("0.5")), (3, D("0.5"))]
    collapse = next(one for one in found if one.ref == "b")
    assert [one.grade for one in collapse.opinions] == [5, 1]
    assert [one.severity for one in collapse.opinions] == [1, 1]


def test_a_finding_two_schemes_see_differently_comes_first():
    found = compared(built_in("open-five"), stricter())
    assert [one.aspect for one in found[:3]] == ["structural", "service", "overall"]
    first = found[3]
    # open-five 3 of 1..5 is 0.5, the stricter 5 is 1
    assert (first.ref, first.spread, first.is_disagreement) == ("a", D("0.5"), True)
    assert found[4].is_disagreement is False


def test_a_different_number_of_grades_alone_is_no_disagreement():
    """Class 2 of 4 is 0.3333, grade 3 of 5 is 0.5: half a step of the coarser is 0.1667."""
    crack = next(one for one in compared(built_in("open-five"), built_in("density-four")) if one.ref == "a")
    assert (crack.spread, crack.is_disagreement) == (D("0.1667"), False)


def test_an_aspect_only_one_scheme_grades_is_a_disagreement():
    document = {**BUILT_IN_SCHEMES["open-five"], "id": "sag-in-the-structure"}
    rows = [{**row, "aspect": "structural"} if row["kinds"] == ["sag"] else row for row in document["rows"]]
    sag = Inspected(D(0), D(30), defects=(Defect("s", "sag", D(4)),))
    found = compared(built_in("open-five"), load_scheme({**document, "rows": rows}), pipe=sag)
    by_aspect = {one.aspect: one for one in found if one.ref == "s"}
    assert all(one.is_disagreement for one in by_aspect.values())
    assert [one.grade for one in by_aspect["service"].opinions] == [3, None]


def test_nothing_found_is_no_opinion():
    empty = Inspected(D(0), D(30))
    overall = compared(built_in("open-five"), built_in("five-class"), pipe=empty)[2]
    assert ([one.severity for one in overall.opinions], overall.is_disagreement) == ([None, None], False)


def test_no_gradings_no_disagreements():
    assert all(not one.opinions for one in disagreements([]))
