"""The cheapest set of sections that covers every need, exactly.

The needs are taken in order along the line. A label says which methods have been paid for once, which have a section
open, and what has been spent; only the cheapest label of each kind is kept. Why that is enough:

- The price of a section never falls when it grows, so each section may be shrunk to the needs given to it, each
  need being given to the section that began first of those that cover it. So a section begins only at a need that
  no section open before covers, and ends at a need of its own.
- Two sections of one method that overlap cost no less than one in their place.
- A section's price is set-up + (cost to its end) - (cost to its start), so an open one needs no memory of its start
  once it is longer than the method's minimum. Shorter ones remember the need they began at.
- A need that reaches further than a later one of the same method may be left out by an open section; a label that
  gives it to the section remembers how far the section must run (`hold`).
- A label is dropped when another can do from here on whatever it can, paying for what it lacks, at no more cost.
"""

from collections.abc import Iterator, Sequence
from typing import Final

from scoring.scope.labels import Chosen, Event, Label, Need, Once, Open, Rival, State, Step, follow
from scoring.scope.offer import Offer
from scoring.scope.reach import MATURE, Reach

_BEAM: Final = 8
_RIVALS: Final = 24
# Far beyond what laterals take; where thousands of defects overlap, a plan may be found but not proven cheapest.
_STEPS: Final = 40_000
_STEPS_PER_NEED: Final = 100


class TooHard(Exception):
    """More labels than allowed: the search was ended before it was done."""

    code = "scope_search_too_large"


