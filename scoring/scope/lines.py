"""The lines of a bill: what each takes in the low, likely and high case, what it costs, and where it lies."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from scoring.scope.ground import UM
from scoring.scope.rows import UNIT, Surcharge
from scoring.scope.types import SCENARIOS, Kind, Measure, Scenario, Span

Amounts = dict[Scenario, Decimal]
Prices = dict[Scenario, int]


@dataclass(frozen=True, slots=True)
class Extra:
    """Something charged by the piece: set-up, pits, a clean-out, what is paid once per plan.

    `at_um` gives the place of each piece; None: it belongs to the work as a whole.
    """

    item: str
    number: int
    price: Span
    formula: str
    rate_item: str
    at_um: tuple[int, ...] | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a line at one place (None: nowhere in particular), at one unit price."""

    at_um: int | None
    amounts: Amounts
    prices: Prices
    unit_price: Span | None = None
    surcharge: Surcharge | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a bill, made of its pieces. A derived line has no price: `priced_in` names what pays for it."""

    item: str
    kind: Kind
    pieces: tuple[Piece, ...]
    formula: str
    measures: tuple[Measure, ...]
    rate_item: str | None = None
    priced_in: str | None = None

    def amount(self, scenario: Scenario) -> Decimal:
        """Return how much of the item there is."""
        return sum((piece.amounts[scenario] for piece in self.pieces), Decimal(0))

    def price(self, scenario: Scenario) -> int:
        """Return the exact price in whole numbers."""
        return sum(piece.prices[scenario] for piece in self.pieces)


def rising(prices: Prices) -> Prices:
    """Return prices of which none is below a lower case: the likely one stays, whatever order the rates have."""
    likely = prices["likely"]
    return {"low": min(prices["low"], likely), "likely": likely, "high": max(prices["high"], likely)}


def by_the_piece(extra: Extra) -> Line:
    """Return the line of something charged by the piece."""
    spots: Sequence[tuple[int | None, int]]
    spots = [(None, extra.number)] if extra.at_um is None else [(at, 1) for at in extra.at_um]
    pieces = tuple(
        Piece(
            at_um,
            {scenario: Decimal(number) for scenario in SCENARIOS},
            rising({scenario: number * int(extra.price.pick(scenario) * UNIT) for scenario in SCENARIOS}),
            extra.price,
        )
        for at_um, number in spots
    )
    return Line(extra.item, "each", pieces, extra.formula, (), extra.rate_item)


def derived(
    item: str, kind: Kind, amounts: Amounts, formula: str, measures: Sequence[Measure], priced_in: str
) -> Line:
    """Return a line that follows from others and is paid for by them."""
    free = dict.fromkeys(SCENARIOS, 0)
    return Line(item, kind, (Piece(None, amounts, free),), formula, tuple(measures), None, priced_in)


def metres(length_um: int) -> Decimal:
    """Return whole micrometres as metres."""
    return Decimal(length_um) / UM
