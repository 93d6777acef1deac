"""Who pays which part of a plan, to the cent: by zone, by the cause found in that zone, then by programme.

All sums are whole cents. A rule for one cause pays only in a zone where a finding of that cause is cured; where none
is, the rule that holds for every cause counts. A programme looks at the plan as a whole: its deductible and its cap
hold once, and what it pays is shared out among the sections it covers by their cost, so that no share falls where the
cost rises. What a programme leaves stays with the payer it relieves, so the shares always add up.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from scoring.scope.dividing import ZoneCost
from scoring.scope.rule_set import CAUSES, Ownership, Programme, RuleSet
from scoring.scope.shares import Cents, apportioned_rising, less, no_cents, span_of_cents, summed
from scoring.scope.types import SCENARIOS, PayerShare
from scoring.scope.watching import years_later

_UNKNOWN: Final = Ownership((), (), "owner", "No rule names another payer.", "house rule")


@dataclass(frozen=True, slots=True)
class Work:
    """A section as the payers see it."""

    method: str
    zones: tuple[ZoneCost, ...]
    findings: tuple[tuple[int, int, str], ...]  # what it cures: from and to in um, structural or blockage
    kinds: tuple[str, ...]


@dataclass(slots=True)
class _Part:
    """The cost of a section in one zone, with who is left to pay how much of it."""

    work: Work
    zone: str
    causes: frozenset[str]
    owner: Ownership
    left: Cents
    taken: list[tuple[Programme, Cents]]


class Payers:
    """The payers under one rule set. `paid_on` says when a programme last paid for this lateral (ISO dates)."""

    def __init__(self, rules: RuleSet, paid_on: Mapping[str, str] | None = None, as_of: str | None = None) -> None:
        self.rules, self.paid_on, self.as_of = rules, paid_on or {}, as_of

    def shares(self, works: Sequence[Work]) -> list[tuple[PayerShare, ...]]:
        """Return the shares of each section of a plan; for low, likely and high each adds up to its cost."""
        parts = [[self._part(work, each) for each in work.zones] for work in works]
        for programme in self.rules.programmes:
            if self.is_open(programme):
                _relieve(programme, [part for of_work in parts for part in of_work])
        return [_said(of_work) for of_work in parts]

    def is_open(self, programme: Programme) -> bool:
        """Say whether a programme may pay again: its period since it last paid has passed."""
        until = self._closed_until(programme)
        return until is None or self.as_of is None or date.fromisoformat(self.as_of[:10]) >= date.fromisoformat(until)

    def closed(self) -> tuple[str, ...]:
        """Return in words which programmes pay nothing here for now, and until when."""
        return tuple(
            f"{one.id} paid here on {self.paid_on[one.id]} and pays once in {one.once_per_years} years:"
            f" nothing of it before {self._closed_until(one)}. Counted on {str(self.as_of)[:10]}. ({one.source})"
            for one in self.rules.programmes
            if not self.is_open(one)
        )

    def _closed_until(self, programme: Programme) -> str | None:
        last = self.paid_on.get(programme.id)
        return years_later(last, programme.once_per_years) if last and programme.once_per_years else None

    def _part(self, work: Work, cost: ZoneCost) -> _Part:
        causes = causes_between(work, cost.from_um, cost.to_um)
        return _Part(work, cost.zone, causes, self._owner(cost.zone, causes), dict(cost.cents), [])

    def _owner(self, zone: str, causes: frozenset[str]) -> Ownership:
        rows = [row for row in self.rules.ownership if zone in row.zones]
        of_a_cause = next((row for row in rows if causes.intersection(row.causes)), None)
        of_every_cause = next((row for row in rows if set(CAUSES) <= set(row.causes)), _UNKNOWN)
        return of_a_cause or of_every_cause


def _relieve(programme: Programme, parts: Sequence[_Part]) -> None:
    """Take a programme's share off the parts it covers."""
    covered = [part for part in parts if part.owner.payer == programme.relieves and _covers(programme, part)]
    if not covered:
        return
    costs = [part.left for part in covered]
    whole = summed(costs)
    taken: Cents = {scenario: _taken(programme, whole[scenario]) for scenario in SCENARIOS}
    for part, share in zip(covered, apportioned_rising(taken, costs), strict=True):
        part.left = less(part.left, share)
        part.taken.append((programme, share))


def _taken(programme: Programme, cents: int) -> int:
    """Return what a programme pays of a cost: its share of what is over the deductible, up to the cap."""
    share = int(max(0, cents - int(programme.deductible * 100)) * programme.share_percent / 100)
    return share if programme.cap is None else min(share, int(programme.cap * 100))


def _said(parts: Sequence[_Part]) -> tuple[PayerShare, ...]:
    sums: dict[tuple[str, str, str], Cents] = {}
    for part in parts:
        for payer, rule, source, cents in _payers_of(part):
            held = sums.setdefault((payer, rule, source), no_cents())
            for scenario in SCENARIOS:
                held[scenario] += cents[scenario]
    return tuple(
        PayerShare(payer, span_of_cents(cents), rule, source)
        for (payer, rule, source), cents in sums.items()
        if any(cents.values())
    )


def _payers_of(part: _Part) -> list[tuple[str, str, str, Cents]]:
    owner = part.owner
    return [
        (owner.payer, owner.rule, owner.source, part.left),
        *((each.payer, wording(each), each.source, cents) for each, cents in part.taken),
    ]


def causes_between(work: Work, first: int, last: int) -> frozenset[str]:
    """Return of which causes something is cured between two positions."""
    return frozenset(cause for start, end, cause in work.findings if start <= last and end >= first)


def _covers(programme: Programme, part: _Part) -> bool:
    if part.zone not in programme.zones or not part.causes.intersection(programme.causes):
        return False
    work = part.work
    if programme.methods is not None and work.method not in programme.methods:
        return False
    return not (work.kinds and all(kind in programme.excluded_kinds for kind in work.kinds))


def wording(programme: Programme) -> str:
    """Return the terms of a programme in words."""
    words = [f"{programme.share_percent.normalize():f} %"]
    if programme.deductible:
        words.append(f"after a deductible of {programme.deductible.normalize():f} for the whole plan")
    if programme.is_of_lowest_bid:
        words.append("of the lowest bid (no bid yet: of this estimate)")
    if programme.cap is not None:
        words.append(f"at most {programme.cap.normalize():f} for the whole plan")
    if programme.once_per_years:
        words.append(f"once in {programme.once_per_years} years")
    return f"{programme.id}: {', '.join(words)}."
