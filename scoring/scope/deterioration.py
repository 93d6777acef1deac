"""How condition is expected to go down over the years, from a published model of sewer mains."""

from decimal import Decimal
from typing import Final

STAY: Final = tuple(Decimal(p) for p in ("0.955", "0.972", "0.979", "0.988", "1"))
SOURCE: Final = "Roa, doctoral thesis, ch. 5 fig. 5.1: sewer mains of one Dutch city, step taken as one year"
CAUTION: Final = (
    "No forecast for this pipe and no saving: the model stems from sewer mains of one city, not from laterals, and"
    " knows no roots and no digging nearby. A failure while waiting can flood a house or open the ground."
)
WORST: Final = 5


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
    return tuple(Decimal(int(index + 1 == number)) for index in range(WORST))


def condition(years: int, start_class: int) -> dict[str, Decimal]:
    """Return the expected class and the share in the worst after some years from a class."""
    shares = after(years, in_class(start_class))
    return {
        "expected_class": mean_class(shares).quantize(Decimal("0.001")),
        "share_in_worst_class": shares[-1].quantize(Decimal("0.0001")),
    }
