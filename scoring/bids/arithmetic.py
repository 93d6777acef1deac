"""The arithmetic of a bid done again: the unit price governs over the extension, the lines over the total.

Source: bid documents of public agencies, as Tukwila WA 2016: a unit price governs over a wrong extension.
"""

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from scoring.bids.types import Bid, BidLine, Corrected, CorrectedLine, Remark

SOURCE: Final = "a unit price governs over a wrong extension (Tukwila WA, bid documents 2016)"
CENT: Final = Decimal("0.01")


def to_cents(amount: Decimal) -> Decimal:
    """Return an amount in whole cents, halves upward."""
    return amount.quantize(CENT, ROUND_HALF_UP)


def corrected(bid: Bid) -> Corrected:
    """Return what a bid comes to, line by line and in sum."""
    lines = tuple(_line(line) for line in bid.lines)
    total = sum((line.extension for line in lines), Decimal(0)).quantize(CENT)
    return Corrected(lines, total, tuple(_total(bid, total)))


def _line(line: BidLine) -> CorrectedLine:
    if line.unit_price is None or line.quantity is None:
        return CorrectedLine(line.number, to_cents(line.extension or Decimal(0)), ())
    exact = line.quantity * line.unit_price
    written = line.extension
    if written is None:
        return CorrectedLine(line.number, to_cents(exact), ())
    if abs(written - exact) <= CENT / 2:  # rounded either way, it is right
        return CorrectedLine(line.number, written.quantize(CENT), ())
    due = to_cents(exact)
    detail = (
        f"{line.quantity} × {line.unit_price} is {due}; the extension says {written}. The unit price governs: "
        f"{due} counts, {signed(due - written)}."
    )
    return CorrectedLine(line.number, due, (Remark("extension_differs", detail, line.number),))


def _total(bid: Bid, total: Decimal) -> Iterable[Remark]:
    if bid.total is None or bid.total == total:
        return
    written = sum((line.extension or Decimal(0) for line in bid.lines), Decimal(0))
    adds_up = " The extensions as written do add up to it." if written == bid.total else ""
    detail = f"The total says {bid.total}, the lines come to {total}: {signed(total - bid.total)}.{adds_up}"
    yield Remark("total_differs", detail)


def signed(amount: Decimal) -> str:
    """Return an amount with its sign, in plain digits."""
    return f"{amount:+f}"
