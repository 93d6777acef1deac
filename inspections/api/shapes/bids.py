"""Bids as they are entered: what the contractor wrote, line by line."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, Final

from inspections import vocabulary as words
from inspections.api.fields import Day, ListOf, Number, OneOf, Shape, Text, Whole
from inspections.errors import Fault
from scoring.bids import LUMP_SUM

_MOST_MONEY: Final = "1000000000"
_CENTS, _PRICES = 2, 4  # decimals of sums of money and of unit prices


class BidLineShape(Shape):
    """One line. With a unit price: so many units of an item. Without: a lump sum, its price the extension."""

    section = Whole(least="1", most="1000", help_text="Section of the plan, the first is 1; null: all of them.")
    item = Text(longest=100, help_text="Item as the plan names it, or the bidder's own; null: the whole section.")
    quantity = Number(least="0", most="1000000")
    unit = OneOf(words.BID_UNITS)
    unit_price = Number(least="0", most=_MOST_MONEY, help_text="At most four decimals. Governs over the extension.")
    extension = Number(
        least=f"-{_MOST_MONEY}",
        most=_MOST_MONEY,
        help_text="As written, right or wrong. Without a unit price: the lump sum; below 0: a credit.",
    )
    note = Text(longest=2000)

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        yield from _too_fine(values, unit_price=_PRICES, extension=_CENTS)
        price, extension = values.get("unit_price"), values.get("extension")
        if price is not None:
            yield from _unit_price_faults(values)
        elif "unit_price" in values and "extension" in values and extension is None:
            detail = "Send unit_price or extension; leave out a line that the bidder left blank."
            yield Fault(("extension",), "price_missing", detail)


def _unit_price_faults(values: Mapping[str, Any]) -> Iterator[Fault]:
    for name in ("item", "quantity"):
        if name in values and values[name] is None:
            yield Fault((name,), "required", f"A unit price needs its {name}; a lump sum goes into extension alone.")
    if "unit" in values and values["unit"] in (None, LUMP_SUM):
        detail = "A unit price needs the unit it is for, such as ft or cy; a lump sum goes into extension alone."
        yield Fault(("unit",), "required" if values["unit"] is None else "unit_is_lump_sum", detail)
    if (values.get("extension") or 0) < 0:
        yield Fault(
            ("extension",), "too_small", "Only a lump sum may be a credit; with a unit price this is 0 or more."
        )


def _too_fine(values: Mapping[str, Any], **most: int) -> Iterator[Fault]:
    for name, decimals in most.items():
        value = values.get(name)
        if isinstance(value, Decimal) and value != round(value, decimals):
            yield Fault((name,), "too_fine", f"At most {decimals} decimals; this is {value}.")


class BidShape(Shape):
    """A contractor's bid on one plan of a repair scope."""

    external_ref = Text(longest=200)
    plan = OneOf(words.PLAN_NAMES, required=True)
    bidder = Text(longest=200, required=True, help_text="The firm that bids.")
    received_on = Day(required=True)
    valid_until = Day(help_text="The last day on which it can be accepted.")
    currency = Text(longest=3, required=True, help_text="As in the scope, for example USD.")
    lines = ListOf(child=BidLineShape(), least=1, most=500)
    total = Number(least="0", most=_MOST_MONEY, help_text="As written under the lines, right or wrong.")
    exclusions = ListOf(child=Text(longest=500, required=True), most=50, help_text="In the bidder's words.")
    duration_days = Number(least="0", most="10000")
    note = Text(longest=2000)

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        yield from _too_fine(values, total=_CENTS)
        received, until = values.get("received_on"), values.get("valid_until")
        if received and until and until < received:  # days of one form sort as text
            detail = f"It was received on {received}; a bid is valid until that day or a later one."
            yield Fault(("valid_until",), "before_received", detail)


class Withdrawal(Shape):
    """Why a bid is taken back."""

    reason = Text(longest=2000, required=True)
