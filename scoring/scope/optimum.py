"""The cheapest plan with what is paid once per plan: branch and bound over which methods are used.

Leaving what is paid once out, the search over sections (`cover`) is exact. A branch says of some methods that they are
in (paid once, for certain) and of some that they are out; its bound is the cheapest cover without those that
are out, plus what those that are in cost once. A branch whose bound is not below the best plan found is closed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from scoring.scope.cover import Chosen, Cover, Need, TooHard
from scoring.scope.offer import Offer

Once = Callable[[frozenset[str]], int]


@dataclass(frozen=True, slots=True)
class Optimum:
    """The least cost, the sections that reach it, and the bound below which no plan lies."""

    cost: int
    sections: tuple[Chosen, ...]
    lower_bound: int
    is_proven: bool
    branches: int


def without_idle(needs: Sequence[Need]) -> list[Need]:
    """Drop each need that any plan serves anyway: it lies within another that fewer methods cure."""
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
    """Return the plan of least cost. Every need must have a method that fits it."""
    return _Search(without_idle(needs), offers, once).run()


class _Search:
    def __init__(self, needs: Sequence[Need], offers: Sequence[Offer], once: Once) -> None:
        useful = {method for need in needs for method in need.cures}
        self.offers = [offer for offer in offers if offer.method in useful]
        self.cover = Cover(needs, self.offers)
        self.once = once
        self.best: tuple[int, list[Chosen]] | None = None
        self.bound: int | None = None
        self.branches = 0
        self.was_cut = False
        self._known: dict[tuple[int, ...], tuple[int, list[Chosen]] | None] = {}

    def run(self) -> Optimum:
        """Search all branches and return the best plan with its bound."""
        self._branch(frozenset(), frozenset())
        if self.best is None:
            raise TooHard
        cost, sections = self.best
        lower_bound = cost if not self.was_cut else min(cost, self.bound or 0)
        return Optimum(cost, tuple(sections), lower_bound, not self.was_cut, self.branches)

    def _branch(self, inside: frozenset[str], outside: frozenset[str]) -> None:
        allowed = [n for n, offer in enumerate(self.offers) if offer.method not in outside]
        self.branches += 1
        found = self._solved(tuple(allowed))
        if found is None:
            return
        bound = found[0] + self.once(inside)
        if self.bound is None:
            self.bound = bound
        if self.best is not None and bound >= self.best[0]:
            return
        used = frozenset(section.method for section in found[1])
        cost = found[0] + self.once(used)
        if self.best is None or cost < self.best[0]:
            self.best = (cost, found[1])
        if cost > bound:
            self._split(used, inside, outside)

    def _solved(self, allowed: tuple[int, ...]) -> tuple[int, list[Chosen]] | None:
        if allowed not in self._known:
            self._known[allowed] = self.cover.solve(allowed)
        return self._known[allowed]

    def _split(self, used: frozenset[str], inside: frozenset[str], outside: frozenset[str]) -> None:
        dearest = max(used - inside, key=lambda method: (self.once(inside | {method}), method))
        self._branch(inside, outside | {dearest})
        self._branch(inside | {dearest}, outside)
