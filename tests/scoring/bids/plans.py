"""A plan small enough to work by hand, and bids on it.

Section 1 is an open cut 20 ft long, 8 ft deep, shored, 2.5 ft wide, with a 6 in pipe: excavation 14.81 cy, bedding
0.617, embedment 2.352, backfill 12.303, by the geometry worked in tests/scoring/scope/test_earthworks.py. Prices are
the likely ones of the invented default rate book: mobilisation 900, excavation 35, embedment 55 (its bedding)
and backfill 22. Section 2 is cleaning: 200 to set up and 3.00 a foot.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from scoring.bids import Bid, BidLine, read_plan
from scoring.bids.types import AskedPlan
from scoring.scope import DEFAULT_RATE_BOOK, load_rate_book

BOOK = load_rate_book(DEFAULT_RATE_BOOK)
_CY = Decimal("0.764554857984")  # m3, (3 x 0.3048)^3

# item, quantity and unit in us, factor to SI, SI unit, likely cost
_DUG = [
    ("mobilisation", "1", "each", Decimal(1), "each", "900.00"),
    ("open_cut_replacement", "20", "ft", Decimal("0.3048"), "m", "1100.00"),
    ("excavation", "14.81", "cy", _CY, "m3", "518.35"),
    ("bedding", "0.617", "cy", _CY, "m3", None),
    ("embedment", "2.352", "cy", _CY, "m3", "129.36"),
    ("backfill", "12.303", "cy", _CY, "m3", "270.67"),
    ("days", "1.5", "days", Decimal(1), "days", None),
]
_CLEANED = [
    ("set_up", "1", "each", Decimal(1), "each", "200.00"),
    ("root_cutting_and_cleaning", "10", "ft", Decimal("0.3048"), "m", "30.00"),
]


def _lines(rows: list[Any], units: str) -> list[dict[str, Any]]:
    lines = []
    for item, quantity, unit, factor, si_unit, cost in rows:
        amount = Decimal(quantity) if units == "us" else (Decimal(quantity) * factor).quantize(Decimal("0.001"))
        cost = None if cost is None else Decimal(cost)
        lines.append({"item": item, "quantity": amount, "unit": unit if units == "us" else si_unit, "cost": cost})
    return lines


def _section(units: str, first: str, last: str, method: str, cures: list[str], rows: list[Any], cost: str) -> Any:
    to_unit = Decimal(1) if units == "us" else Decimal("0.3048")
    low, likely, high = (Decimal(one) for one in cost.split())
    return {
        "from": Decimal(first) * to_unit,
        "to": Decimal(last) * to_unit,
        "method": method,
        "cures": cures,
        "quantities": _lines(rows, units),
        "cost": {"low": low, "likely": likely, "high": high},
    }


def scope(units: str) -> dict[str, Any]:
    """Return the scope's document in one system of units."""
    sections = [
        _section(units, "20", "40", "open_cut_replacement", ["b"], _DUG, "2090.00 2918.38 4300.00"),
        _section(units, "0", "10", "root_cutting_and_cleaning", ["a"], _CLEANED, "170.00 230.00 350.00"),
    ]
    total = {"low": Decimal("2260.00"), "likely": Decimal("3148.38"), "high": Decimal("4650.00")}
    return {"currency": "USD", "plans": [{"name": "least_cost", "sections": sections, "total": total}]}


def plan() -> AskedPlan:
    """Return the plan that is bid on."""
    return read_plan(scope("us"), scope("si"), "least_cost", BOOK)


def line(section: int | None, item: str | None, *said: str | None) -> BidLine:
    """Return a line: quantity, unit, unit price, extension; the number is set by `bid`."""
    quantity, unit, price, extension = (*said, *[None] * (4 - len(said)))
    return BidLine(0, section, item, _exact(quantity), unit, _exact(price), _exact(extension))


def lump(section: int | None, item: str | None, amount: str) -> BidLine:
    """Return a lump sum."""
    return line(section, item, None, None, None, amount)


def _exact(value: str | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def bid(*lines: BidLine, id: str = "one", **more: Any) -> Bid:
    """Return a bid of these lines."""
    numbered = [
        BidLine(n, one.section, one.item, one.quantity, one.unit, one.unit_price, one.extension)
        for n, one in enumerate(lines, start=1)
    ]
    return Bid(**{"id": id, "bidder": f"Bidder {id}", "currency": "USD", "lines": tuple(numbered), **more})


def whole(**more: Any) -> Bid:
    """Return a complete bid at unit prices of the likely estimate: 3,148.39 (each line rounded by itself)."""
    return bid(
        line(1, "mobilisation", "1", "each", "900", "900.00"),
        line(1, "open_cut_replacement", "20", "ft", "55", "1100.00"),
        line(1, "excavation", "14.81", "cy", "35", "518.35"),
        line(1, "embedment", "2.352", "cy", "55", "129.36"),
        line(1, "backfill", "12.303", "cy", "22", "270.67"),
        line(2, "set_up", "1", "each", "200", "200.00"),
        line(2, "root_cutting_and_cleaning", "10", "ft", "3", "30.00"),
        **more,
    )
