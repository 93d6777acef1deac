"""What one jurisdiction or programme demands: who owns what, who helps pay, what is allowed, notice, spacing."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from scoring.scope.cures import ALL_KINDS
from scoring.scope.faults import DocumentInvalid, Reader
from scoring.scope.methods import METHODS
from scoring.units import FOOT_M

ZONES: Final = ("inside", "private", "public")
CAUSES: Final = ("structural", "blockage")
_METHOD_NAMES: Final = tuple(method.name for method in METHODS)


class RuleSetInvalid(DocumentInvalid):
    """The rule set has faults; correct every one listed and load it again."""

    code = "rule_set_invalid"


@dataclass(frozen=True, slots=True)
class Ownership:
    """Who carries work in a zone for a cause. The first row that fits counts."""

    zones: tuple[str, ...]
    causes: tuple[str, ...]
    payer: str
    rule: str
    source: str


@dataclass(frozen=True, slots=True)
class Programme:
    """A payer that takes over part of what an owner carries."""

    id: str
    payer: str
    relieves: str
    zones: tuple[str, ...]
    causes: tuple[str, ...]
    methods: tuple[str, ...] | None
    excluded_kinds: tuple[str, ...]
    share_percent: Decimal
    deductible: Decimal
    cap: Decimal | None
    is_of_lowest_bid: bool
    once_per_years: int | None
    source: str


@dataclass(frozen=True, slots=True)
class RuleSet:
    """The rules of one place, versioned."""

    id: str
    version: str
    title: str
    source: str
    ownership: tuple[Ownership, ...]
    programmes: tuple[Programme, ...]
    allowed_methods: tuple[str, ...] | None
    clean_out_spacing_m: Decimal
    clean_out_source: str
    notice: str
    notice_source: str


DEFAULT_RULE_SET: Final[dict[str, Any]] = {
    "id": "alder-falls-rules",
    "version": "1",
    "title": "Town of Alder Falls, house drains",
    "source": "invented for the town of Alder Falls, after rules seen in public programmes",
    "units": "us",
    "ownership": [
        {
            "zones": ["public"],
            "causes": ["structural"],
            "payer": "sewer_authority",
            "rule": "The authority repairs structural failure between the property line and the main.",
            "source": "invented, after Independence MO",
        },
        {
            "zones": ["inside", "private", "public"],
            "causes": ["structural", "blockage"],
            "payer": "owner",
            "rule": "The owner keeps the drain up to and including its connection to the main.",
            "source": "invented, after most public programmes",
        },
    ],
    "programmes": [
        {
            "id": "alder-falls-lateral-help",
            "payer": "repair_programme",
            "relieves": "owner",
            "zones": ["private"],
            "causes": ["structural"],
            "methods": ["full_liner", "pipe_bursting", "open_cut_replacement", "spot_repair", "sectional_liner"],
            "excluded_kinds": ["roots"],
            "share_percent": 50,
            "deductible": 0,
            "cap": 2500,
            "of": "lowest_bid",
            "once_per_years": 5,
            "source": "invented, after 50 % up to a cap in several public programmes",
        }
    ],
    "allowed_methods": None,
    "clean_out_spacing": 100,
    "clean_out_source": "IPC 708",
    "notice": "Ask for the utilities to be marked 2 full business days before digging, at most 10 before.",
    "notice_source": "invented, after Nebraska 76-2321",
}


def load_rule_set(document: object) -> RuleSet:
    """Read a rule set. Raises `RuleSetInvalid` with all faults, each with its path and a code."""
    reader = Reader()
    rules = _read(reader, document)
    if reader.faults:
        raise RuleSetInvalid(reader.faults)
    return rules


def _read(read: Reader, document: object) -> RuleSet:
    names = ("id", "version", "title", "source", "ownership", "programmes", "clean_out_spacing")
    more = ("clean_out_source", "notice", "notice_source", "units")
    given = read.mapping(document, "", (*names, *more), ("allowed_methods",))
    is_us = read.choice(given.get("units", "us"), "/units", ("us", "si")) == "us"
    spacing = read.number(given.get("clean_out_spacing"), "/clean_out_spacing")
    texts = {name: read.text(given.get(name), f"/{name}") for name in (*names[:4], *more[:3])}
    return RuleSet(
        id=texts["id"],
        version=texts["version"],
        title=texts["title"],
        source=texts["source"],
        ownership=tuple(_ownership(read, row, at) for at, row in read.rows(given.get("ownership"), "/ownership")),
        programmes=tuple(_programme(read, row, at) for at, row in read.rows(given.get("programmes"), "/programmes")),
        allowed_methods=_names(read, given.get("allowed_methods"), "/allowed_methods", _METHOD_NAMES),
        clean_out_spacing_m=spacing * FOOT_M if is_us else spacing,
        clean_out_source=texts["clean_out_source"],
        notice=texts["notice"],
        notice_source=texts["notice_source"],
    )


def _names(read: Reader, value: object, path: str, choices: tuple[str, ...]) -> tuple[str, ...] | None:
    if value is None:
        return None
    return tuple(read.choice(entry, at, choices) for at, entry in read.rows(value, path))


def _ownership(read: Reader, row: object, path: str) -> Ownership:
    given = read.mapping(row, path, ("zones", "causes", "payer", "rule", "source"))
    return Ownership(
        zones=_names(read, given.get("zones", []), f"{path}/zones", ZONES) or (),
        causes=_names(read, given.get("causes", []), f"{path}/causes", CAUSES) or (),
        payer=read.text(given.get("payer"), f"{path}/payer"),
        rule=read.text(given.get("rule"), f"{path}/rule"),
        source=read.text(given.get("source"), f"{path}/source"),
    )


def _programme(read: Reader, row: object, path: str) -> Programme:
    required = ("id", "payer", "relieves", "zones", "causes", "share_percent", "source")
    optional = ("methods", "excluded_kinds", "deductible", "cap", "of", "once_per_years")
    given = read.mapping(row, path, required, optional)
    cap, period = given.get("cap"), given.get("once_per_years")
    return Programme(
        id=read.text(given.get("id"), f"{path}/id"),
        payer=read.text(given.get("payer"), f"{path}/payer"),
        relieves=read.text(given.get("relieves"), f"{path}/relieves"),
        zones=_names(read, given.get("zones", []), f"{path}/zones", ZONES) or (),
        causes=_names(read, given.get("causes", []), f"{path}/causes", CAUSES) or (),
        methods=_names(read, given.get("methods"), f"{path}/methods", _METHOD_NAMES),
        excluded_kinds=_names(read, given.get("excluded_kinds", []), f"{path}/excluded_kinds", ALL_KINDS) or (),
        share_percent=read.number(given.get("share_percent"), f"{path}/share_percent", "0", "100"),
        deductible=read.number(given.get("deductible", 0), f"{path}/deductible"),
        cap=None if cap is None else read.number(cap, f"{path}/cap"),
        is_of_lowest_bid=read.choice(given.get("of", "likely"), f"{path}/of", ("likely", "lowest_bid"))
        == "lowest_bid",
        once_per_years=None if period is None else int(read.number(period, f"{path}/once_per_years", "1", "100")),
        source=read.text(given.get("source"), f"{path}/source"),
    )
