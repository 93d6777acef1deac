"""The cheapest set of sections that covers every need, exactly.

The needs are taken in order along the line. A label says which methods have a section open and what has been spent;
only the cheapest label of each kind is kept. Why that is enough:

- The price of a section never falls when it grows, so each section may be shrunk to the needs given to it, each
  need being given to the section that began first of those that cover it. So a section begins only at a need that
  no section open before covers, and ends at a need of its own.
- Two sections of one method that overlap cost no less than one in their place.
- A section's price is set-up + (cost to its end) - (cost to its start), so an open one needs no memory of its start
  once it is longer than the method's minimum. Shorter ones remember the need they began at.
- A need that reaches further than a later one of the same method may be left out by an open section; a label that
  gives it to the section remembers how far the section must run ("hold").
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scoring.scope.offer import Offer, Stretch

MATURE = -1
_CROWDED = 6
_RIVALS = 12


@dataclass(frozen=True, slots=True)
class Need:
    """A stretch that must lie in one section of one of the methods that cure it."""

    ref: str
    from_um: int
    to_um: int
    cures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chosen:
    """A section of a plan."""

    method: str
    from_um: int
    to_um: int
    price: int


@dataclass(frozen=True, slots=True)
class Open:
    """A section under way: the need it began at (or MATURE), and how far it must run."""

    method: int
    start: int
    hold: int = 0


State = tuple[Open, ...]


@dataclass(frozen=True, slots=True)
class Event:
    """A section begins at a need (`place` is its number) or ends at a position."""

    method: int
    begins: bool
    place: int


@dataclass(frozen=True, slots=True)
class Label:
    """The cheapest way to a state; `before` and `events` lead back to its sections."""

    cost: int
    before: "Label | None" = None
    events: tuple[Event, ...] = ()


Step = tuple[State, int, tuple[Event, ...]]


class TooHard(Exception):
    """More labels than allowed: the search was ended."""

    code = "scope_search_too_large"


class _Reach:
    """One method over all needs: where it works each, and what comes next."""

    def __init__(self, offer: Offer, needs: Sequence[Need]) -> None:
        self.offer = offer
        self.spans: dict[int, Stretch] = {}
        for index, need in enumerate(needs):
            if offer.method in need.cures:
                span = offer.stretch(need.from_um, need.to_um)
                if span is not None:
                    self.spans[index] = span
        self.may_stay: set[int] = set()
        self.is_long: set[int] = set()
        self.following: dict[int, int] = {}
        self._look_ahead()
        self._prices: dict[tuple[int, int], int] = {}

    def _look_ahead(self) -> None:
        later, least_end = -1, 0
        for index in sorted(self.spans, reverse=True):
            span = self.spans[index]
            same_zone = later >= 0 and self.spans[later].zone == span.zone
            if same_zone:
                self.may_stay.add(index)
                self.following[index] = later
                if span.to_um > least_end:
                    self.is_long.add(index)
            least_end = min(least_end, span.to_um) if same_zone else span.to_um
            later = index

    def begun(self, start: int) -> int:
        """Return what a section costs that has begun at a need and will be longer than the minimum."""
        return self.offer.set_up - self.offer.at_start(self.spans[start].from_um)

    def price(self, start: int, end_um: int) -> int:
        """Return the price of a section from the need it began at to an end."""
        key = (start, end_um)
        if key not in self._prices:
            span = self.spans[start]
            self._prices[key] = self.offer.cheapest(span.from_um, end_um, span.zone).price
        return self._prices[key]

    def is_short(self, start: int, end_um: int) -> bool:
        """Say whether a section from a need to an end is shorter than the method's minimum."""
        return end_um - self.spans[start].from_um < self.offer.minimum_um

    def reopened(self, following: int) -> int:
        """Return at most what it costs to begin again at the next need, as against being open."""
        span = self.spans[following]
        begin = min(span.from_um, span.to_um - self.offer.minimum_um)
        return self.offer.set_up - self.offer.at_start(begin)


