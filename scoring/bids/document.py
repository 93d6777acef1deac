"""A comparison of bids as a plain document: what was written and what counts, side by side."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from scoring.bids.arithmetic import SOURCE, corrected
from scoring.bids.asking import priced
from scoring.bids.types import Asked, Bid, BidLine, Comparison, HeldBid, HeldLine, Remark, Shared
from scoring.scope.types import Span
from scoring.units import Units

RULES: Final = "bids/1"
CAUTIONS: Final = (
    "The lowest price is not yet the best bid: read exclusions, check licence, insurance and references.",
    "Ranges come from the rate book of the scope; a price outside them is a question to the bidder, no fault.",
)


def corrected_document(bid: Bid) -> dict[str, Any]:
    """Return the arithmetic of one bid, as it stands beside what was written."""
    done = corrected(bid)
    return {
        "lines": [{"line": line.number, "extension": line.extension} for line in done.lines],
        "total": done.total,
        "remarks": _remarks([remark for line in done.lines for remark in line.remarks] + list(done.remarks)),
        "source": SOURCE,
    }


def comparison_document(found: Comparison, units: Units) -> dict[str, Any]:
    """Return the whole comparison; quantities of the plan in `units`, those of bids in the unit that was written."""
    lowest, complete = found.lowest, found.lowest_complete
    return {
        "plan": found.plan.name,
        "currency": found.plan.currency,
        "estimate": _span(found.plan.total),
        "lines": [_asked_row(found, line, units) for line in priced(found.plan.lines)],
        "bids": [_held(held, found.plan.total, units) for held in found.bids],
        "left_out": [
            {"bid": one.bid.id, "bidder": one.bid.bidder, "code": one.code, "detail": one.detail}
            for one in found.left_out
        ],
        "ranking": [_rank(held) for held in found.bids],
        "lowest": lowest and lowest.bid.id,
        "lowest_complete": complete and complete.bid.id,
        "cautions": list(CAUTIONS),
        "source": SOURCE,
        "rules": RULES,
    }


def shared_document(shared: Shared) -> dict[str, Any]:
    """Return who pays the lowest complete bid."""
    return {
        "bid": shared.bid.id,
        "bidder": shared.bid.bidder,
        "total": shared.total,
        "payers": [
            {"payer": one.payer, "amount": one.amount, "rule": one.rule, "source": one.source} for one in shared.paid
        ],
        "not_shared": shared.not_shared,
        "notes": list(shared.notes),
    }


def _rank(held: HeldBid) -> dict[str, Any]:
    return {
        "rank": held.rank,
        "bid": held.bid.id,
        "bidder": held.bid.bidder,
        "total": held.total,
        "is_complete": held.is_complete,
    }


def _asked(line: Asked, units: Units) -> dict[str, Any]:
    quantity, unit = line.amounts[units]
    return {"section": line.section, "item": line.item, "quantity": quantity, "unit": unit, "cost": line.cost}


def _asked_row(found: Comparison, line: Asked, units: Units) -> dict[str, Any]:
    price = None if line.prices is None else line.prices[units]
    offers = [_offer(held, one) for held in found.bids for one in held.lines if line in one.covers]
    return {**_asked(line, units), "unit_price": None if price is None else _span(price), "offers": offers}


def _offer(held: HeldBid, line: HeldLine) -> dict[str, Any]:
    """Return one cell of the table; `shared_by` says how many lines of the plan the amount is for."""
    return {
        "bid": held.bid.id,
        "line": line.written.number,
        "quantity": line.written.quantity,
        "unit": line.written.unit,
        "unit_price": line.written.unit_price,
        "amount": line.extension,
        "shared_by": len(line.covers),
    }


def _held(held: HeldBid, estimate: Span, units: Units) -> dict[str, Any]:
    bid = held.bid
    remarks = [*held.remarks, *(remark for line in held.lines for remark in line.remarks)]
    return {
        "bid": bid.id,
        "bidder": bid.bidder,
        "rank": held.rank,
        "is_complete": held.is_complete,
        "total_written": bid.total,
        "total": held.total,
        "total_at_plan_quantities": held.at_asked_quantities,
        "against_estimate": held.total - estimate.likely,
        "lines": [_line(line, units) for line in held.lines],
        "missing": [_asked(line, units) for line in held.missing],
        "additions": [line.written.number for line in held.lines if not line.covers],
        "exclusions": list(bid.exclusions),
        "remarks": _remarks(remarks),
    }


def _line(line: HeldLine, units: Units) -> dict[str, Any]:
    return {
        "line": line.written.number,
        "section": line.written.section,
        "item": line.written.item,
        "written": _written(line.written),
        "extension": line.extension,
        "at_plan_quantity": line.at_asked_quantity,
        "plan": [_asked(one, units) for one in line.covers],
        "remarks": _remarks(line.remarks),
    }


def _written(line: BidLine) -> dict[str, Decimal | str | None]:
    names = ("quantity", "unit", "unit_price", "extension")
    return {name: getattr(line, name) for name in names}


def _remarks(remarks: Sequence[Remark]) -> list[dict[str, Any]]:
    return [{"code": one.code, "detail": one.detail, "line": one.line} for one in remarks]


def _span(span: Span) -> dict[str, Decimal]:
    return {"low": span.low, "likely": span.likely, "high": span.high}
