"""The cheapest plan for many needs: solved for a few of them, then for those the answer leaves out, until none is.

Leaving needs out can only make a plan cheaper, so a plan that is cheapest for some needs and happens to serve all
is cheapest for all. Its cost is the proof's lower bound.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scoring.scope.cover import Chosen, Cover, Need, Once, TooHard
from scoring.scope.offer import Offer

_FEW: Final = 24
_PER_GAP: Final = 6


@dataclass(frozen=True, slots=True)
class Optimum:
    """The least cost, the sections that reach it, and the bound below which no plan lies."""

    cost: int
    sections: tuple[Chosen, ...]
    lower_bound: int
    is_proven: bool
    rounds: int
    needs_used: int


NOTHING_TO_DO: Final = Optimum(0, (), 0, True, 0, 0)


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


def cheapest_plan(needs: Sequence[Need], offers: Sequence[Offer], once: Once) -> Optimum:
    """Return the plan of least cost. Every need must have a method that fits it.

    `once` gives what a set of methods costs once per plan; it must grow with the set, and never by more
    the larger the set already is.
    """
    if not needs:
        return NOTHING_TO_DO
    pending = without_idle(needs)
    useful = {method for need in pending for method in need.cures}
    offers = [offer for offer in offers if offer.method in useful]
    chosen = _spread(pending, _FEW)
    rounds = bound = 0
    while True:
        rounds += 1
        cost, sections = Cover([pending[n] for n in chosen], offers, once).solve()
        bound = max(bound, cost)
        missing = unserved(pending, sections)
        if not missing:
            return Optimum(cost, tuple(sections), bound, True, rounds, len(chosen))
        chosen = sorted({*chosen, *_from_gaps(pending, missing)})


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
