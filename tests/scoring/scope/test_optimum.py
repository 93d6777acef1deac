"""The cheapest plan against two independent judges: a mixed-integer solver, and trying everything.

Both price each candidate section by adding up quantity times price cell by cell in floating point, not through the
curves in whole numbers that the search uses, and slide short sections over all places where the price may bend.
"""

from collections.abc import Iterator
from decimal import Decimal
from itertools import chain, combinations

import highspy
import pytest

from scoring.scope import DEFAULT_RATE_BOOK, DEFAULT_RULE_SET, load_rate_book, load_rule_set, plan
from scoring.scope.ground import Cell
from scoring.scope.labels import Need
from scoring.scope.methods import BY_NAME, Method
from scoring.scope.plan import Planner
from scoring.scope.takeoff import RECONNECTS
from scoring.scope.watching import Scale, judge
from tests.scoring.scope.laterals import Case, generated

BOOK = load_rate_book(DEFAULT_RATE_BOOK)
RULES = load_rule_set(DEFAULT_RULE_SET)
SCALE = Scale(True, 1)


def planner_of(case: Case) -> Planner:
    judged = judge(case.lateral.defects, case.findings, case.policy, SCALE)
    return Planner(case.lateral, judged, SCALE, case.site, case.policy, BOOK, RULES, None)


class Columns:
    """Every section worth considering: for each method, from the start of a need to the end of another."""

    def __init__(self, planner: Planner) -> None:
        self.planner = planner
        self.needs: list[Need] = planner.weighed.needs
        self.rates: dict[str, list[tuple[float, float]]] = {}
        self.columns: list[tuple[str, frozenset[int], float]] = []
        for name in planner.fits:
            self.columns.extend(self._of(name))

    def _of(self, name: str) -> Iterator[tuple[str, frozenset[int], float]]:
        offer = self.planner.fits[name].offer
        served = {
            n: offer.stretch(need.from_um, need.to_um) for n, need in enumerate(self.needs) if name in need.cures
        }
        spans = {n: span for n, span in served.items() if span is not None}
        for zone in {span.zone for span in spans.values()}:
            members = {n: span for n, span in spans.items() if span.zone == zone}
            for first in {span.from_um for span in members.values()}:
                for last in {span.to_um for span in members.values()}:
                    inside = frozenset(
                        n for n, span in members.items() if first <= span.from_um and span.to_um <= last
                    )
                    if inside:
                        yield name, inside, self._price(name, first, last, zone)

    def _price(self, name: str, first: int, last: int, zone: int) -> float:
        offer = self.planner.fits[name].offer
        least = offer.minimum_um
        if last - first >= least:
            return self._bill(name, first, last)
        zone_from, zone_to = offer.zones[zone]
        if zone_to - zone_from <= least and offer.ends is None:
            return self._bill(name, zone_from, zone_to)
        return min(self._bill(name, begin, end) for begin, end in self._slides(name, first, last, zone))

    def _slides(self, name: str, first: int, last: int, zone: int) -> Iterator[tuple[int, int]]:
        """Yield sections of at least the minimum length over a stretch, at every place where the price may bend."""
        offer = self.planner.fits[name].offer
        zone_from, zone_to = offer.zones[zone]
        least, cut = offer.minimum_um, offer.cut_back_um
        places = set(chain(self.planner.ground.marks, chain.from_iterable(offer.ends or ())))
        places |= {at + shift for at in offer.work.steps for shift in (-1, 0, 1)}
        places |= {at + shift for at in self.planner.ground.marks for shift in (-cut, cut)}
        places |= {first, last, zone_from, zone_to}
        places |= {at + shift for at in places for shift in (-least, least)}
        begins = {at for at in places if max(zone_from, last - 2 * least) <= at <= first}
        ends = {at for at in places if last <= at <= min(zone_to, first + 2 * least)}
        if offer.ends is not None:
            begins = {at for at in places if zone_from <= at <= first and self._may_end(offer, at)}
            ends = {at for at in places if last <= at <= zone_to and self._may_end(offer, at)}
        pairs = {(begin, min((end for end in ends if end - begin >= least), default=None)) for begin in begins}
        pairs |= {(max((begin for begin in begins if end - begin >= least), default=None), end) for end in ends}
        whole = [(begin, end) for begin, end in pairs if begin is not None and end is not None]
        yield from whole or [(min(begins), max(ends))]

    @staticmethod
    def _may_end(offer, at: int) -> bool:  # type: ignore[no-untyped-def]
        return offer.ends is None or any(first <= at <= last for first, last in offer.ends)

    def _bill(self, name: str, first: int, last: int) -> float:
        takeoff, method, offer = self.planner.takeoff, BY_NAME[name], self.planner.fits[name].offer
        cost = float(BOOK.methods[name].set_up.likely)
        if name == "pipe_bursting":
            cost += 2 * float(takeoff.pit_price().likely)
        if name == "trap_removal":
            cost += float(BOOK.clean_out.likely)
        if name in RECONNECTS:
            taps = [at for at in takeoff.connections_um if first <= at <= last]
            cost += len(taps) * float(BOOK.connection.likely)
        if name not in self.rates:
            self.rates[name] = [self._rates(method, cell) for cell in self.planner.ground.cells]
        cut_back = float(BOOK.trench.cut_back_m) * 1e6
        short = max(0.0, offer.minimum_um - (last - first)) / 1e6
        cost += short * min(self._length_rate(name, cell) for cell in self.planner.ground.cells)
        for number, (along, surface) in enumerate(self.rates[name]):
            cost += along * self._inside(number, first, last)
            cost += surface * self._inside(number, first - cut_back, last + cut_back)
        return cost

    def _rates(self, method: Method, cell: Cell) -> tuple[float, float]:
        takeoff = self.planner.takeoff
        rows = takeoff.rows(method, cell, "likely")
        along = sum(float(row.per_m) * float(row.price.likely) for row in rows if row.price)
        back = takeoff.restoration_row(method, cell, "likely")
        surface = float(back.per_m) * float(back.price.likely) if back and back.price else 0.0
        return along / 1e6, surface / 1e6

    def _length_rate(self, name: str, cell: Cell) -> float:
        """Price a metre of the method itself from the rate book's rows, by size and depth."""
        rates = BOOK.methods[name]
        depth = sum(cell.depths_m["likely"]) / 2
        fits = [r for r in rates.per_length if cell.diameter_mm <= r.diameter_up_to_mm and depth <= r.depth_up_to_m]
        extra = rates.surface_extra.get(cell.surface)
        return float((fits or rates.per_length[-1:])[0].price.likely + (extra.likely if extra else 0))

    def _inside(self, number: int, first: float, last: float) -> float:
        cells = self.planner.ground.cells
        begin = first if number == 0 else max(first, cells[number].from_um)
        end = last if number == len(cells) - 1 else min(last, cells[number].to_um)
        return max(0.0, end - begin)


