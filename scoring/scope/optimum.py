"""The cheapest plan for many needs: solved for a few of them, then for those the answer leaves out, until none is.

Leaving needs out can only make a plan cheaper, so a plan that is cheapest for some needs and happens to serve all
is cheapest for all. Its cost is the proof's lower bound.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scoring.scope.cover import Cover, TooHard
from scoring.scope.labels import Chosen, Need, Once
from scoring.scope.offer import Offer

_FEW: Final = 3
_PER_GAP: Final = 5
_MANY: Final = 150


@dataclass(frozen=True, slots=True)
class Optimum:
    """The least cost, the sections that reach it, and the bound below which no plan lies."""

    cost: int
    sections: tuple[Chosen, ...]
    lower_bound: int
    is_proven: bool
    rounds: int
    used: tuple[Need, ...]  # the needs it was solved for; it serves the others too


NOTHING_TO_DO: Final = Optimum(0, (), 0, True, 0, ())


def without_idle(needs: Sequence[Need]) -> list[Need]:
    """Drop each need that any plan serves anyway: it lies within another that no other methods cure."""
    order = sorted(needs, key=lambda need: (need.from_um, -need.to_um, len(need.cures), need.ref))
    furthest: dict[frozenset[str], int] = {}
    kept = []
    for need in order:
        cures = frozenset(need.cures)
        if any(end >= need.to_um and other <= cures for other, end in furthest.items()):
            continue
        furthest[cures] = max(need.to_um, furthest.get(cures, need.to_um))
        kept.append(need)
    return kept


def cheapest_plan(needs: Sequence[Need], offers: Sequence[Offer], once: Once, telling: Sequence[Need] = ()) -> Optimum:
    """Return the plan of least cost. Every need must have a method that fits it.

    `once` gives what a set of methods costs once per plan; it must grow with the set, and never by more
    the larger the set already is. `telling` names needs that mattered for another plan: to begin with them saves
    rounds and changes nothing else.
    """
    return _Rounds(without_idle(needs), offers, once, telling).run() if needs else NOTHING_TO_DO


class _Rounds:
    def __init__(self, needs: Sequence[Need], offers: Sequence[Offer], once: Once, telling: Sequence[Need]) -> None:
        useful = {method for need in needs for method in need.cures}
        self.needs = needs
        self.offers = _undominated([offer for offer in offers if offer.method in useful], needs, once)
        self.once = once
        known = set(telling)
        self.chosen = sorted({*_spread(needs, _FEW), *(n for n, need in enumerate(needs) if need in known)})
        self.rounds = 0

    def run(self) -> Optimum:
        """Solve round by round, with more of the needs left out, until a plan serves all; that is the cheapest."""
        bound = 0
        while True:
            self.rounds += 1
            cover = self._cover()
            ceiling, sketched = cover.sketch()
            # Of few needs the cheapest plan is found as quickly as a good one, and tells better what is left out.
            if len(self.chosen) > _MANY and self._adds_missing(sketched):
                continue
            try:
                cost, found = _solved(cover, ceiling)
            except TooHard:
                return self._answer(*self._sketched(), bound)
            bound = max(bound, cost)
            if not self._adds_missing(found):
                return self._answer(cost, found, bound)

    def _answer(self, cost: int, sections: Sequence[Chosen], bound: int) -> Optimum:
        return Optimum(
            cost, tuple(sections), bound, cost == bound, self.rounds, tuple(self.needs[n] for n in self.chosen)
        )

    def _cover(self) -> Cover:
        return Cover([self.needs[n] for n in self.chosen], self.offers, self.once)

    def _sketched(self) -> tuple[int, list[Chosen]]:
        while True:
            self.rounds += 1
            cost, sections = self._cover().sketch()
            if not self._adds_missing(sections):
                return cost, sections

    def _adds_missing(self, sections: Sequence[Chosen]) -> bool:
        """Take in some of the needs that a plan leaves out; say whether there were any."""
        missing = unserved(self.needs, sections)
        if missing and not set(missing) - set(self.chosen):
            raise AssertionError("a plan leaves out needs it was made for")
        self.chosen = sorted({*self.chosen, *_from_gaps(self.needs, missing)})
        return bool(missing)


def _solved(cover: Cover, ceiling: int) -> tuple[int, list[Chosen]]:
    found = cover.solve(ceiling)
    if found is None:
        raise AssertionError("no plan costs as little as the one just found")
    return found


def _undominated(offers: Sequence[Offer], needs: Sequence[Need], once: Once) -> list[Offer]:
    """Leave out methods that another can stand in for everywhere at no more cost."""
    served = {offer.method: {n for n, need in enumerate(needs) if offer.method in need.cures} for offer in offers}
    kept = list(offers)
    for offer in offers:
        rivals = [one for one in kept if one is not offer and served[one.method] >= served[offer.method]]
        if any(one.stands_in_for(offer) and _once_no_dearer(one, offer, kept, once) for one in rivals):
            kept.remove(offer)
    return kept


def _once_no_dearer(rival: Offer, offer: Offer, kept: Sequence[Offer], once: Once) -> bool:
    """Say whether swapping one method for another never raises what is paid once, whatever else is used.

    What the rival adds beside the offer must not exceed what the offer alone brings when all others are there.
    """
    everything = frozenset(one.method for one in kept)
    added = once(frozenset({rival.method, offer.method})) - once(frozenset({offer.method}))
    return added <= once(everything) - once(everything - {offer.method})


def _spread(needs: Sequence[Need], number: int) -> list[int]:
    """Return the numbers of up to `number` needs of each cure, evenly along the line, first and last among them."""
    groups: dict[tuple[str, ...], list[int]] = {}
    for index, need in enumerate(needs):
        groups.setdefault(need.cures, []).append(index)
    return sorted(index for group in groups.values() for index in _some(group, number))


def _some(group: Sequence[int], number: int) -> list[int]:
    if len(group) <= number:
        return list(group)
    step = (len(group) - 1) / (number - 1)
    return sorted({group[round(step * n)] for n in range(number)})


def unserved(needs: Sequence[Need], sections: Sequence[Chosen]) -> list[int]:
    """Return the numbers of the needs that lie in no section that cures them."""
    by_method: dict[str, list[tuple[int, int]]] = {}
    for section in sections:
        by_method.setdefault(section.method, []).append((section.from_um, section.to_um))
    for spans in by_method.values():
        spans.sort()
    return [index for index, need in enumerate(needs) if not _is_served(need, by_method)]


def _is_served(need: Need, by_method: dict[str, list[tuple[int, int]]]) -> bool:
    for method in need.cures:
        spans = by_method.get(method, ())
        index = bisect_right(spans, (need.from_um, 1 << 62)) - 1
        # Sections of one method do not overlap, save where a short one was lengthened: look at two.
        for candidate in (index, index - 1):
            if candidate >= 0 and spans[candidate][1] >= need.to_um:
                return True
    return False


def _from_gaps(needs: Sequence[Need], missing: Sequence[int]) -> list[int]:
    """Return a few of the missing needs from each run of them, by what cures them."""
    runs: dict[tuple[str, ...], list[list[int]]] = {}
    last_end: dict[tuple[str, ...], int] = {}
    for index in missing:
        cures = needs[index].cures
        if cures in runs and needs[index].from_um <= last_end[cures]:
            runs[cures][-1].append(index)
        else:
            runs.setdefault(cures, []).append([index])
        last_end[cures] = max(last_end.get(cures, 0), needs[index].to_um)
    return [index for groups in runs.values() for group in groups for index in _some(group, _PER_GAP)]


__all__ = ["NOTHING_TO_DO", "Optimum", "TooHard", "cheapest_plan", "unserved", "without_idle"]
