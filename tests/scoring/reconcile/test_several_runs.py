from dataclasses import replace
from decimal import Decimal
from itertools import permutations

import pytest

from scoring.reconcile import MatchDecision, lateral_document, reconcile
from scoring.reconcile.sightings import framed
from scoring.types import Access
from tests.scoring.reconcile.builders import defect, downstream, feature, ft, segment, unseen, upstream

C = Decimal


def both_ends():
    """The same pipe from both ends: 37.5 ft from CO1 is 42.5 ft from the main."""
    down = downstream(
        defects=(
            defect("d1", "roots", "37.5", at_joint=True, clock_from=C(3), degree="hairs"),
            defect("d2", "crack", 60, clock_from=C(10), clock_to=C(2)),
        )
    )
    up = upstream(
        defects=(
            defect("u1", "roots", "42.5", at_joint=True, clock_from=C(9), degree="bundles"),
            defect("u2", "fracture", 20, clock_from=C(10), clock_to=C(2)),
        )
    )
    return down, up


def test_one_defect_seen_from_both_ends_is_one_with_both_sources():
    roots = reconcile(both_ends()).defects[0]

    assert roots.station_m == Decimal("11.43")
    assert [(s.run, s.ref, s.counter_m) for s in roots.sources] == [
        ("down", "d1", ft("37.5")),
        ("up", "u1", ft("42.5")),
    ]
    assert (roots.defect.clock_from, roots.defect.degree) == (3, "bundles")  # 9 upstream is 3; worst degree


def test_a_crack_called_fracture_is_one_finding_and_a_named_contradiction():
    lateral = reconcile(both_ends())

    assert [(d.defect.kind, len(d.sources)) for d in lateral.defects] == [("roots", 2), ("fracture", 2)]
    assert [c.code for c in lateral.conflicts] == ["kind_differs"]


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_the_order_in_which_runs_are_given_does_not_matter(order):
    down, up = both_ends()
    third = downstream("again", end=50, reached="stopped", defects=(defect("x", "roots", "37.6", at_joint=True),))
    runs = [down, up, third]

    assert lateral_document(reconcile([runs[i] for i in order])) == lateral_document(reconcile(runs))


def test_a_later_run_completes_one_that_was_stopped():
    stopped = downstream(
        "one", end=30, reached="stopped", stopped_by="deposit", started_at="2026-03-02T09:00:00+00:00"
    )
    whole = downstream("two", started_at="2026-03-02T11:00:00+00:00")

    lateral = reconcile([stopped, whole])

    assert (lateral.unseen, lateral.to_m, lateral.reaches_main) == ((), ft(80), True)


def test_what_one_run_did_not_see_but_another_did_is_seen():
    murky = downstream("one", unseen=(unseen(20, 26), unseen(50, 60)))
    clear = downstream("two", unseen=(unseen(55, 58, "fog"),))

    assert [(u.from_m, u.to_m, u.reason) for u in reconcile([murky, clear]).unseen] == [
        (ft(55), ft(58), "under_water")
    ]


def test_two_stopped_runs_leave_the_middle_unseen_when_the_ends_are_tied_by_a_third():
    lateral = reconcile(
        [
            downstream("a", end=30, reached="stopped"),
            upstream("b", end=20, reached="stopped"),
            downstream("c", unseen=(unseen(0, 80, "lens_fouled"),)),
        ]
    )

    assert [(u.from_m, u.to_m, u.reason) for u in lateral.unseen] == [(ft(30), ft(60), "lens_fouled")]


def test_a_run_that_nothing_ties_keeps_its_counter():
    down = downstream(end=30, reached="stopped", defects=(defect("d", "roots", 10),))
    up = upstream(end=20, reached="stopped", defects=(defect("u", "sag", 12),))

    lateral = reconcile([down, up])

    loose = lateral.defects[1]
    assert (loose.station_m, loose.defect.at_m, loose.sources[0].run) == (None, ft(12), "up")
    assert [(p.run, p.is_tied) for p in lateral.placements] == [("down", True), ("up", False)]
    assert "Nothing ties" in lateral.placements[1].reason
    document = lateral_document(lateral)["defects"]
    assert (document[0]["station"], document[0]["counter"]) == (ft(10), None)
    assert (document[1]["station"], document[1]["counter"]) == (None, ft(12))


