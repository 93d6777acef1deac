"""From the sections chosen to a plan that can be read: quantities, prices to the cent, payers, reasons."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from scoring.scope.bill import Bill, Extra, quantities
from scoring.scope.cautions import section_cautions
from scoring.scope.checks import section_checks
from scoring.scope.cover import Chosen, Need
from scoring.scope.ground import floor_um, metres_of
from scoring.scope.limits import LIMITS
from scoring.scope.methods import BY_NAME
from scoring.scope.optimum import Optimum
from scoring.scope.payers import Cents, Payers, Work, apportioned, span_of_cents
from scoring.scope.rule_set import RuleSet
from scoring.scope.takeoff import CENT, Takeoff
from scoring.scope.types import (
    SCENARIOS,
    Left,
    PayerShare,
    Plan,
    PlanName,
    Proof,
    Refusal,
    Section,
    Span,
)
from scoring.scope.watching import Judged

PROOF = (
    "Dynamic programming over all sections and sets of methods, solved for {used} needs in {rounds} rounds; the plan"
    " serves all others too, so no plan is cheaper. The bound counts {what}."
)
NO_PROOF = (
    "The search was ended before every plan was priced or bounded ({used} needs, {rounds} rounds): the plan is sound,"
    " but a cheaper one may exist, down to the lower bound. The bound counts {what}."
)


@dataclass(frozen=True, slots=True)
class Brief:
    """What every plan of one scope is made from."""

    takeoff: Takeoff
    rules: RuleSet
    needs: Sequence[Need]
    judged: dict[str, Judged]
    refused: dict[str, tuple[Refusal, ...]]
    once_extras: Callable[[frozenset[str]], dict[str, list[Extra]]]
    clean_out_um: int | None


@dataclass(frozen=True, slots=True)
class Objective:
    """What a plan makes least, and what it leaves."""

    name: PlanName
    words: str
    counts: str
    left: tuple[Left, ...] = ()


def make_plan(brief: Brief, objective: Objective, optimum: Optimum, cheapest: Plan | None) -> Plan:
    """Return the plan of an optimum; `cheapest` is the plan it is compared with."""
    bills = _bills(brief, optimum.sections)
    cents = _cents(bills)
    payers = Payers(brief.rules, brief.takeoff.site.boundaries)
    sections = tuple(
        _section(brief, bill, {scenario: cents[scenario][n] for scenario in SCENARIOS}, payers)
        for n, bill in enumerate(bills)
    )
    total = span_of_cents({scenario: sum(cents[scenario]) for scenario in SCENARIOS})
    base = total if cheapest is None else cheapest.total
    return Plan(
        name=objective.name,
        objective=objective.words,
        sections=sections,
        total=total,
        payers=_summed(sections),
        dug_volume_m3=sum((bill.dug_m3() for bill in bills), Decimal(0)),
        dug_length_m=sum((_dug_length(section) for section in sections), Decimal(0)),
        against_least_cost=total.likely - base.likely,
        leaves=objective.left,
        proof=_proof(objective, optimum),
    )


def _proof(objective: Objective, optimum: Optimum) -> Proof:
    bound = Decimal((optimum.lower_bound + CENT // 2) // CENT).scaleb(-2)
    form = PROOF if optimum.is_proven else NO_PROOF
    words = form.format(used=optimum.needs_used, rounds=optimum.rounds, what=objective.counts)
    return Proof(optimum.is_proven, bound, words)


def _bills(brief: Brief, chosen: Sequence[Chosen]) -> list[Bill]:
    once = brief.once_extras(frozenset(one.method for one in chosen))
    bills = []
    if "new_clean_out" in once:
        at = brief.clean_out_um or 0
        bills.append(Bill(brief.takeoff, Chosen("new_clean_out", at, at, 0), once["new_clean_out"]))
    for one in chosen:
        bills.append(Bill(brief.takeoff, one, once.pop(one.method, [])))
    return bills


def _cents(bills: Sequence[Bill]) -> dict[str, list[int]]:
    """Return each section's price in cents: the sum is rounded once and shared out by largest remainder."""
    cents = {}
    for scenario in SCENARIOS:
        exact = [bill.price(scenario) for bill in bills]
        cents[scenario] = apportioned((sum(exact) + CENT // 2) // CENT, exact)
    return cents  # type: ignore[return-value]


def _section(brief: Brief, bill: Bill, cents: Cents, payers: Payers) -> Section:
    chosen = bill.chosen
    cured = [need.ref for need in brief.needs if _serves(chosen, need)]
    defects = [brief.judged[ref] for ref in cured]
    kinds = tuple(each.found.defect.kind for each in defects)
    found = tuple(place for each in defects for place in _places(each))
    work = Work(chosen.from_um, chosen.to_um, chosen.method, found, kinds, cents)
    lines = apportioned(cents["likely"], [line.prices["likely"] for line in bill.lines])
    section = Section(
        from_m=metres_of(chosen.from_um),
        to_m=metres_of(chosen.to_um),
        method=chosen.method,
        cures=tuple(cured),
        quantities=quantities(bill, lines),
        checks=(),
        cost=span_of_cents(cents),
        payer_shares=payers.shares(work),
        cautions=section_cautions(chosen.method),
        reasons=_reasons(brief, chosen, defects),
        life_years=BY_NAME[chosen.method].life_years,
    )
    return replace(section, checks=section_checks(section, kinds, brief.takeoff, brief.rules))


def _serves(chosen: Chosen, need: Need) -> bool:
    return chosen.method in need.cures and chosen.from_um <= need.from_um and need.to_um <= chosen.to_um


def _places(each: Judged) -> tuple[tuple[int, int, str], ...]:
    """Return where a finding lies, without margin and doubt, and of which cause it is: who pays hangs on that."""
    first = each.found.station_m
    if first is None:
        return ()
    last = each.found.to_station_m or first
    return ((floor_um(first), floor_um(last), "structural" if each.is_structural else "blockage"),)


def _reasons(brief: Brief, chosen: Chosen, defects: Sequence[Judged]) -> tuple[str, ...]:
    method = BY_NAME[chosen.method]
    found = [
        f"{each.found.defect.ref}: {each.found.defect.kind.replace('_', ' ')}, grade {each.grade}." for each in defects
    ]
    found += [f"Before: {step}" for step in method.before]
    short, usual, long = method.life_years
    found.append(f"Lasts about {usual} years ({short} to {long}); {method.source}.")
    limits = sorted({one.limit for each in defects for one in brief.refused[each.found.defect.ref]} & _TELLING)
    found += [f"Ruled out here: {LIMITS[limit][0]} ({LIMITS[limit][1]})" for limit in limits]
    return tuple(found)


_TELLING = set(LIMITS) - {"policy", "does_not_cure", "outside_building", "away_from_trap", "not_iron"}


def _dug_length(section: Section) -> Decimal:
    digs = BY_NAME[section.method].digs and section.method != "pipe_bursting"
    return section.to_m - section.from_m if digs or section.method == "inside_replacement" else Decimal(0)


def _summed(sections: Sequence[Section]) -> tuple[PayerShare, ...]:
    """Return what each payer carries of the whole plan."""
    sums: dict[str, Span] = {}
    for share in (share for section in sections for share in section.payer_shares):
        held = sums.get(share.payer, Span(Decimal(0), Decimal(0), Decimal(0)))
        sums[share.payer] = Span(
            held.low + share.cost.low, held.likely + share.cost.likely, held.high + share.cost.high
        )
    return tuple(PayerShare(payer, cost, "sum of its shares", "this scope") for payer, cost in sums.items())
