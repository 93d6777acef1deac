from dataclasses import replace
from decimal import Decimal

from scoring.reconcile import reconcile
from scoring.types import Access
from tests.scoring.reconcile.builders import (
    CO1,
    MANHOLE,
    defect,
    downstream,
    feature,
    ft,
    segment,
    unseen,
    upstream,
)


def test_station_is_exactly_the_counter_less_its_start():
    run = downstream(counter_start_m=ft(2), end=82, defects=(defect("a", "roots", "39.5"),))

    lateral = reconcile([run])

    assert lateral.datum == CO1
    assert lateral.defects[0].station_m == Decimal("11.43")  # 39.5 - 2 = 37.5 ft = 11.43 m exactly
    assert (lateral.from_m, lateral.to_m) == (0, ft(80))


def test_defects_come_in_order_of_station():
    run = downstream(defects=(defect("late", "crack", 60), defect("early", "roots", 12)))

    assert [d.defect.ref for d in reconcile([run]).defects] == ["early", "late"]


def test_an_upstream_run_alone_has_negative_stations_and_clocks_facing_downstream():
    found = defect("a", "crack", 10, 14, clock_from=Decimal(1), clock_to=Decimal(4))

    lateral = reconcile([upstream(reached="stopped", defects=(found,))])

    only = lateral.defects[0]
    assert lateral.datum == MANHOLE
    assert (only.station_m, only.to_station_m) == (-ft(14), -ft(10))
    assert (only.defect.clock_from, only.defect.clock_to) == (8, 11)  # 12-4 and 12-1, from and to swapped


def test_twelve_o_clock_stays_twelve_upstream():
    found = defect("a", "crack", 10, clock_from=Decimal(12))

    assert reconcile([upstream(defects=(found,))]).defects[0].defect.clock_from == 12


def test_an_upstream_run_that_names_the_access_point_it_reached_is_measured_from_there():
    run = upstream(features=(feature("access_point", 80, "CO1"),), defects=(defect("a", "roots", "42.5"),))

    lateral = reconcile([run])

    assert lateral.datum == Access("other", "CO1")
    assert lateral.defects[0].station_m == ft("37.5")  # 80 - 42.5
    assert (lateral.from_m, lateral.to_m) == (0, ft(80))


def test_the_further_from_the_datum_the_less_sure_a_station_is():
    lateral = reconcile([downstream(defects=(defect("a", "roots", 5), defect("b", "roots", 75)))])

    near, far = (d.station_sd_m for d in lateral.defects)
    assert 0 < near < far


def test_unseen_stretches_keep_their_reasons_and_a_stop_leaves_an_open_end():
    run = downstream(end=50, reached="stopped", stopped_by="defect", unseen=(unseen(10, 14),))

    assert [(u.from_m, u.to_m, u.reason) for u in reconcile([run]).unseen] == [
        (ft(10), ft(14), "under_water"),
        (ft(50), None, "not_reached"),
    ]


def test_a_run_that_writes_down_its_own_open_end_says_it_once():
    run = downstream(end=50, reached="stopped", unseen=(unseen(50, None, "picture_lost"),))

    assert [(u.from_m, u.to_m, u.reason) for u in reconcile([run]).unseen] == [(ft(50), None, "picture_lost")]


def test_an_upstream_stop_leaves_the_upstream_end_open():
    lateral = reconcile([upstream(end=50, reached="stopped")])

    assert lateral.is_upstream_end_open
    assert (lateral.from_m, lateral.unseen) == (-ft(50), ())


def test_segments_and_features_are_given_in_stations():
    run = upstream(
        reached="stopped",
        segments=(segment(0, 30, "pvc"), segment(30, 80, "vitrified_clay")),
        features=(feature("connection", 20),),
    )

    lateral = reconcile([run])

    assert [(s.from_m, s.to_m, s.material) for s in lateral.segments] == [
        (-ft(80), -ft(30), "vitrified_clay"),
        (-ft(30), 0, "pvc"),
    ]
    assert lateral.features[0].station_m == -ft(20)


def test_without_runs_the_lateral_is_empty():
    lateral = reconcile([])

    assert (lateral.datum, lateral.defects, lateral.from_m) == (None, (), None)


def test_the_only_run_is_never_stretched():
    placement = reconcile([downstream(end="81.7")]).placements[0]

    assert (placement.is_tied, placement.scale, placement.station_at_end_m) == (True, 1, ft("81.7"))


def test_a_run_without_a_start_access_is_measured_from_its_start():
    run = replace(downstream(defects=(defect("a", "roots", 5),)), start_access=None)

    assert reconcile([run]).defects[0].station_m == ft(5)