def test_counters_that_differ_by_two_percent_meet_in_the_middle():
    lateral = reconcile([downstream("a"), downstream("b", end="81.6")])

    assert ft("80.7") < lateral.to_m < ft("80.9")
    scales = {p.run: p.scale for p in lateral.placements}
    assert scales["b"] < 1 < scales["a"]


def test_the_run_through_to_the_main_is_not_stretched_by_one_that_shares_only_its_start():
    whole = downstream("whole", defects=(defect("a", "roots", "70.5"),))
    short = downstream("short", end=30, reached="stopped")

    assert reconcile([whole, short]).defects[0].station_m == ft("70.5")


def test_the_main_at_clearly_different_lengths_is_a_contradiction():
    lateral = reconcile([downstream("a"), downstream("b", end=60)])

    assert [c.code for c in lateral.conflicts] == ["main_at_different_lengths"]
    assert all(p.is_tied for p in lateral.placements)


def test_a_defect_that_another_run_clearly_passed_is_flagged():
    lateral = reconcile([downstream("a", defects=(defect("x", "hole", 40),)), downstream("b")])

    conflict = lateral.conflicts[0]
    assert (conflict.code, conflict.station_m) == ("not_reported", ft(40))
    assert "Run b" in conflict.detail


def test_a_defect_the_other_run_could_not_see_is_no_contradiction():
    blind = downstream("b", unseen=(unseen(38, 42),))

    assert reconcile([downstream("a", defects=(defect("x", "hole", 40),)), blind]).conflicts == ()


def test_clocks_far_apart_contradict():
    one = downstream("a", defects=(defect("x", "hole", 40, clock_from=C(2)),))
    other = downstream("b", defects=(defect("y", "hole", 40, clock_from=C(8)),))

    assert [c.code for c in reconcile([one, other], [MatchDecision("pin", ("a", "x"), ("b", "y"))]).conflicts] == [
        "clock_differs"
    ]


def test_materials_that_contradict_are_flagged_and_nominal_sizes_are_not():
    clay = downstream("a", segments=(segment(0, 80, "vitrified_clay", 152),))
    iron = downstream("b", segments=(segment(0, 80, "cast_iron", 150),))

    lateral = reconcile([clay, iron])

    assert [c.code for c in lateral.conflicts] == ["material_differs"]
    assert [(s.from_m, s.to_m, s.material) for s in lateral.segments] == [(0, ft(80), "vitrified_clay")]


def test_segments_of_several_runs_never_overlap():
    one = downstream("a", segments=(segment(0, "39.5", "vitrified_clay"), segment("39.5", 80, "pvc")))
    other = upstream("b", segments=(segment(0, 40, "pvc"), segment(40, 80, "vitrified_clay")))

    segments = reconcile([one, other]).segments

    assert [s.material for s in segments] == ["vitrified_clay", "pvc"]
    assert segments[0].to_m == segments[1].from_m


def test_a_pinned_match_is_kept_and_a_rejected_one_is_not():
    one = downstream("a", defects=(defect("x", "roots", 40),))
    other = downstream("b", defects=(defect("y", "roots", "40.1"), defect("z", "hole", 43)))

    plain = reconcile([one, other])
    rejected = reconcile([one, other], [MatchDecision("reject", ("a", "x"), ("b", "y"))])
    pinned = reconcile([one, other], [MatchDecision("pin", ("b", "z"), ("a", "x"))])

    assert [len(d.sources) for d in plain.defects] == [2, 1]
    assert [len(d.sources) for d in rejected.defects] == [1, 1, 1]
    assert [[s.ref for s in d.sources] for d in pinned.defects if len(d.sources) == 2] == [["x", "z"]]


