from dataclasses import replace
from decimal import Decimal

import pytest

from scoring.comparison import compare, comparison_document
from scoring.comparison.pairing import saw
from scoring.reconcile import reconcile
from scoring.types import Lateral
from tests.scoring.reconcile.builders import FOOT, defect, downstream, feature, ft, segment, unseen, upstream

D = Decimal


def inspected(*defects, **more) -> Lateral:
    return reconcile([downstream(defects=tuple(defects), **more)])


def refs(group):
    return [(c.earlier and c.earlier.defect.ref, c.later and c.later.defect.ref) for c in group]


def test_the_same_finding_is_unchanged_although_the_counters_differ():
    earlier = inspected(defect("a", "roots", 40, degree="hairs", at_joint=True))
    later = inspected(defect("b", "roots", "40.6", degree="hairs", at_joint=True), end=81)

    result = compare(earlier, later)

    assert refs(result.unchanged) == [("a", "b")]
    assert (result.new, result.grown, result.repaired, result.not_seen) == ((), (), (), ())


@pytest.mark.parametrize(
    ("before", "after", "measure"),
    [
        ({"kind": "roots", "degree": "hairs"}, {"kind": "roots", "degree": "plug"}, "degree"),
        ({"kind": "crack"}, {"kind": "broken"}, "kind"),
        ({"kind": "sag", "percent": D(20)}, {"kind": "sag", "percent": D(35)}, "percent"),
        (
            {"kind": "displaced_joint", "offset_mm": D(10)},
            {"kind": "displaced_joint", "offset_mm": D(25)},
            "offset_mm",
        ),
        ({"kind": "fracture"}, {"kind": "fracture", "soil_seen": True}, "soil_seen"),
    ],
)
def test_a_finding_grows_by_the_measure_that_got_worse(before, after, measure):
    earlier = inspected(defect("a", at=40, **before))
    later = inspected(defect("b", at=40, **after))

    grown = compare(earlier, later).grown

    assert refs(grown) == [("a", "b")]
    assert [c.measure for c in grown[0].changes if c.is_worse] == [measure]


@pytest.mark.parametrize(("after", "is_grown"), [(D("1.5"), False), (D("1.6"), True)])
def test_growth_counts_beyond_the_measuring_doubt_only(after, is_grown):
    # 1.0 mm before; doubt of a crack's width is 0.5 mm or 30 %, house rule: up to 1.5 mm is no growth
    earlier = inspected(defect("a", "crack", 40, width_mm=D("1.0")))
    later = inspected(defect("b", "crack", 40, width_mm=after))

    result = compare(earlier, later)

    assert bool(result.grown) is is_grown
    assert bool(result.unchanged) is not is_grown


def test_a_stretch_that_got_longer_has_grown():
    earlier = inspected(defect("a", "crack", 40, 44))
    later = inspected(defect("b", "crack", 40, 49))

    assert [c.measure for c in compare(earlier, later).grown[0].changes] == ["length_m"]


def test_a_finding_only_the_later_inspection_has_is_new_where_the_earlier_one_saw_the_pipe():
    earlier = inspected(unseen=(unseen(20, 30),))
    later = inspected(defect("x", "hole", 50), defect("y", "hole", 25))

    result = compare(earlier, later)

    assert refs(result.new) == [(None, "x")]
    assert refs(result.not_seen) == [(None, "y")]


def test_a_finding_that_is_gone_is_repaired_with_its_evidence():
    clay = inspected(defect("a", "fracture", 40), segments=(segment(0, 80, "vitrified_clay"),))
    lined = inspected(
        segments=(segment(0, 35, "vitrified_clay"), segment(35, 45, "pvc"), segment(45, 80, "vitrified_clay"))
    )

    repaired = compare(clay, lined).repaired

    assert refs(repaired) == [("a", None)]
    assert repaired[0].is_certain
    assert repaired[0].reason == "The pipe there is now pvc, it was vitrified clay."


def test_a_finding_that_is_gone_without_a_repair_is_not_certain():
    repaired = compare(inspected(defect("a", "fracture", 40)), inspected()).repaired

    assert not repaired[0].is_certain
    assert "confirmed" in repaired[0].reason


def test_roots_that_are_gone_were_cleaned():
    repaired = compare(inspected(defect("a", "roots", 40)), inspected()).repaired

    assert repaired[0].is_certain
    assert "Cleaned" in repaired[0].reason


def test_a_coupling_shows_the_repair():
    repaired = compare(inspected(defect("a", "hole", 40)), inspected(features=(feature("coupling", 41),))).repaired

    assert "coupling" in repaired[0].reason


def test_what_the_later_inspection_did_not_reach_is_not_seen():
    earlier = inspected(defect("near", "roots", 10), defect("far", "hole", 70))
    later = inspected(defect("near", "roots", 10), end=50, reached="stopped")

    result = compare(earlier, later)

    assert refs(result.not_seen) == [("far", None)]
    assert result.compared_m == Decimal("15.24")  # the 50 ft that both saw


def test_inspections_from_opposite_ends_are_compared():
    earlier = inspected(defect("a", "roots", "37.5", clock_from=D(3), degree="hairs"))
    later = reconcile(
        [upstream(reached="stopped", end=60, defects=(defect("b", "roots", "42.5", clock_from=D(9), degree="plug"),))]
    )

    result = compare(earlier, later)

    assert refs(result.grown) == [("a", "b")]


