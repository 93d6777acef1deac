"""Translates findings to a customer's codes and back, and says what got lost on the way."""

from collections.abc import Mapping
from typing import Any

from scoring.codes.mapping import (
    DEFECT_VALUES,
    FEATURE_VALUES,
    CodeMap,
    CodeUnknown,
    Entry,
    External,
    Internal,
    Loss,
    Value,
)
from scoring.types import Defect, Feature


def to_external(codes: CodeMap, finding: Defect | Feature) -> External:
    """Return the code that says most of a finding, and what it cannot say.

    Only a code whose every attribute the finding has is used: a code never says more than was seen. Of
    those the one that loses least, then the one that fixes most, then the first in the map.
    """
    said = _said(finding)
    what = "defect" if isinstance(finding, Defect) else "feature"
    fitting = [
        entry
        for entry in codes.entries
        if entry.what == what
        and entry.kind == finding.kind
        and all(getattr(finding, name) == value for name, value in entry.attributes.items())
    ]
    if not fitting:
        sentence = f"No code of {codes.id} stands for this {finding.kind}; add one to the map."
        return External(None, {}, (Loss("kind", finding.kind, sentence), *_losses(said, sentence)))
    entry = min(fitting, key=lambda one: (len(_unsaid(one, said)), -len(one.attributes)))
    values = {name: value for name, value in said.items() if name in entry.carries and name not in entry.attributes}
    return External(entry.code, values, _losses(_unsaid(entry, said), f"The code {entry.code} does not carry it."))


def from_external(codes: CodeMap, code: str, values: Mapping[str, Any] | None = None) -> Internal:
    """Return what a code stands for; codes are compared letter by letter.

    Values the entry does not carry, and values against what the code itself says, are not taken over but
    reported. Raises CodeUnknown.
    """
    entry = next((one for one in codes.entries if one.code == code), None)
    if entry is None:
        raise CodeUnknown(code, codes.id)
    taken: dict[str, Value] = dict(entry.attributes)
    lost: list[Loss] = []
    for name, value in (values or {}).items():
        is_unsaid = value is None or (value is False and name not in entry.attributes)
        if is_unsaid or taken.get(name) == value:
            continue
        if name in entry.attributes:
            lost.append(Loss(name, value, f"The code {code} itself says {entry.attributes[name]}."))
        elif name in entry.carries:
            taken[name] = value
        else:
            lost.append(Loss(name, value, f"The code {code} does not carry it."))
    return Internal(entry.what, entry.kind, taken, tuple(lost))


def _said(finding: Defect | Feature) -> dict[str, Value]:
    """What was recorded of a finding besides its kind and position, in a fixed order."""
    names = DEFECT_VALUES if isinstance(finding, Defect) else FEATURE_VALUES
    given = {name: getattr(finding, name) for name in names}
    return {name: value for name, value in given.items() if value is not None and value is not False}


def _unsaid(entry: Entry, said: Mapping[str, Value]) -> dict[str, Value]:
    return {name: value for name, value in said.items() if name not in entry.attributes and name not in entry.carries}


def _losses(unsaid: Mapping[str, Value], sentence: str) -> tuple[Loss, ...]:
    return tuple(Loss(name, value, sentence) for name, value in unsaid.items())