def test_an_offset_of_one_joint_is_not_taken_for_the_truth():
    """Joints every 3 ft: the pattern of findings, not the nearest joint, decides."""
    kinds = [
        ("roots", 3),
        ("crack", 12),
        ("roots", 15),
        ("displaced_joint", 24),
        ("infiltration", 33),
        ("roots", 36),
    ]
    down = downstream(
        end=40,
        reached="stopped",
        defects=tuple(defect(f"d{i}", k, at, at_joint=True) for i, (k, at) in enumerate(kinds)),
    )
    # From the main, 79 ft away, stopped after 70 ft; a counter that runs 1 % long.
    up = upstream(
        end="70.7",
        reached="stopped",
        defects=tuple(
            defect(f"u{i}", k, round((79 - at) * 1.01, 2), at_joint=True) for i, (k, at) in enumerate(kinds) if at > 10
        ),
    )

    lateral = reconcile([down, up])

    pairs = [{s.ref for s in d.sources} for d in lateral.defects if len(d.sources) == 2]
    assert pairs == [{f"d{i}", f"u{i}"} for i in range(1, 6)]
    assert all(p.is_tied for p in lateral.placements)


def test_two_equally_good_alignments_are_said_to_be_ambiguous():
    down = downstream(end=40, reached="stopped", defects=tuple(defect(f"d{i}", "roots", 20 + 3 * i) for i in range(6)))
    up = upstream(end=40, reached="stopped", defects=tuple(defect(f"u{i}", "roots", 20 + 3 * i) for i in range(5)))

    lateral = reconcile([down, up])

    assert {p.run: p.is_tied for p in lateral.placements}["up"]
    assert "nearly as likely" in next(p.reason for p in lateral.placements if p.run == "up")
    assert all(d.is_ambiguous for d in lateral.defects if any(s.run == "up" for s in d.sources))


def test_a_shared_label_ties_runs_from_different_access_points():
    first = downstream("a", end=30, reached="access_point", features=(feature("access_point", 30, "CO2"),))
    second = replace(
        downstream("b", end=50, defects=(defect("x", "hole", 20),)), start_access=Access("clean_out", "CO2")
    )

    lateral = reconcile([second, first])

    assert lateral.datum.label == "CO1"
    assert lateral.defects[0].station_m == ft(50)  # 30 + 20
    assert lateral.to_m == ft(80)


def test_sound_joints_of_two_runs_are_matched_between_the_findings():
    joints = tuple(feature("joint", at) for at in range(4, 80, 4))
    backwards = tuple(feature("joint", 80 - at) for at in range(4, 80, 4))

    lateral = reconcile([downstream(features=joints), upstream(features=backwards)])

    assert [f.station_m for f in lateral.features] == [ft(at) for at in range(4, 80, 4)]
    assert all(len(f.sources) == 2 for f in lateral.features)


def test_a_joint_one_run_calls_sound_and_another_cracked_is_a_contradiction():
    sound = downstream("a", features=tuple(feature("joint", at) for at in (36, 40, 44)))
    cracked = downstream("b", defects=(defect("x", "crack", 40, at_joint=True),))

    lateral = reconcile([sound, cracked])

    assert [c.code for c in lateral.conflicts] == ["joint_called_sound"]
    assert [(f.station_m, len(f.sources)) for f in lateral.features] == [
        (ft(36), 1),
        (ft(40), 1),
        (ft(44), 1),
    ]


def test_a_clean_out_in_the_yard_inspected_both_ways_is_one_line():
    yard = Access("clean_out", "CO2")
    down = replace(downstream("down", end=50, defects=(defect("d", "roots", 20),)), start_access=yard)
    up = replace(upstream("up", end=30, reached="building", defects=(defect("u", "crack", 12),)), start_access=yard)

    lateral = reconcile([down, up])

    assert [(d.defect.ref, d.station_m) for d in lateral.defects] == [("u", -ft(12)), ("d", ft(20))]
    assert (lateral.datum, lateral.from_m, lateral.to_m) == (yard, -ft(30), ft(50))
    assert lateral.reaches_building
    assert lateral.reaches_main


def test_a_finding_written_down_twice_is_one_where_another_run_saw_one():
    twice = downstream("a", defects=(defect("x", "hole", 40), defect("again", "hole", "40.3")))
    once = downstream("b", defects=(defect("y", "hole", "40.1"),))

    found = reconcile([twice, once]).defects

    assert [sorted(s.ref for s in d.sources) for d in found] == [["again", "x", "y"]]


