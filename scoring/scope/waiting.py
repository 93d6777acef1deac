"""What if we wait: expected condition over the years and what acting later is worth today."""

from decimal import Decimal
from typing import Final

from scoring.types import Policy

STAY: Final = tuple(Decimal(p) for p in ("0.955", "0.972", "0.979", "0.988", "1"))
SOURCE: Final = "Roa, doctoral thesis, ch. 5 fig. 5.1: sewer mains of one Dutch city, step taken as one year"
CAUTION: Final = (
    "The model stems from sewer mains of one city, not from laterals, and knows no roots and no digging nearby:"
    " an aid for the order of things, not a forecast for this pipe."
)


def after(years: int, start: tuple[Decimal, ...]) -> tuple[Decimal, ...]:
    """Return the shares of classes 1 (best) to 5 after some years: a class stays or falls by one each year."""
    shares = list(start)
    for _ in range(years):
        falling = [share * (1 - stay) for share, stay in zip(shares, STAY, strict=True)]
        shares = [
            share * stay + (falling[index - 1] if index else 0)
            for index, (share, stay) in enumerate(zip(shares, STAY, strict=True))
        ]
    return tuple(shares)


def mean_class(shares: tuple[Decimal, ...]) -> Decimal:
    """Return the expected class."""
    return sum((share * (index + 1) for index, share in enumerate(shares)), Decimal(0))


def in_class(number: int) -> tuple[Decimal, ...]:
    """Return the distribution of a pipe known to be in one class."""
    return tuple(Decimal(int(index + 1 == number)) for index in range(5))


def present_value(cost: Decimal, years: int, discount_percent: Decimal) -> Decimal:
    """Return what a cost some years from now is worth today."""
    return cost / (1 + discount_percent / 100) ** years


def waiting_document(cost: Decimal, worst_class: int, policy: Policy) -> dict[str, object]:
    """Return the alternative of waiting: condition by year and present value of acting now or later.

    `cost` is the likely total of the cheapest plan today; prices are taken as constant, so waiting looks cheap as
    long as nothing gets worse; what gets worse meanwhile is shown beside it.
    """
    horizon = policy.horizon_years
    years = sorted({year for year in (0, 1, 2, 5, 10, 15, 20, horizon) if year <= horizon})
    start = in_class(worst_class)
    return {
        "model": "Markov chain, one class worse at a time",
        "source": SOURCE,
        "caution": CAUTION,
        "starts_in_class": worst_class,
        "expected": [_year(year, start) for year in years],
        "present_value": [
            {
                "act_in_years": year,
                "cost": present_value(cost, year, policy.discount_percent).quantize(Decimal("0.01")),
            }
            for year in years
        ],
        "discount_percent": policy.discount_percent,
        "assumptions": [
            "Prices stay as they are (house rule).",
            "Class 1 to 5 as steps from the best grade of the scheme (house rule).",
            "A failure meanwhile costs more than a planned repair; that is not in these figures.",
        ],
    }


def _year(year: int, start: tuple[Decimal, ...]) -> dict[str, object]:
    shares = after(year, start)
    return {
        "year": year,
        "expected_class": mean_class(shares).quantize(Decimal("0.001")),
        "share_in_worst_class": shares[4].quantize(Decimal("0.0001")),
    }