class Cover:
    """The search over one list of needs, in order along the line."""

    def __init__(self, needs: Sequence[Need], offers: Sequence[Offer], once: Once) -> None:
        self.needs = needs
        self.offers = offers
        self.once = once
        self.most_steps = _STEPS + _STEPS_PER_NEED * len(needs)
        spots = [(need.from_um, need.to_um, need.cures) for need in needs]
        self.reaches = [Reach(offer, spots) for offer in offers]
        self.serving = [
            [number for number, reach in enumerate(self.reaches) if index in reach.spans]
            for index in range(len(needs))
        ]
        self._once: dict[int, int] = {0: 0}
        self.to_go = self._to_go()

    def sketch(self) -> tuple[int, list[Chosen]]:
        """Return a good plan, not proven cheapest: only a few labels are kept on the way."""
        found = self._search(_BEAM, None)
        if found is None:
            raise AssertionError("a search without a ceiling found no plan")
        return found.cost, self._sections(found)

    def solve(self, ceiling: int) -> tuple[int, list[Chosen]] | None:
        """Return the least cost and its sections; None where no plan costs as little as `ceiling`.

        Raises `TooHard` when the search grows too large: the nearer the ceiling to the least cost, the smaller it is.
        """
        best = self._search(None, ceiling)
        return None if best is None else (best.cost, self._sections(best))

    def _search(self, width: int | None, ceiling: int | None) -> Label | None:
        labels: dict[State, Label] = {State(0, ()): Label(0, None, ())}
        made = 0
        for index in range(len(self.needs)):
            fresh: dict[State, Label] = {}
            for state, label in labels.items():
                for after, cost, events in self._steps(state, label.cost, index):
                    known = fresh.get(after)
                    made += 1
                    if known is None or cost < known.cost:
                        fresh[after] = follow(label, cost, events)
            labels = self._thinned(fresh, index, width, ceiling)
            if not labels:
                return None
            if made > self.most_steps:
                raise TooHard
        return min(labels.items(), key=lambda item: (item[1].cost, item[0]))[1]

    def _to_go(self) -> list[int]:
        """Return for each need what it and all after it cost at least, with every section open.

        Any part of the needs gives such a bound; the best is taken over parts that add one cure after another,
        the dearest first.
        """
        groups: dict[tuple[int, ...], list[int]] = {}
        for index, serving in enumerate(self.serving):
            groups.setdefault(tuple(serving), []).append(index)
        order = sorted(groups.values(), key=lambda group: (-self._bounds(group)[0], group))
        best = [0] * (len(self.needs) + 1)
        part: list[int] = []
        for group in order:
            part = sorted((*part, *group))
            best = [max(pair) for pair in zip(best, self._bounds(part), strict=True)]
        return best

    def _bounds(self, part: Sequence[int]) -> list[int]:
        pieces = [reach.pieces(part) for reach in self.reaches]
        least = {index: min(pieces[method][index] for method in self.serving[index]) for index in part}
        sums = [0]
        for index in range(len(self.needs) - 1, -1, -1):
            sums.append(sums[-1] + least.get(index, 0))
        return sums[::-1]

    def _paid(self, methods: int) -> int:
        """Return what a set of methods (a bit each) costs once."""
        if methods not in self._once:
            names = frozenset(offer.method for n, offer in enumerate(self.offers) if methods >> n & 1)
            self._once[methods] = self.once(names)
        return self._once[methods]

    def _steps(self, state: State, cost: int, index: int) -> Iterator[Step]:
        """Yield every state that can follow once a need is served, with its cost and what began and ended."""
        grown, cost, touched = self._grown(state.open, cost, index)
        free = [each for each in touched if index not in self.reaches[each.method].is_long]
        if free:
            yield from self._ended((State(state.paid, grown), cost, ()), free, index)
            return
        for each in touched:
            span = self.reaches[each.method].spans[index]
            held = Open(each.method, each.start, max(each.hold, span.to_um))
            changed = tuple(held if one is each else one for one in grown)
            yield from self._ended((State(state.paid, changed), cost, ()), [held], index)
        busy = [each.method for each in grown]
        for method in self.serving[index]:
            if method not in busy:
                yield from self._begun((State(state.paid, grown), cost, ()), method, index)

    def _grown(self, sections: tuple[Open, ...], cost: int, index: int) -> tuple[tuple[Open, ...], int, list[Open]]:
        """Let sections that pass their minimum here forget their start; return those that serve the need."""
        touched: list[Open] = []
        grown: list[Open] = []
        for each in sections:
            reach = self.reaches[each.method]
            span = reach.spans.get(index)
            if span is not None:
                start = each.start
                if start != MATURE and not reach.is_short(start, span.to_um):
                    cost += reach.begun[start]
                    start = MATURE
                is_past = each.hold <= span.to_um and index not in reach.is_long
                hold = 0 if is_past else each.hold
                each = Open(each.method, start, hold)
                touched.append(each)
            grown.append(each)
        return tuple(grown), cost, touched

    def _begun(self, step: Step, method: int, index: int) -> Iterator[Step]:
        """Yield what follows when a section of a method begins at this need."""
        (paid, sections), cost, _ = step
        reach = self.reaches[method]
        end_um = reach.spans[index].to_um
        hold = end_um if index in reach.is_long else 0
        if reach.is_short(index, end_um):
            begun = Open(method, index, hold)
        else:
            begun = Open(method, MATURE, hold)
            cost += reach.begun[index]
        now_paid = paid | 1 << method
        if now_paid != paid:
            cost += self._paid(now_paid) - self._paid(paid)
        opened = tuple(sorted((*sections, begun)))
        yield from self._ended((State(now_paid, opened), cost, (Event(method, True, index),)), [begun], index)

    def _ended(self, step: Step, served: Sequence[Open], index: int) -> list[Step]:
        """Return each choice of which sections that serve this need end with it."""
        choices = [step]
        for each in served:
            reach = self.reaches[each.method]
            end_um = max(reach.spans[index].to_um, each.hold)
            added = reach.end_cost(end_um) if each.start == MATURE else reach.price(each.start, end_um)
            ending = Event(each.method, False, end_um)
            ended = [
                (
                    State(left.paid, tuple(one for one in left.open if one.method != each.method)),
                    spent + added,
                    (*events, ending),
                )
                for left, spent, events in choices
            ]
            choices = choices + ended if index in reach.may_stay else ended
        return choices

    def _thinned(
        self, labels: dict[State, Label], index: int, width: int | None, ceiling: int | None
    ) -> dict[State, Label]:
        """Drop labels that another can imitate at no more cost, and those that cannot come under the ceiling."""
        rest = self.to_go[index + 1]
        order = sorted(
            (label.cost + self._outlook(state.open, index), len(state.open), state, label)
            for state, label in labels.items()
        )
        kept: list[tuple[State, Label]] = []
        rivals: list[Rival] = []
        for outlook, _, state, label in order:
            if ceiling is not None and outlook + rest > ceiling:
                break
            methods = sum(1 << each.method for each in state.open)
            if not any(self._imitates(rival, state, label.cost, methods, index) for rival in rivals):
                kept.append((state, label))
                if len(kept) == width:
                    break
                if len(rivals) < _RIVALS:
                    sections = {each.method: (each.start, each.hold) for each in state.open}
                    rivals.append((methods, state.paid, label.cost, sections))
        return dict(kept)

    def _outlook(self, sections: tuple[Open, ...], index: int) -> int:
        """Return what the open sections cost at least until their next need begins."""
        outlook = 0
        for each in sections:
            reach = self.reaches[each.method]
            outlook += reach.next_reached[index] + (0 if each.start == MATURE else reach.begun[each.start])
        return outlook

    def _imitates(self, rival: Rival, state: State, cost: int, methods: int, index: int) -> bool:
        """Say whether one label can do from here on whatever the other can, at no more cost."""
        own_methods, paid, own_cost, own = rival
        if own_methods & ~methods:  # it has a section open that the other has not, and would have to end it
            return False
        spare = cost - own_cost
        both = paid | state.paid
        if both != paid:
            spare -= self._paid(both) - self._paid(paid)
        for each in state.open:
            spare -= self.reaches[each.method].lift(own.get(each.method), (each.start, each.hold), index)
        return spare >= 0

    def _sections(self, label: Label) -> list[Chosen]:
        """Return the sections on the way to a label, in order along the line."""
        events: list[Event] = []
        step: Label | None = label
        while step is not None:
            events.extend(reversed(step.events))
            step = step.before
        begun: dict[int, int] = {}
        chosen = []
        for event in reversed(events):
            if event.begins:
                begun[event.method] = event.place
            else:
                priced = self.reaches[event.method].section(begun.pop(event.method), event.place)
                name = self.offers[event.method].method
                chosen.append(Chosen(name, priced.from_um, priced.to_um, priced.price))
        return sorted(chosen, key=lambda one: (one.from_um, one.to_um, one.method))
