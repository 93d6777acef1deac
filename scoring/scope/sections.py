"""From the sections chosen to a plan that can be read: quantities, prices to the cent, payers, order, reasons."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Final

from scoring.scope.bill import Bill
from scoring.scope.cautions import section_cautions
from scoring.scope.checks import section_checks
from scoring.scope.dividing import ZoneCost, Zones
from scoring.scope.extents import extents_of
from scoring.scope.fits import Fit
from scoring.scope.ground import floor_um, metres_of
from scoring.scope.labels import Chosen, Need
from scoring.scope.limits import LIMITS
from scoring.scope.lines import Extra
from scoring.scope.methods import BY_NAME
from scoring.scope.optimum import Optimum
from scoring.scope.order import in_order
from scoring.scope.payers import Payers, Work
from scoring.scope.pricing import quantities, section_cents
from scoring.scope.rule_set import RuleSet
from scoring.scope.shares import Cents, span_of_cents, summed
from scoring.scope.stops import INCOMPLETE, Stop, stop_at
from scoring.scope.takeoff import CENT, Takeoff
from scoring.scope.types import (
    Left,
    PayerShare,
    Plan,
    PlanName,
    Proof,
    Refusal,
    Section,
    Span,
    ZoneShare,
)
from scoring.scope.watching import Judged

PROOF: Final = (
    "Dynamic programming over all sections and sets of methods, solved for {used} needs in {rounds} rounds; the plan"
    " serves all others too, so no plan is cheaper. The bound counts {what}."
)
NO_WORK: Final = "Nothing has to be fixed under this policy: a plan without work costs nothing."
AS_FAR_AS_SEEN: Final = "It holds for what was seen: beyond the place where a run was stopped nothing is counted."
NO_PROOF: Final = (
    "The search was ended before every plan was priced or bounded ({used} needs, {rounds} rounds): the plan is sound,"
    " but a cheaper one may exist, down to the lower bound. The bound counts {what}."
)
LEAVES: Final = (
    "{left} of {all} findings that must be fixed are in no section; not_curable says why. No price counts them."
)
IN_PART: Final = "The work is incomplete where a run was stopped: see the sections that say so."
FOR_THE_LINE: Final = "No finding is cured here: this plan renews the whole line."
FOR_ACCESS: Final = "No finding is cured here: {methods} work from a clean-out, and none is known on the line."


@dataclass(frozen=True, slots=True)
class Brief:
    """What every plan of one scope is made from."""

    takeoff: Takeoff
    payers: Payers
    rules: RuleSet
    zones: Zones
    fits: dict[str, Fit]
    needs: Sequence[Need]
    judged: dict[str, Judged]
    refused: dict[str, tuple[Refusal, ...]]
    stops: Sequence[Stop]
    stopped_at: dict[str, Stop]
    not_curable: int
    once_extras: Callable[[frozenset[str]], dict[str, list[Extra]]]
    clean_out_um: int | None


@dataclass(frozen=True, slots=True)
class Objective:
    """What a plan makes least, what it must cover beside the findings, and what it leaves."""

    name: PlanName
    words: str
    counts: str
    cells: Sequence[Need] = field(default=())
    left: tuple[Left, ...] = ()


def make_plan(brief: Brief, objective: Objective, optimum: Optimum, cheapest: Plan | None) -> Plan:
    """Return the plan of an optimum; `cheapest` is the plan it is compared with."""
    bills = _bills(brief, objective, optimum.sections)
    cents = section_cents(bills)
    zones = [tuple(brief.zones.divide(bill, own)) for bill, own in zip(bills, cents, strict=True)]
    works = [_work(brief, bill, own) for bill, own in zip(bills, zones, strict=True)]
    shares = brief.payers.shares(works)
    sections = in_order(
        [
            _section(brief, bill, bills, own, divided, paid)
            for bill, own, divided, paid in zip(bills, cents, zones, shares, strict=True)
        ]
    )
    total = span_of_cents(summed(cents))
    base = total if cheapest is None or cheapest.total is None else cheapest.total
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
        proof=_proof(objective, optimum, sections),
        reason=_reason(brief, sections),
    )


def _reason(brief: Brief, sections: Sequence[Section]) -> str | None:
    said = []
    if brief.not_curable:
        said.append(LEAVES.format(left=brief.not_curable, all=brief.not_curable + len(brief.needs)))
    if any(section.incomplete for section in sections):
        said.append(IN_PART)
    return " ".join(said) or None


def _proof(objective: Objective, optimum: Optimum, sections: Sequence[Section]) -> Proof:
    bound = Decimal((optimum.lower_bound + CENT // 2) // CENT).scaleb(-2)
    form = PROOF if optimum.is_proven else NO_PROOF
    words = form.format(used=len(optimum.used), rounds=optimum.rounds, what=objective.counts)
    if not sections:
        words = NO_WORK
    elif any(section.incomplete for section in sections):
        words = f"{words} {AS_FAR_AS_SEEN}"
    return Proof(optimum.is_proven, bound, words)


def _bills(brief: Brief, objective: Objective, chosen: Sequence[Chosen]) -> list[Bill]:
    once = brief.once_extras(frozenset(one.method for one in chosen))
    needs = (*brief.needs, *objective.cells)
    bills = []
    if "new_clean_out" in once:
        at = brief.clean_out_um or 0
        clean_out = Chosen("new_clean_out", at, at, 0)
        bills.append(Bill(brief.takeoff, clean_out, extents_of(clean_out, None, ()), once["new_clean_out"]))
    for one in chosen:
        extents = extents_of(one, brief.fits[one.method].offer, needs)
        bills.append(Bill(brief.takeoff, one, extents, once.pop(one.method, [])))
    return bills


def _work(brief: Brief, bill: Bill, zones: tuple[ZoneCost, ...]) -> Work:
    defects = [brief.judged[need.ref] for need in brief.needs if need.is_in(bill.chosen)]
    places = tuple(place for each in defects for place in _places(each))
    return Work(bill.chosen.method, zones, places, tuple(each.found.defect.kind for each in defects))


def _section(
    brief: Brief,
    bill: Bill,
    bills: Sequence[Bill],
    cents: Cents,
    zones: Sequence[ZoneCost],
    shares: tuple[PayerShare, ...],
) -> Section:
    chosen = bill.chosen
    served = [need.ref for need in brief.needs if need.is_in(chosen)]
    defects = [brief.judged[ref] for ref in served]
    section = Section(
        from_m=metres_of(chosen.from_um),
        to_m=metres_of(chosen.to_um),
        method=chosen.method,
        cures=tuple(ref for ref in served if ref not in brief.stopped_at),
        quantities=quantities(bill, cents),
        checks=(),
        cost=span_of_cents(cents),
        payer_shares=shares,
        cautions=section_cautions(chosen.method),
        reasons=_reasons(brief, chosen, defects, bills),
        life_years=BY_NAME[chosen.method].life_years,
        extents_m=tuple((metres_of(bill.extents[s][0]), metres_of(bill.extents[s][1])) for s in ("low", "high")),  # type: ignore[arg-type] # two
        zones=tuple(
            ZoneShare(each.zone, metres_of(each.from_um), metres_of(each.to_um), span_of_cents(each.cents), each.how)
            for each in zones
        ),
        cures_in_part=tuple(ref for ref in served if ref in brief.stopped_at),
        incomplete=_incomplete(brief, chosen, served),
    )
    kinds = tuple(each.found.defect.kind for each in defects)
    return replace(section, checks=section_checks(kinds, bill, brief.rules))


def _incomplete(brief: Brief, chosen: Chosen, served: Sequence[str]) -> str | None:
    """Say why the work of a section is not complete: it serves or ends at a place where the seeing ended."""
    stop = next((brief.stopped_at[ref] for ref in served if ref in brief.stopped_at), None)
    if stop is None and BY_NAME[chosen.method].cures:
        open_ended = [each for each in brief.stops if each.from_um is None or each.to_um is None]
        stop = stop_at(open_ended, chosen.from_um, chosen.to_um)
    return None if stop is None else INCOMPLETE.format(where=stop.words)


def _places(each: Judged) -> tuple[tuple[int, int, str], ...]:
    """Return where a finding lies, without margin and doubt, and of which cause it is: who pays hangs on that."""
    first = each.found.station_m
    if first is None:
        return ()
    last = each.found.to_station_m or first
    return ((floor_um(first), floor_um(last), "structural" if each.is_structural else "blockage"),)


def _reasons(brief: Brief, chosen: Chosen, defects: Sequence[Judged], bills: Sequence[Bill]) -> tuple[str, ...]:
    method = BY_NAME[chosen.method]
    found = [
        f"{each.found.defect.ref}: {each.found.defect.kind.replace('_', ' ')}, grade {each.grade}." for each in defects
    ]
    if not found:
        found.append(_why_without_findings(chosen, bills))
    found += [f"Before: {step}" for step in method.before]
    short, usual, long = method.life_years
    found.append(f"Lasts about {usual} years ({short} to {long}); {method.source}.")
    limits = sorted({one.limit for each in defects for one in brief.refused[each.found.defect.ref]} & _TELLING)
    found += [f"Ruled out here: {LIMITS[limit][0]} ({LIMITS[limit][1]})" for limit in limits]
    return tuple(found)


def _why_without_findings(chosen: Chosen, bills: Sequence[Bill]) -> str:
    if chosen.method != "new_clean_out":
        return FOR_THE_LINE
    used = [bill.method.title for bill in bills if bill.method.needs_clean_out]
    return FOR_ACCESS.format(methods=", ".join(dict.fromkeys(used)))


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
