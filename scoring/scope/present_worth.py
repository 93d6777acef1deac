"""What work some years from now, and again whenever it has worn out, is worth today."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from scoring.scope.types import SCENARIOS, Scenario, Section, Span

# The low case lasts long, the high case wears out early.
_LIFE = {"low": 2, "likely": 1, "high": 0}


def present_value(cost: Decimal, years: int, discount_percent: Decimal) -> Decimal:
    """Return what a cost some years from now is worth today."""
    return cost / (1 + discount_percent / 100) ** years


def years_of(first_year: int, life_years: int, horizon_years: int) -> Iterator[int]:
    """Yield the years in which work is done: first, and again at the end of each life within the horizon."""
    year = first_year
    while year < horizon_years or year == first_year:
        yield year
        year += max(1, life_years)


def worth(sections: Sequence[Section], first_year: int, horizon_years: int, discount_percent: Decimal) -> Span:
    """Return the present value of sections done in a year and renewed over the horizon, low with long lives."""
    return Span(*(_worth(sections, s, first_year, horizon_years, discount_percent) for s in SCENARIOS))


def _worth(
    sections: Sequence[Section], scenario: Scenario, first_year: int, horizon_years: int, discount_percent: Decimal
) -> Decimal:
    return sum(
        (
            present_value(section.cost.pick(scenario), year, discount_percent)
            for section in sections
            for year in years_of(first_year, section.life_years[_LIFE[scenario]], horizon_years)
        ),
        Decimal(0),
    )


def mixed(one: Span, other: Span, share_of_other: Decimal) -> Span:
    """Return the expected cost where the second comes about with a probability."""
    low, likely, high = (
        one.pick(scenario) * (1 - share_of_other) + other.pick(scenario) * share_of_other for scenario in SCENARIOS
    )
    return Span(low, likely, high)


def plus(one: Span, other: Span) -> Span:
    """Return the sum of two ranges."""
    return Span(one.low + other.low, one.likely + other.likely, one.high + other.high)
