"""A quantity as a plain document: amount, range, formula, and how its price comes about."""

from decimal import Decimal
from typing import Any, Final

from scoring.scope.rate_book import CUBIC_YARD_M3, SQUARE_YARD_M2
from scoring.scope.types import SCENARIOS, Kind, Measure, Quantity, Rate, Span
from scoring.units import FOOT_M, INCH_MM, Units, plain

_ONE: Final = Decimal(1)
_STEP: Final = Decimal("0.001")
_PRICE_STEP: Final = Decimal("0.0001")
# kind: (SI unit, US unit, how much SI one US unit is)
_UNITS: Final[dict[Kind, tuple[str, str, Decimal]]] = {
    "length": ("m", "ft", FOOT_M),
    "size": ("mm", "in", INCH_MM),
    "area": ("m2", "sy", SQUARE_YARD_M2),
    "section": ("m2", "sf", FOOT_M**2),
    "face": ("m2", "sf", FOOT_M**2),
    "volume": ("m3", "cy", CUBIC_YARD_M3),
    "each": ("each", "each", _ONE),
    "days": ("days", "days", _ONE),
    "loads": ("loads", "loads", _ONE),
    "percent": ("%", "%", _ONE),
}
_PER_YARD: Final[dict[Kind, str]] = {"volume": " ÷ 27", "area": " ÷ 9"}


def amount_in(value: Decimal, kind: Kind, units: Units) -> Decimal:
    """Return an SI amount in the units of a document, to three decimals."""
    return plain(value / _UNITS[kind][2] if units == "us" else value, _STEP)


def quantity_document(quantity: Quantity, currency: str, units: Units) -> dict[str, Any]:
    """Return a quantity; one without a price of its own is derived and names the item that pays for it."""
    kind = quantity.kind
    found: dict[str, Any] = {
        "item": quantity.item,
        "quantity": amount_in(quantity.amount, kind, units),
        "unit": _unit(kind, units),
        "formula": _formula(quantity, units),
        "is_derived": quantity.priced_in is not None,
        "priced_in": quantity.priced_in,
        "rate_item": quantity.rate_item,
        "rates": [_rate(rate, kind, units) for rate in quantity.rates],
        "cost_formula": _cost_formula(quantity, currency, units),
        "cost": quantity.amount_due,
        "cost_range": None if quantity.due is None else {"low": quantity.due.low, "high": quantity.due.high},
    }
    if quantity.range is not None:
        found["range"] = {
            "low": amount_in(quantity.range[0], kind, units),
            "high": amount_in(quantity.range[1], kind, units),
        }
    return found


def _rate(rate: Rate, kind: Kind, units: Units) -> dict[str, Any]:
    extra = rate.surcharge
    return {
        "quantity": amount_in(rate.amount, kind, units),
        "unit_price": _prices(rate.unit_price, kind, units),
        "surcharge": None if extra is None else {"surface": extra[0], **_prices(extra[1], kind, units)},
    }


def _prices(prices: Span, kind: Kind, units: Units) -> dict[str, Decimal]:
    return {scenario: _price(prices.pick(scenario), kind, units) for scenario in SCENARIOS}


def _price(price: Decimal, kind: Kind, units: Units) -> Decimal:
    """Return a price per unit as the document counts: a price per m becomes one per ft."""
    return plain(price * _UNITS[kind][2] if units == "us" else price, _PRICE_STEP)


def _cost_formula(quantity: Quantity, currency: str, units: Units) -> str | None:
    """Return how the likely price comes about, with the unit prices and surcharges in it."""
    if quantity.priced_in is not None or not quantity.rates:
        return None
    unit, kind = _unit(quantity.kind, units), quantity.kind
    said = []
    for rate in quantity.rates:
        price = _price(rate.unit_price.likely, kind, units)
        words = f"{price}"
        if rate.surcharge is not None:
            extra = _price(rate.surcharge[1].likely, kind, units)
            words = f"({plain(price - extra, _PRICE_STEP)} + {extra} {rate.surcharge[0].replace('_', ' ')})"
        said.append(f"{amount_in(rate.amount, kind, units)} {unit} × {words}")
    return f"{' + '.join(said)} {currency}"


def _formula(quantity: Quantity, units: Units) -> str:
    words = quantity.formula.format(*(_measure(measure, units) for measure in quantity.measures))
    in_feet = any(measure.kind in ("length", "section") for measure in quantity.measures)
    if units == "us" and in_feet and quantity.kind in _PER_YARD:
        head, minus, tail = words.partition(" − pipe")
        return f"{head}{_PER_YARD[quantity.kind]}{minus}{tail}"
    return words


def _measure(measure: Measure, units: Units) -> str:
    return f"{amount_in(measure.value, measure.kind, units)} {_unit(measure.kind, units)}"


def _unit(kind: Kind, units: Units) -> str:
    si, us, _ = _UNITS[kind]
    return us if units == "us" else si
