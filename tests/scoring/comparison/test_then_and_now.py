from dataclasses import replace
from decimal import Decimal

import pytest

from scoring.comparison import compare, comparison_document
from scoring.reconcile import reconcile
from scoring.types import Lateral
from tests.scoring.reconcile.builders import defect, downstream, feature, ft, segment, unseen, upstream

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
