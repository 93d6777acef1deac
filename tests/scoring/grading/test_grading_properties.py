"""What must hold for any pipe, not only for the ones written down."""

from dataclasses import replace
from decimal import Decimal as D

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.grading import BUILT_IN_SCHEMES, KINDS, grade, load_scheme
from scoring.types import Defect, Inspected, Segment, Unseen
from scoring.units import metres, millimetres

SCHEMES = [load_scheme(document) for document in BUILT_IN_SCHEMES.values()]
OPEN_FIVE, FIVE_CLASS, DENSITY_FOUR = SCHEMES
END_M = D(30)

steady = settings(derandomize=True, max_examples=80, deadline=None, database=None)


def decimals(low, high, places=2):
    scale = 10**places
    return st.integers(low * scale, high * scale).map(lambda number: D(number) / scale)


def or_none(values):
    return st.none() | values


@st.composite
def findings(draw):
    at_m = draw(decimals(0, 30))
    return Defect(
        ref=draw(st.uuids(version=4)).hex,
        kind=draw(st.sampled_from(KINDS)),
        at_m=at_m,
        to_m=draw(or_none(decimals(0, 8).map(lambda length: min(at_m + length, END_M)))),
        pattern=draw(st.sampled_from([None, "longitudinal", "multiple"])),
        at_joint=draw(st.booleans()),
        degree=draw(st.sampled_from([None, "slight", "moderate", "severe", "heavy", "hairs", "plug", "through"])),
        opening=draw(st.sampled_from([None, "hairline", "visible", "open"])),
        width_mm=draw(or_none(decimals(0, 60))),
        offset_mm=draw(or_none(decimals(0, 60))),
        percent=draw(or_none(decimals(0, 100))),
        thickness_mm=draw(or_none(decimals(0, 60))),
        soil_seen=draw(st.booleans()),
        void_seen=draw(st.booleans()),
    )


sizes = st.sampled_from([None, D(150), D(300), D(450)])
pipes = st.builds(
    lambda defects, size, spacing: Inspected(
        D(0), END_M, (Segment(D(0), END_M, "vitrified_clay", size, spacing),), (), tuple(defects)
    ),
    st.lists(findings(), max_size=8),
    sizes,
    st.sampled_from([None, D("0.6096"), D("1.524")]),
)


def told(inspected, scheme):
    """Grades and sums, without the order of the findings."""
    found = grade(inspected, scheme)
    each = sorted((one.ref, one.aspect, one.grade, one.rule, one.also) for one in found.findings)
    return found.structural, found.service, found.overall, each


@steady
@given(findings(), sizes)
def test_every_finding_gets_a_grade_in_every_scheme(defect, size):
    pipe = Inspected(D(0), END_M, (Segment(D(0), END_M, diameter_mm=size),), (), (defect,))
    for scheme in SCHEMES:
        found = grade(pipe, scheme)
        assert found.findings
        assert all(one.grade in scheme.grades() and one.source and one.rule for one in found.findings)
        assert found.overall.grade in scheme.grades()


@steady
@given(pipes, st.randoms(use_true_random=False))
def test_the_order_of_the_findings_changes_nothing(pipe, random):
    shuffled = list(pipe.defects)
    random.shuffle(shuffled)
    for scheme in SCHEMES:
        assert told(pipe, scheme) == told(replace(pipe, defects=tuple(shuffled)), scheme)


@steady
@given(pipes, findings())
def test_a_further_finding_never_improves_a_grade(pipe, more):
    """Not so for the density class, whose published mean a small finding can lower."""
    for scheme in (OPEN_FIVE, FIVE_CLASS):
        before, after = grade(pipe, scheme), grade(replace(pipe, defects=(*pipe.defects, more)), scheme)
        for aspect in ("structural", "service", "overall"):
            was, now = getattr(before, aspect).grade, getattr(after, aspect).grade
            if was not in (None, scheme.nothing_found):
                assert scheme.severity(now) >= scheme.severity(was)


@steady
@given(pipes, findings())
def test_a_further_finding_never_lowers_the_worst_score(pipe, more):
    before = grade(pipe, DENSITY_FOUR).structural.density
    after = grade(replace(pipe, defects=(*pipe.defects, more)), DENSITY_FOUR).structural.density
    assert before is None or after.s_max >= before.s_max


@steady
@given(pipes, decimals(1, 29))
def test_cutting_a_segment_in_two_changes_nothing(pipe, at_m):
    (whole,) = pipe.segments
    cut = (replace(whole, to_m=at_m), replace(whole, from_m=at_m))
    for scheme in SCHEMES:
        assert told(pipe, scheme) == told(replace(pipe, segments=cut), scheme)


@steady
@given(pipes)
def test_going_the_other_way_changes_nothing(pipe):
    mirrored = replace(pipe, defects=tuple(_mirrored(defect) for defect in pipe.defects))
    for scheme in SCHEMES:
        assert told(pipe, scheme) == told(mirrored, scheme)


def _mirrored(defect):
    if defect.to_m is None:
        return replace(defect, at_m=END_M - defect.at_m)
    return replace(defect, at_m=END_M - defect.to_m, to_m=END_M - defect.at_m)


@steady
@given(st.sampled_from(KINDS), decimals(0, 4), decimals(0, 90), st.sampled_from([None, 6, 12]))
def test_feet_and_inches_give_the_grade_of_the_metres_they_are(kind, inches, feet, size_in):
    """The same measures written in US units and, converted by hand (25.4 and 0.3048), in SI."""
    read = {"offset_mm": inches, "thickness_mm": inches, "gap_mm": inches}
    us = Defect("d", kind, metres(feet, "us"), **{name: millimetres(v, "us") for name, v in read.items()})
    si = Defect("d", kind, feet * 3048 / 10000, **{name: v * 254 / 10 for name, v in read.items()})
    for scheme in SCHEMES:
        us_pipe, si_pipe = (
            Inspected(D(0), D(30), (Segment(D(0), D(30), diameter_mm=size),), (), (defect,))
            for defect, size in (
                (us, None if size_in is None else millimetres(D(size_in), "us")),
                (si, None if size_in is None else D(size_in) * 254 / 10),
            )
        )
        assert told(us_pipe, scheme) == told(si_pipe, scheme)


stretches = st.lists(
    st.tuples(decimals(-5, 35), or_none(decimals(0, 12))).map(
        lambda pair: Unseen(pair[0], None if pair[1] is None else pair[0] + pair[1], "fog")
    ),
    max_size=6,
)


@steady
@given(stretches)
def test_seen_and_unseen_make_the_whole_as_counted_centimetre_by_centimetre(unseen):
    """All positions are whole centimetres, so the share can be counted off."""
    hidden = sum(
        any(one.from_m <= place and (one.to_m is None or place < one.to_m) for one in unseen)
        for place in (D(centimetre) / 100 for centimetre in range(3000))
    )
    found = grade(Inspected(D(0), END_M, unseen=tuple(unseen)), OPEN_FIVE).coverage
    assert found.seen_m == D(3000 - hidden) / 100
    assert (found.length_share == 1) == (hidden == 0)


@pytest.mark.parametrize("scheme", SCHEMES, ids=lambda scheme: scheme.id)
def test_a_wider_crack_is_never_better(scheme):
    widths = [D(number) / 100 for number in range(0, 1200, 5)]
    grades = [
        scheme.severity(grade(Inspected(D(0), END_M, defects=(crack,)), scheme).overall.grade)
        for crack in (Defect("c", "crack", D(1), width_mm=width) for width in widths)
    ]
    assert grades == sorted(grades)
