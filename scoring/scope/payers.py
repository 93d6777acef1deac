"""Who pays which part of a section, to the cent: by zone, by the cause found in that zone, then by programme.

All sums are whole cents. A section over a boundary is split by length (house rule). A rule for one cause pays
only in a zone where a finding of that cause is cured; where none is, the rule that holds for every cause counts.
What a programme leaves stays with the payer it relieves, so the shares always add up.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from scoring.scope.ground import floor_um
from scoring.scope.rule_set import CAUSES, Ownership, Programme, RuleSet
from scoring.scope.types import SCENARIOS, PayerShare, Scenario, Span
from scoring.types import Boundary

_UNKNOWN: Final = Ownership((), (), "owner", "No rule names another payer.", "house rule")

Cents = dict[Scenario, int]


@dataclass(frozen=True, slots=True)
class Work:
    """A section as the payers see it."""

    from_um: int
    to_um: int
    method: str
    findings: tuple[tuple[int, int, str], ...]  # what it cures: from and to in um, structural or blockage
    kinds: tuple[str, ...]
    cents: Cents


class Payers:
    """Splits the sections of one plan; what a programme has paid counts against its cap."""

    def __init__(self, rules: RuleSet, boundaries: Sequence[Boundary]) -> None:
        self.rules = rules
        self.walls = [floor_um(each.station_m) for each in boundaries if each.kind == "building_wall"]
        self.lines = [floor_um(each.station_m) for each in boundaries if each.kind == "property_line"]
        self._paid: dict[tuple[str, Scenario], int] = {}
        self._met: dict[tuple[str, Scenario], int] = {}

    def zone(self, position_um: int) -> str:
        """Return the zone of a position; without a property line everything outside is private."""
        if self.walls and position_um < max(self.walls):
            return "inside"
        return "public" if self.lines and position_um >= min(self.lines) else "private"

    def shares(self, work: Work) -> tuple[PayerShare, ...]:
        """Return the shares of a section; for low, likely and high each adds up to its cost."""
        parts: dict[tuple[str, str, str], Cents] = {}
        zones = self._zones(work)
        for (zone, first, last), cents in self._split(work.cents, zones):
            causes = causes_between(work, first, last)
            owner = self._owner(zone, causes)
            for payer, rule, source, sums in self._relieved(owner, zone, causes, work, cents):
                held = parts.setdefault((payer, rule, source), dict.fromkeys(SCENARIOS, 0))
                for scenario in SCENARIOS:
                    held[scenario] += sums[scenario]
        return tuple(
            PayerShare(payer, span_of_cents(cents), rule, source)
            for (payer, rule, source), cents in parts.items()
            if any(cents.values())
        )

    def _zones(self, work: Work) -> list[tuple[str, int, int]]:
        cuts = [at for at in sorted((*self.walls, *self.lines)) if work.from_um < at < work.to_um]
        ends = [work.from_um, *cuts, work.to_um]
        return [(self.zone(first), first, last) for first, last in itertools.pairwise(ends)]

    def _split(self, cents: Cents, zones: Sequence[tuple[str, int, int]]) -> list[tuple[tuple[str, int, int], Cents]]:
        lengths = [last - first for _, first, last in zones]
        by_scenario = {scenario: apportioned(cents[scenario], lengths) for scenario in SCENARIOS}
        return [
            (zone, {scenario: by_scenario[scenario][number] for scenario in SCENARIOS})
            for number, zone in enumerate(zones)
        ]

    def _owner(self, zone: str, causes: frozenset[str]) -> Ownership:
        rows = [row for row in self.rules.ownership if zone in row.zones]
        of_a_cause = next((row for row in rows if causes.intersection(row.causes)), None)
        of_every_cause = next((row for row in rows if set(CAUSES) <= set(row.causes)), _UNKNOWN)
        return of_a_cause or of_every_cause

    def _relieved(
        self, owner: Ownership, zone: str, causes: frozenset[str], work: Work, cents: Cents
    ) -> list[tuple[str, str, str, Cents]]:
        left, shares = dict(cents), []
        for programme in self.rules.programmes:
            if programme.relieves == owner.payer and _covers(programme, zone, causes, work):
                taken = {scenario: self._taken(programme, scenario, left[scenario]) for scenario in SCENARIOS}
                left = {scenario: left[scenario] - taken[scenario] for scenario in SCENARIOS}
                shares.append((programme.payer, _wording(programme), programme.source, taken))
        return [(owner.payer, owner.rule, owner.source, left), *shares]

    def _taken(self, programme: Programme, scenario: Scenario, cents: int) -> int:
        key = (programme.id, scenario)
        open_deductible = int(programme.deductible * 100) - self._met.get(key, 0)
        own = min(cents, max(0, open_deductible))
        self._met[key] = self._met.get(key, 0) + own
        share = int((cents - own) * programme.share_percent / 100)
        if programme.cap is not None:
            share = min(share, int(programme.cap * 100) - self._paid.get(key, 0))
        self._paid[key] = self._paid.get(key, 0) + share
        return share


def causes_between(work: Work, first: int, last: int) -> frozenset[str]:
    """Return of which causes something is cured between two positions."""
    return frozenset(cause for start, end, cause in work.findings if start <= last and end >= first)


def _covers(programme: Programme, zone: str, causes: frozenset[str], work: Work) -> bool:
    if zone not in programme.zones or not causes.intersection(programme.causes):
        return False
    if programme.methods is not None and work.method not in programme.methods:
        return False
    return not (work.kinds and all(kind in programme.excluded_kinds for kind in work.kinds))


def _wording(programme: Programme) -> str:
    words = [f"{programme.share_percent.normalize():f} %"]
    if programme.deductible:
        words.append(f"after a deductible of {programme.deductible.normalize():f}")
    if programme.is_of_lowest_bid:
        words.append("of the lowest bid (no bid yet: of this estimate)")
    if programme.cap is not None:
        words.append(f"at most {programme.cap.normalize():f} for the whole plan")
    if programme.once_per_years:
        words.append(f"once in {programme.once_per_years} years")
    return f"{programme.id}: {', '.join(words)}."


def apportioned(total: int, weights: Sequence[int]) -> list[int]:
    """Split a whole number by weights so that the parts add up; the largest remainders get the rest."""
    whole = sum(weights)
    if whole == 0:
        return [total, *[0] * (len(weights) - 1)] if weights else []
    parts = [total * weight // whole for weight in weights]
    order = sorted(range(len(weights)), key=lambda n: (-(total * weights[n] % whole), n))
    for number in order[: total - sum(parts)]:
        parts[number] += 1
    return parts


def span_of_cents(cents: Cents) -> Span:
    """Return whole cents as a range of money with two decimals."""
    return Span(*(Decimal(cents[scenario]).scaleb(-2) for scenario in SCENARIOS))
