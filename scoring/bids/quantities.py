"""Quantities and unit prices of a bid beside those of the plan, each in the unit that was written."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Final

from scoring.bids.arithmetic import signed, to_cents
from scoring.bids.types import Asked, BidLine, Remark
from scoring.bids.units import in_unit, is_metric
from scoring.scope.types import Span
from scoring.units import Units, plain

_FINEST: Final = 3  # quantities of a plan are given to three decimals
_STEP: Final = Decimal("0.001")


def quantity_remarks(line: BidLine, fellows: Sequence[BidLine], covers: Sequence[Asked]) -> Iterator[Remark]:
    """Yield how the quantity and the unit price of a line differ from the plan's."""
    assert line.unit is not None and line.unit_price is not None
    asked = asked_quantity(line.unit, covers)
    if asked is None:
        units = ", ".join(sorted({one.amounts[_system(line.unit)][1] for one in covers}))
        detail = f"The plan measures {line.item} in {units}, the bid in {line.unit}: the two cannot be held together."
        yield Remark("unit_differs", detail, line.number)
        return
    written = _written(line.unit, fellows)
    if written is not None and not is_same(written, asked, _decimals(fellows)):
        shown = plain(asked, _STEP)
        off = signed(plain(written - asked, _STEP))
        detail = f"The bid has {written} {line.unit}, the plan {shown} {line.unit} ({off} {line.unit})."
        yield Remark("quantity_differs", detail, line.number)
    price = price_range(line.unit, covers)
    if price is not None:
        yield from _price_remarks(line, price)


def _price_remarks(line: BidLine, price: Span) -> Iterator[Remark]:
    assert line.unit_price is not None
    span = f"the scope's range of {price.low} to {price.high} a unit ({line.unit})"
    if line.unit_price < price.low:
        yield Remark("unit_price_low", f"The unit price {line.unit_price} lies under {span}.", line.number)
    elif line.unit_price > price.high:
        yield Remark("unit_price_high", f"The unit price {line.unit_price} lies over {span}.", line.number)


def asked_quantity(unit: str, covers: Sequence[Asked]) -> Decimal | None:
    """Return the plan's quantity of some lines in a unit; None where they measure something else."""
    parts = [in_unit(*one.amounts[_system(unit)], unit) for one in covers]
    known = [part for part in parts if part is not None]
    return sum(known, Decimal(0)) if len(known) == len(parts) else None


def price_range(unit: str, covers: Sequence[Asked]) -> Span | None:
    """Return between which prices one unit lies, over all lines; None where the rate book has no row for one."""
    spans = [_price_in(unit, one) for one in covers]
    known = [span for span in spans if span is not None]
    if not known or len(known) < len(spans):
        return None
    likely = [span.likely for span in known]
    return Span(min(s.low for s in known), sum(likely, Decimal(0)) / len(likely), max(s.high for s in known))


def _price_in(unit: str, asked: Asked) -> Span | None:
    system = _system(unit)
    size = in_unit(Decimal(1), unit, asked.amounts[system][1])
    if asked.prices is None or size is None:
        return None
    price = asked.prices[system]
    return price if size == 1 else Span(plain(price.low * size), plain(price.likely * size), plain(price.high * size))


def at_quantity(line: BidLine, fellows: Sequence[BidLine], covers: Sequence[Asked], extension: Decimal) -> Decimal:
    """Return what a line would come to at the plan's quantity; lines for one thing share it as they were written."""
    assert line.unit is not None and line.unit_price is not None
    asked = asked_quantity(line.unit, covers)
    written = _written(line.unit, fellows)
    if asked is None or not written or line.quantity is None:
        return extension
    return to_cents(line.unit_price * line.quantity * asked / written)


def is_same(written: Decimal, asked: Decimal, decimals: int) -> bool:
    """Tell whether a quantity is the plan's, rounded to as many decimals as were written."""
    return abs(written - asked) <= Decimal(1).scaleb(-min(decimals, _FINEST)) / 2


def _written(unit: str, fellows: Sequence[BidLine]) -> Decimal | None:
    """Return the quantity of all lines for one thing, in the unit of one of them."""
    parts = [in_unit(one.quantity or Decimal(0), one.unit, unit) for one in fellows if one.unit is not None]
    known = [part for part in parts if part is not None]
    return sum(known, Decimal(0)) if len(known) == len(fellows) else None


def _decimals(fellows: Sequence[BidLine]) -> int:
    exponents = [one.quantity.as_tuple().exponent for one in fellows if one.quantity is not None]
    return max((-exponent for exponent in exponents if isinstance(exponent, int)), default=0)


def _system(unit: str) -> Units:
    """Return the system a unit belongs to; for one that stands in both (each, days) either will do."""
    return "si" if is_metric(unit) else "us"
