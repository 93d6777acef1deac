"""Who pays the lowest bid: the shares of the rule set, counted from what was bid instead of what was estimated."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Final

from scoring.bids.types import Asked, AskedPlan, AskedSection, HeldBid, Paid, Shared
from scoring.scope.dividing import ZoneCost, Zones
from scoring.scope.ground import floor_um
from scoring.scope.payers import Payers, Work
from scoring.scope.rule_set import RuleSet
from scoring.scope.shares import apportioned
from scoring.scope.types import SCENARIOS
from scoring.scope.watching import Judged, Scale, judge
from scoring.types import Boundary, GradedFinding, Lateral, Policy

OWNER: Final = "owner"
_ADDITIONS: Final = "Work the plan does not have is the owner's own."
_HOUSE: Final = "house rule"


@dataclass(frozen=True, slots=True)
class Place:
    """What shares hang on: the rules, where responsibility changes hands, and what each section cures there."""

    rules: RuleSet
    boundaries: Sequence[Boundary]
    judged: Mapping[str, Judged]
    paid_on: Mapping[str, str] = field(default_factory=dict)  # by programme: when it last paid here
    as_of: str | None = None  # the day the scope counts from


def place_of(
    lateral: Lateral,
    findings: Sequence[GradedFinding],
    policy: Policy,
    scale: Scale,
    rules: RuleSet,
    boundaries: Sequence[Boundary],
    as_of: str | None,
) -> Place:
    """Return what shares hang on, from the lateral a scope was computed from."""
    judged = judge(lateral.defects, tuple(findings), policy, scale)
    by_ref = {each.found.defect.ref: each for each in judged}
    return Place(rules, boundaries, by_ref, dict(policy.programmes_paid_on), as_of)


def shared(plan: AskedPlan, held: HeldBid, place: Place) -> Shared | None:
    """Return who pays what of a bid, to the cent; None where credits leave a section below nothing."""
    amounts, additions = section_cents(plan, held)
    if min([additions, *amounts.values()]) < 0:
        return None
    counted = [replace(one, is_of_lowest_bid=False) for one in place.rules.programmes if one.is_of_lowest_bid]
    payers = Payers(replace(place.rules, programmes=tuple(counted)), place.paid_on, place.as_of)
    works = [_work(section, amounts[section.number], place) for section in plan.sections]
    sums: dict[tuple[str, str, str], int] = {}
    for share in (share for of_section in payers.shares(works) for share in of_section):
        key = (share.payer, share.rule, share.source)
        sums[key] = sums.get(key, 0) + int(share.cost.likely.scaleb(2))
    if additions:
        sums[OWNER, _ADDITIONS, _HOUSE] = additions
    return Shared(
        bid=held.bid,
        total=held.total,
        paid=tuple(Paid(payer, _money(cents), rule, source) for (payer, rule, source), cents in sums.items()),
        not_shared=_money(additions),
        notes=(*_notes(place.rules), *payers.closed()),
    )


def _notes(rules: RuleSet) -> list[str]:
    notes = [
        "Programmes count from this bid, the lowest complete one; a dearer one leaves the difference with the owner."
    ]
    notes += [
        f"{one.id} pays by the estimate, not by a bid: see the payers of the plan."
        for one in rules.programmes
        if not one.is_of_lowest_bid
    ]
    return notes


def _work(section: AskedSection, cents: int, place: Place) -> Work:
    cured = [place.judged[ref] for ref in section.cures if ref in place.judged]
    return Work(
        method=section.method,
        zones=tuple(_zones(section, cents, place)),
        findings=tuple(spot for each in cured for spot in _spots(each)),
        kinds=tuple(each.found.defect.kind for each in cured),
    )


def _zones(section: AskedSection, cents: int, place: Place) -> list[ZoneCost]:
    """Divide what is asked for a section among its zones as the plan does; by length where that is not known."""
    first, last = section.ends_m
    parts = Zones(place.boundaries).parts(floor_um(first), floor_um(last))
    weights = [end - begin for _, begin, end in parts]
    if len(section.zones) == len(parts):
        weights = [int(likely.scaleb(2)) for likely in section.zones]
    return [
        ZoneCost(*part, dict.fromkeys(SCENARIOS, own), "as in the plan")
        for part, own in zip(parts, apportioned(cents, weights), strict=True)
    ]


def _spots(each: Judged) -> list[tuple[int, int, str]]:
    first = each.found.station_m
    if first is None:
        return []
    last = each.found.to_station_m or first
    return [(floor_um(first), floor_um(last), "structural" if each.is_structural else "blockage")]


def section_cents(plan: AskedPlan, held: HeldBid) -> tuple[dict[int, int], int]:
    """Return what a bid asks for each section, and for work the plan does not have, in cents.

    A line for several sections is shared out by their likely prices of what it covers; a credit on the whole is taken
    off the sections by what the bid asks for each (house rules).
    """
    amounts = {section.number: 0 for section in plan.sections}
    additions = credit = 0
    for line in held.lines:
        cents = int(line.extension.scaleb(2))
        if line.covers:
            for number, part in _parts(line.covers, cents):
                amounts[number] += part
        elif cents >= 0:
            additions += cents
        elif line.written.section is not None:
            amounts[line.written.section] += cents
        else:
            credit += cents
    if credit:
        parts = apportioned(credit, list(amounts.values()))
        amounts = {number: had + part for (number, had), part in zip(amounts.items(), parts, strict=True)}
    return amounts, additions


def _parts(covers: Sequence[Asked], cents: int) -> list[tuple[int, int]]:
    numbers = sorted({one.section for one in covers})
    weights = [_weight(covers, number) for number in numbers]
    return list(zip(numbers, apportioned(cents, weights), strict=True))


def _weight(covers: Sequence[Asked], number: int) -> int:
    return sum(int((one.cost or Decimal(0)).scaleb(2)) for one in covers if one.section == number)


def _money(cents: int) -> Decimal:
    return Decimal(cents).scaleb(-2)
