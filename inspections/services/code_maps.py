"""Findings said in a customer's own codes and back, with what got lost on the way. Nothing is kept."""

import uuid
from collections.abc import Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any, Final

from inspections import exact_json
from inspections import vocabulary as words
from inspections.actor import Actor
from inspections.errors import Fault, Invalid
from inspections.models import CodeMap
from inspections.queries import find
from inspections.translate import Document, scoring_defect, scoring_feature
from scoring import codes
from scoring.codes.mapping import FLAGS, MEASURES, WORDS, Loss
from scoring.units import Units, plain

# The largest value of each measure that a run takes.
MOST: Final = {"clock_from": 12, "clock_to": 12, "width_mm": 1000, "percent": 100}
# What stands beside a finding and no code map can carry.
_NEVER_CARRIED: Final = ("video_s", "note")


def loaded(row: CodeMap) -> codes.CodeMap:
    """Return a code map as scoring reads it; a version never changes, so it is checked once a process."""
    return _loaded(row.document)


@lru_cache(maxsize=64)
def _loaded(document: str) -> codes.CodeMap:
    return codes.load_code_map(exact_json.load(document), is_kept=True)


def to_external(*, actor: Actor, id: uuid.UUID, document: Mapping[str, Any]) -> list[Document]:
    """Return the code of each finding, the values beside it, and what no code can say."""
    code_map = loaded(find.one(CodeMap, actor.organisation, id))
    units: Units = document["units"]
    found = [
        _outward(code_map, "defect", entry["ref"], scoring_defect(entry, units, position=n), _beside(entry))
        for n, entry in enumerate(document["defects"])
    ]
    there = [
        _outward(code_map, "feature", entry["label"], scoring_feature(entry, units), [])
        for entry in document["features"]
    ]
    return found + there


def _beside(entry: Mapping[str, Any]) -> list[Loss]:
    """What was written of a finding that no code carries; a reader of the codes has to be sent it apart."""
    return [
        Loss(name, entry[name], "No code carries it; send it beside the codes.")
        for name in _NEVER_CARRIED
        if entry[name] is not None
    ]


def _outward(code_map: codes.CodeMap, what: str, ref: str | None, finding: Any, beside: list[Loss]) -> Document:
    said = codes.to_external(code_map, finding)
    values = {name: _shown(value) for name, value in said.values.items()}
    lost = [_loss(one) for one in (*said.lost, *beside)]
    return {"what": what, "ref": ref, "code": said.code, "values": values, "lost": lost}


def from_external(*, actor: Actor, id: uuid.UUID, document: Mapping[str, Any]) -> list[Document]:
    """Return what each code stands for, and which values it does not carry. Raises Invalid for unknown codes."""
    code_map = loaded(find.one(CodeMap, actor.organisation, id))
    faults: list[Fault] = []
    meant = []
    for number, entry in enumerate(document["findings"]):
        faults += [Fault(("findings", number, *f.path), f.code, f.detail) for f in value_faults(entry["values"] or {})]
        try:
            meant.append(_inward(code_map, entry))
            faults += [Fault(("findings", number, *f.path), f.code, f.detail) for f in _word_faults(meant[-1])]
        except codes.CodeUnknown as error:
            faults.append(Fault(("findings", number, "code"), "code_unknown", str(error)))
    if faults:
        raise Invalid("Some findings cannot be read by this code map.", faults=faults)
    return meant


def value_faults(values: Mapping[str, Any]) -> list[Fault]:
    """Return which values are not of the sort their name says, or beyond what a run takes."""
    sorts: dict[str, tuple[type | tuple[type, ...], str]] = {
        **dict.fromkeys((*WORDS, "label"), (str, "text")),
        **dict.fromkeys(FLAGS, (bool, "true or false")),
        **dict.fromkeys((*MEASURES, "to_m"), ((int, Decimal), "a number")),
    }
    faults = []
    for name, value in values.items():
        sort, called = sorts.get(name, (object, ""))
        if not isinstance(value, sort) or (isinstance(value, bool) and sort is not bool and called):
            faults.append(Fault(("values", name), "wrong_value", f"This is {called}."))
        elif name in MOST and isinstance(value, int | Decimal) and not 0 <= value <= MOST[name]:
            code = "too_small" if value < 0 else "too_large"
            faults.append(Fault(("values", name), code, f"This is 0 to {MOST[name]}."))
    return faults


def _word_faults(meant: Document) -> list[Fault]:
    """Words that a finding of this kind cannot bear."""
    kind, said = meant["kind"], meant["attributes"]
    known: dict[str, Mapping[str, str]] = {
        "degree": words.degrees_for(kind),
        "pattern": words.PATTERNS,
        "opening": words.OPENINGS,
    }
    return [
        Fault(("values", name), "unknown_value", f"A {kind} is {', '.join(listed)}; not {said[name]}.")
        for name, listed in known.items()
        if name in said and said[name] not in listed
    ]


def _inward(code_map: codes.CodeMap, entry: Mapping[str, Any]) -> Document:
    meant = codes.from_external(code_map, entry["code"], entry["values"] or {})
    attributes = {name: _shown(value) for name, value in meant.attributes.items()}
    return {
        "code": entry["code"],
        "what": meant.what,
        "kind": meant.kind,
        "attributes": attributes,
        "lost": [_loss(one) for one in meant.lost],
    }


def _loss(one: Loss) -> Document:
    return {"field": one.field, "value": _shown(one.value), "detail": one.sentence}


def _shown(value: Any) -> Any:
    return plain(value, Decimal("1e-6")) if isinstance(value, Decimal) else value
