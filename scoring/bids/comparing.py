"""All bids on one plan, lowest corrected total first."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from scoring.bids.holding import hold
from scoring.bids.types import AskedPlan, Bid, Comparison, HeldBid, LeftOut


def compare(plan: AskedPlan, bids: Sequence[Bid], *, on: date | None = None) -> Comparison:
    """Hold bids against the plan they were made for.

    `on`: the day on which one is to be accepted; a bid that is not there yet or not valid any more is left out.
    Bids of one total share a rank; the one received first stands first.
    """
    left_out = [(bid, _why_not(plan, bid, on)) for bid in bids]
    held = [hold(plan, bid) for bid, why in left_out if why is None]
    return Comparison(
        plan=plan,
        bids=_ranked(sorted(held, key=_order)),
        left_out=tuple(LeftOut(bid, *why) for bid, why in left_out if why is not None),
    )


def _why_not(plan: AskedPlan, bid: Bid, on: date | None) -> tuple[str, str] | None:
    if bid.currency != plan.currency:
        detail = f"The scope is priced in {plan.currency}, this bid in {bid.currency}: they are not compared."
        return "currency_differs", detail
    if on is not None and bid.received_on is not None and bid.received_on > on:
        return "not_received_yet", f"It was received on {bid.received_on}, after {on}."
    if on is not None and bid.valid_until is not None and bid.valid_until < on:
        return "not_valid_any_more", f"It was valid until {bid.valid_until}, before {on}; ask for it to be extended."
    return None


def _order(held: HeldBid) -> tuple[object, ...]:
    return held.total, held.bid.received_on or date.max, held.bid.id


def _ranked(held: Sequence[HeldBid]) -> tuple[HeldBid, ...]:
    totals = [one.total for one in held]
    return tuple(replace(one, rank=totals.index(one.total) + 1) for one in held)