class Cover:
    """The search over one list of needs for a set of methods."""

    def __init__(self, needs: Sequence[Need], offers: Sequence[Offer], most_labels: int = 400_000) -> None:
        self.needs = needs
        self.reaches = [_Reach(offer, needs) for offer in offers]
        self.most_labels = most_labels

    def solve(self, allowed: Sequence[int]) -> tuple[int, list[Chosen]] | None:
        """Return the least cost and its sections, using only the methods named by number; None: impossible."""
        labels: dict[State, Label] = {(): Label(0)}
        made = 0
        next_need = self._next_needs(allowed)
        for index in range(len(self.needs)):
            fresh: dict[State, Label] = {}
            for state, label in labels.items():
                for after, cost, events in self._steps(state, label.cost, index, allowed):
                    known = fresh.get(after)
                    made += 1
                    if known is None or cost < known.cost:
                        fresh[after] = _follow(label, cost, events)
            labels = self._thinned(fresh, index, next_need) if len(fresh) > _CROWDED else fresh
            if made > self.most_labels:
                raise TooHard
        best = labels.get(())
        return None if best is None else (best.cost, self._sections(best))

    def _next_needs(self, allowed: Sequence[int]) -> dict[int, list[int]]:
        """Return for each method and need the first need at or after it that the method serves."""
        ahead: dict[int, list[int]] = {}
        for method in allowed:
            coming, row = -1, [-1] * (len(self.needs) + 1)
            for index in range(len(self.needs) - 1, -1, -1):
                coming = index if index in self.reaches[method].spans else coming
                row[index] = coming
            ahead[method] = row
        return ahead

    def _steps(self, state: State, cost: int, index: int, allowed: Sequence[int]) -> Iterator[Step]:
        """Yield every state that can follow once a need is served, with its cost and the sections ended."""
        grown, cost, touched = self._grown(state, cost, index)
        if touched and any(index not in self.reaches[each.method].is_long for each in touched):
            served = [each for each in touched if index not in self.reaches[each.method].is_long]
            yield from self._ended((grown, cost, ()), served, index)
            return
        for each in touched:
            span = self.reaches[each.method].spans[index]
            held = Open(each.method, each.start, max(each.hold, span.to_um))
            changed = tuple(held if one is each else one for one in grown)
            yield from self._ended((changed, cost, ()), [held], index)
        busy = {each.method for each in grown}
        for method in allowed:
            if method not in busy and index in self.reaches[method].spans:
                begun, added = self._begin(method, index)
                opened = tuple(sorted((*grown, begun), key=lambda one: one.method))
                step = (opened, cost + added, (Event(method, True, index),))
                yield from self._ended(step, [begun], index)

    def _grown(self, state: State, cost: int, index: int) -> tuple[State, int, list[Open]]:
        """Let sections that pass their minimum here forget their start; return those that serve the need."""
        touched, grown = [], []
        for each in state:
            reach = self.reaches[each.method]
            span = reach.spans.get(index)
            if span is None:
                grown.append(each)
                continue
            hold = each.hold if each.hold > span.to_um else 0
            start = each.start
            if start != MATURE and not reach.is_short(start, span.to_um):
                cost += reach.begun(start)
                start = MATURE
            now = Open(each.method, start, hold) if (start, hold) != (each.start, each.hold) else each
            grown.append(now)
            touched.append(now)
        return tuple(grown), cost, touched

    def _begin(self, method: int, index: int) -> tuple[Open, int]:
        reach = self.reaches[method]
        end_um = reach.spans[index].to_um
        hold = end_um if index in reach.is_long else 0
        if reach.is_short(index, end_um):
            return Open(method, index, hold), 0
        return Open(method, MATURE, hold), reach.begun(index)

    def _ended(self, step: Step, served: Sequence[Open], index: int) -> Iterator[Step]:
        """Yield each choice of which sections that serve this need end with it."""
        choices = [step]
        for each in served:
            reach = self.reaches[each.method]
            end_um = max(reach.spans[index].to_um, each.hold)
            is_mature = each.start == MATURE
            added = reach.offer.at_end(end_um) if is_mature else reach.price(each.start, end_um)
            ending = Event(each.method, False, end_um)
            ended = [
                (tuple(one for one in left if one.method != each.method), spent + added, (*events, ending))
                for left, spent, events in choices
            ]
            choices = choices + ended if index in reach.may_stay else ended
        yield from choices

    def _thinned(self, labels: dict[State, Label], index: int, next_need: dict[int, list[int]]) -> dict[State, Label]:
        """Drop labels that a label with fewer sections open can imitate at no more cost."""
        order = sorted(
            labels.items(), key=lambda item: (item[1].cost + self._debt(item[0], index, next_need), len(item[0]))
        )
        kept: list[tuple[State, Label]] = []
        for state, label in order:
            if not any(self._imitates(rival, mine, state, label, index, next_need) for rival, mine in kept[:_RIVALS]):
                kept.append((state, label))
        return dict(kept)

    def _debt(self, state: State, index: int, next_need: dict[int, list[int]]) -> int:
        """Return what an open section's sunk start is worth at the next need, for comparing labels."""
        worth = 0
        for each in state:
            coming = next_need[each.method][index + 1]
            if each.start == MATURE and coming >= 0:
                reach = self.reaches[each.method]
                worth += reach.offer.at_start(reach.spans[coming].from_um)
        return worth

    def _imitates(
        self,
        rival: State,
        mine: Label,
        state: State,
        label: Label,
        index: int,
        next_need: dict[int, list[int]],
    ) -> bool:
        spare = label.cost - mine.cost
        others = {each.method: each for each in state}
        for each in rival:
            if others.pop(each.method, None) != each:
                return False
        for method, each in others.items():
            if each.start == MATURE:
                spare -= self.reaches[method].reopened(next_need[method][index + 1])
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
                chosen.append(self._chosen(event.method, begun.pop(event.method), event.place))
        return sorted(chosen, key=lambda one: (one.from_um, one.to_um, one.method))

    def _chosen(self, method: int, start: int, end_um: int) -> Chosen:
        reach = self.reaches[method]
        span = reach.spans[start]
        priced = reach.offer.cheapest(span.from_um, end_um, span.zone)
        return Chosen(reach.offer.method, priced.from_um, priced.to_um, priced.price)


def _follow(label: Label, cost: int, events: tuple[Event, ...]) -> Label:
    """Return the label after a step; a step without events is not worth a link of its own."""
    return Label(cost, label, events) if events else Label(cost, label.before, label.events)
