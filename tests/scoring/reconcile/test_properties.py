"""What holds for any runs, however odd: nothing lost, nothing doubled, no dependence on order."""

from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.reconcile import lateral_document, reconcile
from scoring.types import Access, Defect, Feature, Run, Unseen

KINDS = ("crack", "fracture", "roots", "sag", "hole")
FEATURES = ("joint", "trap", "connection", "main", "access_point")


@st.composite
def runs(draw, name):
    start = draw(st.sampled_from((Decimal(0), Decimal("2.5"))))
    tenths = draw(st.integers(1, 400))
    counters = st.integers(0, tenths).map(lambda t: start + Decimal(t) / 10)
    access = st.builds(Access, st.sampled_from(("clean_out", "downstream_manhole")), st.sampled_from((None, "A")))
    clocks = st.sampled_from((None, Decimal(3), Decimal(12)))
    defects = st.builds(Defect, st.just(""), st.sampled_from(KINDS), counters, clock_from=clocks)
    features = st.builds(Feature, st.sampled_from(FEATURES), counters, st.sampled_from((None, "A")))
    blind = st.tuples(counters, counters).map(lambda p: Unseen(min(p), max(p), "fog"))
    found = draw(st.lists(defects, max_size=6))
    return Run(
        name,
        draw(st.sampled_from(("downstream", "upstream"))),
        draw(st.none() | access),
        start,
        start + Decimal(tenths) / 10,
        draw(st.sampled_from(("main", "building", "access_point", "stopped"))),
        features=tuple(draw(st.lists(features, max_size=6))),
        defects=tuple(Defect(f"d{i}", d.kind, d.at_m, clock_from=d.clock_from) for i, d in enumerate(found)),
        unseen=tuple(draw(st.lists(blind, max_size=2))),
    )


several = st.tuples(runs("r1"), runs("r2"), runs("r3")).flatmap(
    lambda three: st.integers(1, 3).map(lambda n: list(three[:n]))
)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(several)
def test_every_finding_is_on_the_lateral_exactly_once(given_runs):
    lateral = reconcile(given_runs)

    told = sorted((s.run, s.ref, s.counter_m) for d in lateral.defects for s in d.sources)
    assert told == sorted((r.id, d.ref, d.at_m) for r in given_runs for d in r.defects)
    features = [(s.run, s.ref) for f in lateral.features for s in f.sources if s.ref.startswith("#")]
    assert len(features) == len(set(features)) == sum(len(r.features) for r in given_runs)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(several)
def test_the_order_of_runs_changes_nothing(given_runs):
    assert lateral_document(reconcile(given_runs[::-1])) == lateral_document(reconcile(given_runs))


@settings(max_examples=40, derandomize=True, deadline=None)
@given(several)
def test_stations_rise_and_unseen_stretches_never_overlap(given_runs):
    lateral = reconcile(given_runs)

    stations = [d.station_m for d in lateral.defects if d.station_m is not None]
    assert stations == sorted(stations)
    edges = [edge for u in lateral.unseen for edge in (u.from_m, u.to_m) if edge is not None]
    assert edges == sorted(edges)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(runs("r1"))
def test_a_single_run_keeps_its_distances_exactly(run):
    lateral = reconcile([run])

    sign = 1 if run.direction == "downstream" else -1
    apart = {d.station_m - sign * d.sources[0].counter_m for d in lateral.defects}
    assert len(apart) <= 1
