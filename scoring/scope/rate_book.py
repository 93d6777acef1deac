"""Unit prices. A document in ft, cy, sy or m, m3, m2 becomes prices per SI unit, each low, likely, high."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, cast

from scoring.checks.spoil import MOST_SWELL_PERCENT
from scoring.scope.faults import DocumentInvalid, Reader
from scoring.scope.methods import CURING, SURFACES
from scoring.scope.types import Span
from scoring.units import FOOT_M, INCH_MM, Units

CUBIC_YARD_M3: Final = (3 * FOOT_M) ** 3
SQUARE_YARD_M2: Final = (3 * FOOT_M) ** 2
NOTHING: Final = Span(Decimal(0), Decimal(0), Decimal(0))
PRICED_METHODS: Final = tuple(method.name for method in CURING)
FREE_KINDS: Final = ("excavation", "bedding", "backfill", "spoil_haul")


class RateBookInvalid(DocumentInvalid):
    """The rate book has faults; correct every one listed and load it again."""

    code = "rate_book_invalid"


@dataclass(frozen=True, slots=True)
class LengthRate:
    """A price per metre for pipe up to a size and a depth. Rows are tried in order of size, then depth."""

    diameter_up_to_mm: Decimal
    depth_up_to_m: Decimal
    price: Span


@dataclass(frozen=True, slots=True)
class MethodRates:
    """What one method costs beside its digging: once per plan, per section, per metre."""

    once: Span
    set_up: Span
    per_length: tuple[LengthRate, ...]
    surface_extra: dict[str, Span]  # per metre under that surface
    minimum_length_m: Decimal
    output_m_per_day: Decimal
    set_up_days: Decimal


@dataclass(frozen=True, slots=True)
class Trench:
    """How the ground is opened: the contractor's habits, not a rule of safety."""

    protection: str  # "shored" or "sloped"
    minimum_width_m: Decimal
    bedding_m: Decimal
    cover_m: Decimal  # embedment over the crown
    cut_back_m: Decimal
    pit_length_m: Decimal
    pit_width_m: Decimal
    truck_volume_m3: Decimal
    swell_percent: Decimal
    source: str


@dataclass(frozen=True, slots=True)
class DepthRate:
    """A price each for work down to a depth."""

    depth_up_to_m: Decimal
    price: Span


@dataclass(frozen=True, slots=True)
class RateBook:
    """All prices of one firm or programme, in SI units."""

    id: str
    version: str
    currency: str
    units: Units
    source: str
    methods: dict[str, MethodRates]
    earthworks: dict[str, Span]  # per m3: excavation, bedding, backfill, spoil_haul (loose)
    shoring: Span  # per m2 of trench wall held
    restoration: dict[str, Span]  # per m2 by surface
    pits: tuple[DepthRate, ...]
    clean_out: Span
    connection: Span
    permit: Span
    traffic_day: Span
    trench: Trench


def load_rate_book(document: object) -> RateBook:
    """Read a rate book. Raises `RateBookInvalid` with all faults, each with its path and a code."""
    reader = Reader()
    book = _Rates(reader, document).book()
    if reader.faults:
        raise RateBookInvalid(reader.faults)
    return book


