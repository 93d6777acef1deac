"""One method over all needs: where it works each, what a section from one to another costs, what comes next."""

from collections.abc import Sequence
from typing import Final

from scoring.scope.offer import Offer, Priced, Stretch

MATURE: Final = -1  # an open section that is longer than its method's minimum


class Reach:
    """The needs (from, to, methods that cure) that one offer serves, by number."""

    def __init__(self, offer: Offer, needs: Sequence[tuple[int, int, tuple[str, ...]]]) -> None:
        self.offer = offer
        self.spans: dict[int, Stretch] = {}
        for index, (from_um, to_um, cures) in enumerate(needs):
            if offer.method in cures:
                span = offer.stretch(from_um, to_um)
                if span is not None:
                    self.spans[index] = span
        # What a section has cost at its start, once it will be longer than the minimum.
        self.begun = {index: offer.set_up - offer.at_start(span.from_um) for index, span in self.spans.items()}
        self.may_stay: set[int] = set()  # a section may go on past this need to another
        self.is_long: set[int] = set()  # reaches further than a later need in the same zone
        self._look_ahead()
        self.next_start: list[int] = []  # cost up to the start of the next need, had a section just begun
        self.next_begun: list[int] = []  # at most what beginning there anew is worth against being open
        self.next_reached: list[int] = []  # cost up to where the next need begins
        self._prices: dict[tuple[int, int], int] = {}
        self._end_costs: dict[int, int] = {}
        self._look_past(len(needs))

    def _look_ahead(self) -> None:
        later, least_end = -1, 0
        for index in sorted(self.spans, reverse=True):
            span = self.spans[index]
            same_zone = later >= 0 and self.spans[later].zone == span.zone
            if same_zone:
                self.may_stay.add(index)
                if span.to_um > least_end:
                    self.is_long.add(index)
            least_end = min(least_end, span.to_um) if same_zone else span.to_um
            later = index

    def _look_past(self, number: int) -> None:
        """Note, for each need, what the next need of this method would cost."""
        start = begun = reached = 0
        rows = []
        for index in range(number - 1, -1, -1):
            rows.append((start, begun, reached))
            if index in self.spans:
                span = self.spans[index]
                start = self.offer.at_start(span.from_um)
                begun = self.offer.set_up - self.offer.at_start(self._early(span))
                reached = self.offer.at_end(span.from_um)
        rows.reverse()
        self.next_start = [row[0] for row in rows]
        self.next_begun = [row[1] for row in rows]
        self.next_reached = [row[2] for row in rows]

    def _early(self, span: Stretch) -> int:
        """Return where a section of the minimum length that ends with a need would begin at the latest."""
        early = min(span.from_um, span.to_um - self.offer.minimum_um)
        return self.offer.begin_at_or_before(early, span.zone)

    def lift(self, mine: tuple[int, int] | None, other: tuple[int, int], index: int) -> int:
        """Return at most what a section costs more from here on than another of this method.

        Each is (start, hold); `mine` is None where no section is open and one begins at the next need.
        """
        start, hold = other
        if mine is None:
            begun = self.next_begun[index]
            if start == MATURE:
                return begun
            return min(0, begun - self.begun[start])
        own_start, own_hold = mine
        further = 0
        if own_hold > hold:
            ends = self.next_reached[index] if not hold else max(self.end_cost(hold), self.next_reached[index])
            further = max(0, self.end_cost(own_hold) - ends)
        if own_start == MATURE:
            return further + (0 if start == MATURE else -self.begun[start])
        if start == MATURE:
            return further + max(self.next_begun[index], self.begun[own_start])
        return further + max(0, self.begun[own_start] - self.begun[start])

    def pieces(self, among: Sequence[int]) -> dict[int, int]:
        """Return for each of these needs what serving it adds at least, beside the others of them."""
        found: dict[int, int] = {}
        end_um: int | None = None
        for index in among:
            span = self.spans.get(index)
            if span is not None:
                from_um = span.from_um if end_um is None else max(end_um, span.from_um)
                found[index] = max(0, self.end_cost(span.to_um) - self.end_cost(from_um))
                end_um = span.to_um if end_um is None else max(span.to_um, end_um)
        return found

    def is_short(self, start: int, end_um: int) -> bool:
        """Say whether a section from a need to an end is shorter than the method's minimum."""
        return end_um - self.spans[start].from_um < self.offer.minimum_um

    def end_cost(self, end_um: int) -> int:
        """Return the cost from the line's origin to an end."""
        if end_um not in self._end_costs:
            self._end_costs[end_um] = self.offer.at_end(end_um)
        return self._end_costs[end_um]

    def price(self, start: int, end_um: int) -> int:
        """Return the least price of a section from the need it began at to an end."""
        key = (start, end_um)
        if key not in self._prices:
            self._prices[key] = self.section(start, end_um).price
        return self._prices[key]

    def section(self, start: int, end_um: int) -> Priced:
        """Return the cheapest section from the need it began at to an end."""
        span = self.spans[start]
        return self.offer.cheapest(span.from_um, end_um, span.zone)