def test_inspections_that_nothing_ties_are_not_compared():
    earlier = inspected(defect("a", "roots", 10), end=30, reached="stopped")
    later = reconcile([upstream(end=20, reached="stopped", defects=(defect("b", "hole", 10),))])

    result = compare(earlier, later)

    assert not result.is_tied
    assert len(result.not_seen) == 2
    assert result.compared_m == 0


def test_every_finding_is_in_exactly_one_group():
    earlier = inspected(*(defect(f"e{i}", k, 5 + 9 * i) for i, k in enumerate(("roots", "crack", "hole", "sag"))))
    later = inspected(
        *(defect(f"l{i}", k, 5 + 9 * i) for i, k in enumerate(("roots", "fracture", "roots", "sag", "hole")))
    )

    result = compare(earlier, later)

    groups = (result.new, result.grown, result.unchanged, result.repaired, result.not_seen)
    told = [ref for group in groups for pair in refs(group) for ref in pair if ref]
    assert sorted(told) == ["e0", "e1", "e2", "e3", "l0", "l1", "l2", "l3", "l4"]


def test_the_document_names_everything():
    document = comparison_document(
        compare(inspected(defect("a", "crack", 40)), inspected(defect("b", "fracture", 40)))
    )

    assert list(document) == [
        "tied", "reason", "compared_length", "new", "grown", "unchanged", "repaired", "not_seen", "rules"
    ]  # fmt: skip
    assert document["grown"][0]["changes"][0] == {
        "measure": "kind",
        "earlier": "crack",
        "later": "fracture",
        "doubt": None,
        "worse": True,
        "rule": "comparison/kind",
    }
    assert document["grown"][0]["later"]["station"] == ft(40)


def test_findings_without_a_station_are_named_as_not_compared():
    loose = reconcile(
        [
            downstream("one", end=30, reached="stopped", defects=(defect("a", "roots", 10),)),
            replace(upstream("two", end=20, reached="stopped"), defects=(defect("b", "sag", 12),)),
        ]
    )

    assert refs(compare(loose, inspected(defect("c", "roots", 10))).not_seen) == [("b", None)]


@pytest.mark.parametrize(
    ("kind", "measure", "before", "same", "grown"),
    [
        # the least doubt: a width 0.5 mm, an offset or gap 5 mm, a share 5 points, a thickness 3 mm (house rules)
        ("crack", "width_mm", "1", "1.5", "1.51"),
        ("displaced_joint", "offset_mm", "10", "15", "15.1"),
        ("open_joint", "gap_mm", "10", "15", "15.1"),
        ("sag", "percent", "15", "20", "20.1"),
        ("roots", "thickness_mm", "4", "7", "7.1"),
        # and of large readings: 30, 25, 25, 20, 30 % of the larger one
        ("crack", "width_mm", "4", "5.71", "5.72"),
        ("displaced_joint", "offset_mm", "60", "80", "80.1"),
        ("open_joint", "gap_mm", "60", "80", "80.1"),
        ("sag", "percent", "40", "50", "50.1"),
        ("roots", "thickness_mm", "35", "50", "50.1"),
    ],
)
def test_each_measure_has_its_own_doubt_on_both_sides(kind, measure, before, same, grown):
    def compared(after):
        one, other = (defect(ref, kind, 40, **{measure: D(value)}) for ref, value in (("a", before), ("b", after)))
        return compare(inspected(one), inspected(other))

    assert refs(compared(same).unchanged) == [("a", "b")]
    assert [c.measure for c in compared(grown).grown[0].changes] == [measure]


@pytest.mark.parametrize(
    ("before", "same", "grown"),
    [("41", "41.98", "41.99"), ("60", "62.2", "62.3")],  # 0.3 m or 10 % of the longer one, house rule
)
def test_a_stretch_has_grown_beyond_the_doubt_of_its_ends_only(before, same, grown):
    def compared(after):
        return compare(inspected(defect("a", "crack", 40, before)), inspected(defect("b", "crack", 40, after)))

    assert compared(same).grown == ()
    assert [c.measure for c in compared(grown).grown[0].changes] == ["length_m"]


@pytest.mark.parametrize(("at", "is_its_repair"), [("43.2", True), ("43.4", False), ("36.7", False)])
def test_a_coupling_within_a_metre_is_the_repair(at, is_its_repair):
    """House rule: 3.2 ft are 0.98 m, 3.4 ft 1.04 m, 3.3 ft 1.006 m."""
    later = inspected(features=(feature("coupling", at),))
    repaired = compare(inspected(defect("a", "hole", 40)), later).repaired
    assert ("coupling" in repaired[0].reason) is is_its_repair


@pytest.mark.parametrize(
    ("station", "is_seen"),
    [("9.69", True), ("9.71", False), ("12.29", False), ("12.31", True), ("-0.5", True), ("-0.51", False)],
)
def test_a_place_is_seen_a_foot_clear_of_what_was_not(station, is_seen):
    """House rules: 0.3 m clear of an unseen stretch; half a metre past an end two inspections may measure apart."""
    hidden = inspected(unseen=(unseen(D(10) / FOOT, D(12) / FOOT),))
    assert saw(hidden, float(station)) is is_seen


@pytest.mark.parametrize(("reached", "past", "beyond"), [("main", "0.5", "0.51"), ("stopped", "-0.3", "-0.29")])
def test_past_the_end_only_what_two_counters_may_differ_by_and_short_of_it_where_a_run_was_stopped(
    reached, past, beyond
):
    lateral = inspected(end=D(20) / FOOT, reached=reached)
    assert saw(lateral, float(D(20) + D(past)))
    assert not saw(lateral, float(D(20) + D(beyond)))