def test_a_finding_written_down_twice_stays_two_in_the_only_run():
    assert (
        len(reconcile([downstream(defects=(defect("x", "hole", 40), defect("again", "hole", "40.3")))]).defects) == 2
    )


def test_one_ref_written_twice_loses_nothing():
    run = downstream(defects=(defect("x", "hole", 40), defect("x", "crack", 60)))

    assert [d.defect.ref for d in reconcile([run]).defects] == ["x", "x~2"]


def test_the_building_reached_is_about_where_an_indoor_clean_out_is():
    """Nothing else ties the two: the tie is rough, and the standard deviation says so."""
    indoors = replace(downstream("a", end=30, reached="stopped"), start_access=Access("stack_clean_out", None))
    up = replace(upstream("b", end=80, reached="building", defects=(defect("x", "hole", 20),)))

    lateral = reconcile([indoors, up])

    assert all(p.is_tied for p in lateral.placements)
    assert lateral.defects[0].station_sd_m > Decimal("0.5")


def test_a_stretch_seen_from_both_ends_keeps_both_its_ends():
    down = downstream("a", defects=(defect("x", "sag", 30, 36, percent=C(30)),))
    up = upstream("b", defects=(defect("y", "sag", 44, 50, percent=C(40)),))

    only = reconcile([down, up]).defects[0]

    assert (only.station_m, only.to_station_m, only.defect.percent) == (ft(30), ft(36), 40)


def test_a_rejected_match_stays_rejected_when_a_third_run_sees_it_too():
    runs = [downstream(name, defects=(defect(name, "roots", 40),)) for name in ("a", "b", "c")]

    found = reconcile(runs, [MatchDecision("reject", ("a", "a"), ("b", "b"))]).defects

    assert not any({"a", "b"} <= {s.ref for s in d.sources} for d in found)
    assert len(found) == 2


def test_a_pinned_match_ties_a_run_that_nothing_else_ties():
    down = downstream("a", end=30, reached="stopped", defects=(defect("x", "roots", 25),))
    up = upstream("b", end=60, reached="stopped", defects=(defect("y", "wall_deposits", 55), defect("z", "hole", 20)))

    assert [p.is_tied for p in reconcile([down, up]).placements] == [True, False]
    pinned = reconcile([down, up], [MatchDecision("pin", ("a", "x"), ("b", "y"))])

    assert [p.is_tied for p in pinned.placements] == [True, True]
    assert "a match a person confirmed" in " ".join(p.reason for p in pinned.placements)
    assert [(d.defect.ref, d.station_m) for d in pinned.defects] == [("x", ft(25)), ("z", ft(60))]  # 25 + 55 - 20


def test_a_pin_across_half_the_pipe_makes_one_finding_but_bends_no_counter():
    """d1 lies at 37.5 ft and u2 at 60 ft by the landmarks at both ends; no counter is 22 ft off."""
    down, up = both_ends()
    pin = MatchDecision("pin", ("down", "d1"), ("up", "u2"))
    lateral = reconcile([down, up], [pin])

    by_refs = {tuple(sorted(s.ref for s in d.sources)): d.station_m for d in lateral.defects}
    assert by_refs == {("d1", "u2"): ft("37.5"), ("d2",): ft(60), ("u1",): ft("37.5")}
    assert [p.scale for p in lateral.placements] == [1, 1]
    assert all("confirmed" not in p.reason for p in lateral.placements)
    [flagged] = [c for c in lateral.conflicts if c.code == "pinned_far_apart"]
    assert [(s.run, s.ref) for s in flagged.sources] == [("down", "d1"), ("up", "u2")]
    assert "pinned_far_apart" not in [c.code for c in reconcile([down, up]).conflicts]


def test_a_pin_that_counters_bear_out_is_no_contradiction():
    down, up = both_ends()
    lateral = reconcile([down, up], [MatchDecision("pin", ("down", "d1"), ("up", "u1"))])
    assert "pinned_far_apart" not in [c.code for c in lateral.conflicts]
    assert lateral.defects[0].station_m == ft("37.5")


