"""One method over all needs: where it works each, what a section from one to another costs, what comes next."""

from collections.abc import Sequence

from scoring.scope.offer import Offer, Priced, Stretch


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
        self.next_start: list[int] = []
        self.next_begun: list[int] = []
        self._look_past(len(needs))
        self._prices: dict[tuple[int, int], int] = {}
        self._end_costs: dict[int, int] = {}

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
        """Note, for each need, what beginning at the next need of this method would cost."""
        start, begun = 0, 0
        starts, beginnings = [], []
        for index in range(number - 1, -1, -1):
            starts.append(start)
            beginnings.append(begun)
            if index in self.spans:
                span = self.spans[index]
                start = self.offer.at_start(span.from_um)
                early = min(span.from_um, span.to_um - self.offer.minimum_um)
                begun = self.offer.set_up - self.offer.at_start(early)
        self.next_start = starts[::-1]
        self.next_begun = beginnings[::-1]

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