def once_cost(planner: Planner, used: frozenset[str]) -> float:
    """Price what is paid once: each method's own, one permit, one clean-out where none is known."""
    rows = [BY_NAME[name] for name in used]
    cost = sum((BOOK.methods[name].once.likely for name in used), Decimal(0))
    if any(row.needs_permit for row in rows):
        cost += BOOK.permit.likely
    if any(row.needs_clean_out for row in rows) and not planner.once.has_access:
        cost += BOOK.clean_out.likely
    return float(cost)


def solved_by_integers(planner: Planner) -> float:
    """Return the least cost as a mixed-integer solver finds it."""
    columns = Columns(planner).columns
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("threads", 1)
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_abs_gap", 1e-6)
    sections = [model.addBinary(obj=price) for _, _, price in columns]
    used = {name: model.addBinary(obj=float(BOOK.methods[name].once.likely)) for name in planner.fits}
    permit = model.addBinary(obj=float(BOOK.permit.likely))
    clean_out = model.addBinary(obj=0.0 if planner.once.has_access else float(BOOK.clean_out.likely))
    for number in range(len(planner.weighed.needs)):
        model.addConstr(sum(x for x, (_, inside, _) in zip(sections, columns, strict=True) if number in inside) >= 1)
    for x, (name, _, _) in zip(sections, columns, strict=True):
        model.addConstr(x <= used[name])
    for name, y in used.items():
        if BY_NAME[name].needs_permit:
            model.addConstr(y <= permit)
        if BY_NAME[name].needs_clean_out:
            model.addConstr(y <= clean_out)
    model.run()
    assert model.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return float(model.getInfo().objective_function_value)


def solved_by_trying_everything(planner: Planner) -> float:
    """Return the least cost over every set of at most as many sections as there are needs."""
    columns = Columns(planner).columns
    everything = frozenset(range(len(planner.weighed.needs)))
    best = float("inf")
    for size in range(1, len(everything) + 1):
        for chosen in combinations(columns, size):
            if everything == frozenset().union(*(inside for _, inside, _ in chosen)):
                used = frozenset(name for name, _, _ in chosen)
                best = min(best, sum(price for _, _, price in chosen) + once_cost(planner, used))
    return best


def least_cost(case: Case) -> Decimal:
    total = plan(case.lateral, case.findings, case.site, case.policy, BOOK, RULES).plans[0].total
    return Decimal(0) if total is None else total.likely


@pytest.mark.parametrize("first", range(0, 520, 20))
def test_a_mixed_integer_solver_finds_nothing_cheaper(first: int) -> None:
    for seed in range(first, first + 20):
        case = generated(seed)
        planner = planner_of(case)
        if planner.weighed.needs:
            assert float(least_cost(case)) == pytest.approx(solved_by_integers(planner), abs=0.011), seed
        else:
            assert least_cost(case) == 0, seed


@pytest.mark.parametrize("seed", range(1000, 1040))
def test_trying_everything_finds_nothing_cheaper(seed: int) -> None:
    case = generated(seed, most_defects=3)
    planner = planner_of(case)
    if planner.weighed.needs:
        assert float(least_cost(case)) == pytest.approx(solved_by_trying_everything(planner), abs=0.011)
    else:
        assert least_cost(case) == 0