def test_pins_far_apart_hold_whatever_the_order_of_three_runs_and_nothing_falls_over():
    """The run that saw the finding is laid anew while only those pinned to it from afar are left."""
    down, up = both_ends()
    again = replace(down, id="again")
    pins = [
        MatchDecision("pin", ("up", "u2"), ("down", "d1")),
        MatchDecision("pin", ("up", "u2"), ("again", "d1")),
    ]
    laterals = [reconcile(list(order), pins) for order in permutations([down, up, again])]
    assert all(one == laterals[0] for one in laterals)
    assert all(abs(p.scale - 1) < C("0.01") for p in laterals[0].placements)


@pytest.mark.parametrize(("hour", "is_flagged"), [("5.9", False), ("6", True)])
def test_hours_contradict_each_other_from_three_on(hour, is_flagged):
    """House rule; the upstream run reads 12 - h."""
    one = downstream(defects=(defect("x", "hole", 40, clock_from=C(3)),))
    other = upstream(defects=(defect("y", "hole", 40, clock_from=12 - C(hour)),))
    pin = [MatchDecision("pin", ("down", "x"), ("up", "y"))]
    assert [c.code for c in reconcile([one, other], pin).conflicts] == ["clock_differs"] * is_flagged


@pytest.mark.parametrize(("degree", "is_flagged"), [("moderate", False), ("severe", True)])
def test_degrees_contradict_each_other_from_two_steps_on(degree, is_flagged):
    """House rule."""
    one = downstream(defects=(defect("x", "displaced_joint", 40, at_joint=True, degree="slight"),))
    other = upstream(defects=(defect("y", "displaced_joint", 40, at_joint=True, degree=degree),))
    assert [c.code for c in reconcile([one, other]).conflicts] == ["degree_differs"] * is_flagged


@pytest.mark.parametrize(("clear_feet", "is_asked"), [("1.6", False), ("1.7", True)])
def test_silence_counts_where_a_run_saw_half_a_metre_around(clear_feet, is_asked):
    """House rule: 1.6 ft are 0.49 m, 1.7 ft 0.52 m. The upstream run was blind from there on toward the building."""
    one = downstream(defects=(defect("x", "hole", 40),))
    blind = unseen(C(40) + C(clear_feet), 50)
    conflicts = reconcile([one, upstream(unseen=(blind,))]).conflicts
    assert [c.code for c in conflicts] == ["not_reported"] * is_asked


@pytest.mark.parametrize(("apart", "count"), [("0.49", 1), ("0.5", 2)])
def test_one_finding_written_twice_is_one_within_fifteen_centimetres(apart, count):
    """House rule: 0.49 ft are 0.149 m, 0.5 ft 0.152 m."""
    twice = downstream(defects=(defect("x", "hole", 40), defect("again", "hole", C(40) + C(apart))))
    once = upstream(defects=(defect("y", "hole", 40),))
    assert len(reconcile([twice, once]).defects) == count


@pytest.mark.parametrize(("at", "count"), [("79.1", 1), ("78.9", 2)])
def test_a_main_named_a_foot_before_the_end_is_the_main_that_was_reached(at, count):
    """House rule, 0.3 m: 0.9 ft are 0.27 m, 1.1 ft 0.34 m."""
    run = framed(0, downstream(features=(feature("main", at),)))
    assert len([s for s in run.sightings if s.kind == "main"]) == count


@pytest.mark.parametrize(("at", "is_flagged"), [("43.2", False), ("43.4", True)])
def test_changes_of_material_within_a_metre_are_one(at, is_flagged):
    """House rule: 3.2 ft are 0.98 m, 3.4 ft 1.04 m."""
    one = downstream(segments=(segment(0, 40, "cast_iron"), segment(40, 80, "vitrified_clay")))
    far = C(80) - C(at)
    other = upstream(segments=(segment(0, far, "vitrified_clay"), segment(far, 80, "cast_iron")))
    lateral = reconcile([one, other])
    assert [s.material for s in lateral.segments] == ["cast_iron", "vitrified_clay"]
    assert bool(lateral.conflicts) is is_flagged
