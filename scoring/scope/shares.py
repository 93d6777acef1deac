"""Whole cents split by weights so that the parts add up, and so that no part falls where the sum rises."""

from collections.abc import Sequence
from decimal import Decimal

from scoring.scope.types import SCENARIOS, Scenario, Span

Cents = dict[Scenario, int]


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


def apportioned_rising(totals: Cents, weights: Sequence[Cents]) -> list[Cents]:
    """Split low, likely and high so that each adds up and no part falls from one case to the next.

    What is added from one case to the next is split by what each part's weight adds. Totals and weights must rise.
    A part gets no more of a rise than its weight rises by, where the total does not either.
    """
    parts: list[Cents] = [{} for _ in weights]
    so_far, weights_so_far = 0, [0] * len(weights)
    for scenario in SCENARIOS:
        rises = [max(0, weight[scenario] - before) for weight, before in zip(weights, weights_so_far, strict=True)]
        added = apportioned(totals[scenario] - so_far, rises)
        for part, more in zip(parts, added, strict=True):
            part[scenario] = more + (0 if scenario == "low" else part["low" if scenario == "likely" else "likely"])
        so_far, weights_so_far = totals[scenario], [weight[scenario] for weight in weights]
    return parts


def no_cents() -> Cents:
    """Return nothing in every case."""
    return dict.fromkeys(SCENARIOS, 0)


def summed(many: Sequence[Cents]) -> Cents:
    """Return the sum in each case."""
    return {scenario: sum(each[scenario] for each in many) for scenario in SCENARIOS}


def less(cents: Cents, taken: Cents) -> Cents:
    """Return what is left in each case."""
    return {scenario: cents[scenario] - taken[scenario] for scenario in SCENARIOS}


def span_of_cents(cents: Cents) -> Span:
    """Return whole cents as a range of money with two decimals."""
    return Span(*(Decimal(cents[scenario]).scaleb(-2) for scenario in SCENARIOS))
