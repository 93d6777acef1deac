"""The exact prices of the bills as cents: rounded once for the whole plan, then shared out so that all adds up."""

from collections.abc import Sequence
from decimal import Decimal

from scoring.scope.bill import Bill
from scoring.scope.lines import Line
from scoring.scope.shares import Cents, apportioned_rising, span_of_cents
from scoring.scope.takeoff import CENT
from scoring.scope.types import SCENARIOS, Quantity, Rate


def section_cents(bills: Sequence[Bill]) -> list[Cents]:
    """Return each section's price in cents: the sum is rounded once and shared out by largest remainder."""
    exact = [{scenario: bill.price(scenario) for scenario in SCENARIOS} for bill in bills]
    totals = {scenario: (sum(each[scenario] for each in exact) + CENT // 2) // CENT for scenario in SCENARIOS}
    return apportioned_rising(totals, exact)


def quantities(bill: Bill, cents: Cents) -> tuple[Quantity, ...]:
    """Return the lines of a bill as quantities; `cents` is the price of the section they add up to."""
    exact = [{scenario: line.price(scenario) for scenario in SCENARIOS} for line in bill.lines]
    return tuple(_quantity(line, due) for line, due in zip(bill.lines, apportioned_rising(cents, exact), strict=True))


def _quantity(line: Line, cents: Cents) -> Quantity:
    low, likely, high = (line.amount(scenario) for scenario in SCENARIOS)
    due = span_of_cents(cents) if line.priced_in is None else None
    return Quantity(
        item=line.item,
        kind=line.kind,
        amount=likely,
        formula=line.formula,
        measures=line.measures,
        range=None if low == likely == high else (low, high),
        amount_due=None if due is None else due.likely,
        due=due,
        rates=_rates(line) if line.priced_in is None else (),
        rate_item=line.rate_item,
        priced_in=line.priced_in,
    )


def _rates(line: Line) -> tuple[Rate, ...]:
    """Return the likely quantity by unit price, in order along the line."""
    found: dict[tuple[object, str], Rate] = {}
    for piece in line.pieces:
        if piece.unit_price is None or not piece.amounts["likely"]:
            continue
        extra = None if piece.surcharge is None else (piece.surcharge.surface, piece.surcharge.price)
        key = (piece.unit_price, extra[0] if extra else "")
        held = found[key].amount if key in found else Decimal(0)
        found[key] = Rate(held + piece.amounts["likely"], piece.unit_price, extra)
    return tuple(found.values())
