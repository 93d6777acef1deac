"""Cost along the line as a rising curve in whole numbers, straight within each cell, with steps at single points."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import accumulate


class Curve:
    """A cumulative cost. Beyond its ends it goes on at the rate of its first and last cell."""

    def __init__(self, marks: Sequence[int], rates: Sequence[int], steps: Sequence[tuple[int, int]] = ()) -> None:
        self.marks = list(marks)
        self.rates = list(rates)
        self._sums = list(
            accumulate(
                (rate * (last - first) for rate, first, last in zip(rates, marks, marks[1:], strict=False)),
                initial=0,
            )
        )
        ordered = sorted(steps)
        self.steps = [position for position, _ in ordered]
        self._step_sums = list(accumulate((cost for _, cost in ordered), initial=0))

    def up_to(self, position: int) -> int:
        """Return the cost from the curve's origin to a position, steps left out."""
        index = min(max(bisect_right(self.marks, position) - 1, 0), len(self.rates) - 1)
        return self._sums[index] + self.rates[index] * (position - self.marks[index])

    def at_end(self, position: int) -> int:
        """Return the cost up to a section's end: a step exactly there belongs to the section."""
        return self.up_to(position) + self._step_sums[bisect_right(self.steps, position)]

    def at_start(self, position: int) -> int:
        """Return the cost up to a section's start: a step exactly there is still to come."""
        return self.up_to(position) + self._step_sums[bisect_left(self.steps, position)]

    def is_below(self, other: "Curve") -> bool:
        """Say whether every stretch costs no more here than on a curve with the same marks."""
        if self.marks != other.marks or (self.steps and self.steps != other.steps):
            return False
        mine, theirs = self._step_sums, other._step_sums
        each = all(mine[n + 1] - mine[n] <= theirs[n + 1] - theirs[n] for n in range(len(self.steps)))
        return each and all(rate <= more for rate, more in zip(self.rates, other.rates, strict=True))
