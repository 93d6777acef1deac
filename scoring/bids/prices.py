"""Between which unit prices a line of a plan lies by the rate book its scope was priced with.

A line priced by one row of the book has that row's range. One that several rows may price (by size, depth or
surface) has its likely price times the least and the greatest ratio of low and high to likely among those rows:
whatever the mix of rows was, its range lies inside (the mediant inequality).
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Final

from scoring.bids.units import UNITS
from scoring.scope.rate_book import RateBook
from scoring.scope.types import Span
from scoring.units import plain

_EARTHWORKS: Final[Mapping[str, str]] = {
    "excavation": "excavation",
    "embedment": "bedding",
    "backfill": "backfill",
    "spoil_haul": "spoil_haul",
}
_CLEANING: Final = ("root_cutting_and_cleaning", "descaling")
_RESTORE: Final = "restore_"


def unit_price(book: RateBook, method: str, item: str, quantity: Decimal, unit: str, cost: Decimal) -> Span | None:
    """Return the range of one unit of a line, to four decimals; None where the book has no row for it."""
    rows = list(_rows(book, method, item))
    if not rows:
        return None
    if len(rows) == 1 or not quantity:
        size = UNITS[unit][1]
        return _rounded(rows[0].low * size, rows[0].likely * size, rows[0].high * size)
    likely = cost / quantity
    ratios = [(row.low / row.likely, row.high / row.likely) for row in rows if row.likely]
    low = min((ratio for ratio, _ in ratios), default=Decimal(1))
    high = max((ratio for _, ratio in ratios), default=Decimal(1))
    return _rounded(likely * low, likely, likely * high)


def _rounded(low: Decimal, likely: Decimal, high: Decimal) -> Span:
    return Span(plain(low), plain(likely), plain(high))


def _rows(book: RateBook, method: str, item: str) -> Iterable[Span]:
    """Return the prices of one SI unit that a line may have been made from."""
    once = {"permit": book.permit, "clean_out": book.clean_out, "connection": book.connection}
    rates = book.methods.get(method)
    if item in once:
        return [once[item]]
    if item in _EARTHWORKS:
        return [book.earthworks[_EARTHWORKS[item]]]
    if item.startswith(_RESTORE):
        return [price for price in [book.restoration.get(item.removeprefix(_RESTORE))] if price]
    if item == "shoring":
        return [book.shoring]
    if item == "traffic_control":
        return [book.traffic_day]
    if item == "pit":
        return _unlike(rate.price for rate in book.pits)
    if item == "clean_before_lining":
        return _unlike(rate.price for name in _CLEANING for rate in book.methods[name].per_length)
    if rates is None:
        return []
    if item == "mobilisation":
        return [rates.once]
    if item == "set_up":
        return [rates.set_up]
    return _along(book, method) if item == method else []


def _along(book: RateBook, method: str) -> list[Span]:
    rates = book.methods[method]
    plain_rows = [rate.price for rate in rates.per_length]
    with_extra = [
        Span(row.low + extra.low, row.likely + extra.likely, row.high + extra.high)
        for row in plain_rows
        for extra in rates.surface_extra.values()
    ]
    return _unlike([*plain_rows, *with_extra])


def _unlike(prices: Iterable[Span]) -> list[Span]:
    return list(dict.fromkeys(prices))
