"""What bidders are asked to price: the lines of one plan, read from the documents of its scope."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from scoring.bids.prices import unit_price
from scoring.bids.types import Asked, AskedPlan, AskedSection
from scoring.scope.rate_book import RateBook
from scoring.scope.types import Span
from scoring.units import Units

Document = Mapping[str, Any]


def read_plan(scope_us: Document, scope_si: Document, name: str, book: RateBook) -> AskedPlan:
    """Return a plan of a scope, which stands in both systems of units. Raises KeyError for a name it has not."""
    us, si = _plan(scope_us, name), _plan(scope_si, name)
    return AskedPlan(
        name=name,
        currency=scope_si["currency"],
        total=_span(si["total"]),
        sections=tuple(
            _section(number, *pair, book)
            for number, pair in enumerate(zip(us["sections"], si["sections"], strict=True), start=1)
        ),
    )


def _plan(scope: Document, name: str) -> Document:
    for plan in scope["plans"]:
        if plan["name"] == name:
            found: Document = plan
            return found
    raise KeyError(name)


def _section(number: int, us: Document, si: Document, book: RateBook) -> AskedSection:
    lines = zip(us["quantities"], si["quantities"], strict=True)
    return AskedSection(
        number=number,
        method=si["method"],
        cures=(*si["cures"], *si.get("cures_in_part", ())),
        ends_m=(Decimal(si["from"]), Decimal(si["to"])),
        cost=_span(si["cost"]),
        lines=tuple(_line(number, si["method"], {"us": in_us, "si": in_si}, book) for in_us, in_si in lines),
        zones=tuple(Decimal(zone["cost"]["likely"]) for zone in si.get("zones", ())),
    )


def _line(section: int, method: str, line: Mapping[Units, Document], book: RateBook) -> Asked:
    item, cost = line["si"]["item"], line["si"]["cost"]
    amounts: dict[Units, tuple[Decimal, str]] = {
        units: (Decimal(one["quantity"]), one["unit"]) for units, one in line.items()
    }
    if cost is None:
        return Asked(section, item, amounts, None, None)
    prices = {
        units: unit_price(book, method, item, quantity, unit, Decimal(cost))
        for units, (quantity, unit) in amounts.items()
    }
    known: dict[Units, Span] = {units: price for units, price in prices.items() if price is not None}
    return Asked(section, item, amounts, Decimal(cost), known or None)


def _span(document: Document) -> Span:
    return Span(*(Decimal(document[name]) for name in ("low", "likely", "high")))


def section_of(plan: AskedPlan, number: int) -> AskedSection | None:
    """Return a section by its number, counted from 1."""
    return plan.sections[number - 1] if 1 <= number <= len(plan.sections) else None


def priced(lines: Sequence[Asked]) -> tuple[Asked, ...]:
    """Return the lines that a complete bid prices."""
    return tuple(line for line in lines if line.cost is not None)