class _Rates:
    def __init__(self, reader: Reader, document: object) -> None:
        self.reader = reader
        required = ("id", "version", "currency", "units", "source", "methods", "items", "trench")
        self.document = reader.mapping(document, "", required)
        units = reader.choice(self.document.get("units", "us"), "/units", ("us", "si"))
        self.is_us = units == "us"
        self.units = cast(Units, units)

    def book(self) -> RateBook:
        read = self.reader
        items = self._items()
        return RateBook(
            id=read.text(self.document.get("id"), "/id"),
            version=read.text(self.document.get("version"), "/version"),
            currency=read.text(self.document.get("currency"), "/currency"),
            units=self.units,
            source=read.text(self.document.get("source"), "/source"),
            methods=self._methods(),
            earthworks={kind: self._price(items.get(kind), f"/items/{kind}", self._m3) for kind in FREE_KINDS},
            shoring=self._price(items.get("shoring"), "/items/shoring", self._square_ft),
            restoration=self._restoration(items.get("restoration")),
            pits=self._pits(items.get("pits")),
            clean_out=self._price(items.get("clean_out"), "/items/clean_out"),
            connection=self._price(items.get("connection"), "/items/connection"),
            permit=self._price(items.get("permit"), "/items/permit"),
            traffic_day=self._price(items.get("traffic_day"), "/items/traffic_day"),
            trench=self._trench(),
        )

    def _items(self) -> dict[str, object]:
        names = (*FREE_KINDS, "shoring", "restoration", "pits", "clean_out", "connection", "permit", "traffic_day")
        return self.reader.mapping(self.document.get("items"), "/items", names)

    def _length(self, value: object, path: str, least: str = "0") -> Decimal:
        number = self.reader.number(value, path, least)
        return number * FOOT_M if self.is_us else number

    def _size(self, value: object, path: str) -> Decimal:
        number = self.reader.number(value, path)
        return number * INCH_MM if self.is_us else number

    def _m(self, price: Decimal) -> Decimal:
        return price / FOOT_M if self.is_us else price

    def _m2(self, price: Decimal) -> Decimal:
        return price / SQUARE_YARD_M2 if self.is_us else price

    def _square_ft(self, price: Decimal) -> Decimal:
        return price / FOOT_M**2 if self.is_us else price

    def _m3(self, price: Decimal) -> Decimal:
        return price / CUBIC_YARD_M3 if self.is_us else price

    def _price(self, value: object, path: str, per: Callable[[Decimal], Decimal] = lambda price: price) -> Span:
        given = self.reader.mapping(value, path, ("low", "likely", "high"))
        low, likely, high = (
            self.reader.number(given.get(name, 0), f"{path}/{name}") for name in ("low", "likely", "high")
        )
        if not low <= likely <= high:
            self.reader.fault(path, "not_a_range", "Give low, likely and high in rising order.")
        return Span(per(low), per(likely), per(high))

    def _methods(self) -> dict[str, MethodRates]:
        given = self.reader.mapping(self.document.get("methods"), "/methods", PRICED_METHODS)
        return {name: self._method(given.get(name), f"/methods/{name}") for name in PRICED_METHODS}

    def _method(self, value: object, path: str) -> MethodRates:
        required = ("once", "set_up", "per_length", "minimum_length", "output_per_day", "set_up_days")
        given = self.reader.mapping(value, path, required, ("surface_extra",))
        extra = self.reader.mapping(given.get("surface_extra", {}), f"{path}/surface_extra", (), SURFACES)
        return MethodRates(
            once=self._price(given.get("once"), f"{path}/once"),
            set_up=self._price(given.get("set_up"), f"{path}/set_up"),
            per_length=self._length_rates(given.get("per_length"), f"{path}/per_length"),
            surface_extra={
                kind: self._price(extra[kind], f"{path}/surface_extra/{kind}", self._m)
                for kind in SURFACES
                if kind in extra
            },
            minimum_length_m=self._length(given.get("minimum_length"), f"{path}/minimum_length"),
            output_m_per_day=self._length(given.get("output_per_day"), f"{path}/output_per_day", "0.01"),
            set_up_days=self.reader.number(given.get("set_up_days"), f"{path}/set_up_days"),
        )

    def _length_rates(self, value: object, path: str) -> tuple[LengthRate, ...]:
        rates = []
        for place, row in self.reader.rows(value, path):
            given = self.reader.mapping(row, place, ("diameter_up_to", "depth_up_to", "price"))
            diameter_mm = self._size(given.get("diameter_up_to"), f"{place}/diameter_up_to")
            depth_m = self._length(given.get("depth_up_to"), f"{place}/depth_up_to")
            price = self._price(given.get("price"), f"{place}/price", self._m)
            rates.append(LengthRate(diameter_mm, depth_m, price))
        if not rates:
            self.reader.fault(path, "required", "Give at least one price per length.")
        return tuple(sorted(rates, key=lambda rate: (rate.diameter_up_to_mm, rate.depth_up_to_m)))

    def _restoration(self, value: object) -> dict[str, Span]:
        given = self.reader.mapping(value, "/items/restoration", SURFACES)
        return {kind: self._price(given.get(kind), f"/items/restoration/{kind}", self._m2) for kind in SURFACES}

    def _pits(self, value: object) -> tuple[DepthRate, ...]:
        pits = []
        for place, row in self.reader.rows(value, "/items/pits"):
            given = self.reader.mapping(row, place, ("depth_up_to", "price"))
            depth_m = self._length(given.get("depth_up_to"), f"{place}/depth_up_to")
            pits.append(DepthRate(depth_m, self._price(given.get("price"), f"{place}/price")))
        if not pits:
            self.reader.fault("/items/pits", "required", "Give at least one price for a pit.")
        return tuple(sorted(pits, key=lambda pit: pit.depth_up_to_m))

    def _trench(self) -> Trench:
        lengths = ("minimum_width", "cut_back", "pit_length", "pit_width")
        names = ("protection", *lengths, "bedding", "cover", "truck_volume", "swell_percent", "source")
        given = self.reader.mapping(self.document.get("trench"), "/trench", names)
        width, cut_back, pit_length, pit_width = (self._length(given.get(name), f"/trench/{name}") for name in lengths)
        truck = self.reader.number(given.get("truck_volume"), "/trench/truck_volume", "0.1", "1000")
        return Trench(
            protection=self.reader.choice(given.get("protection"), "/trench/protection", ("shored", "sloped")),
            minimum_width_m=width,
            bedding_m=self._size(given.get("bedding"), "/trench/bedding") / 1000,
            cover_m=self._size(given.get("cover"), "/trench/cover") / 1000,
            cut_back_m=cut_back,
            pit_length_m=pit_length,
            pit_width_m=pit_width,
            truck_volume_m3=truck * CUBIC_YARD_M3 if self.is_us else truck,
            swell_percent=self.reader.number(
                given.get("swell_percent"), "/trench/swell_percent", "0", str(MOST_SWELL_PERCENT)
            ),
            source=self.reader.text(given.get("source"), "/trench/source"),
        )
