"""Turns a code map document into a `CodeMap`, or says everything that is wrong with it.

A document: {id, version, title, entries: [{code, what: "defect" | "feature" (default defect), kind,
attributes: {degree, opening, pattern, at_joint, soil_seen, void_seen}, carries: [names of values]}]}.
"""

from collections.abc import Mapping
from typing import Any, cast

from scoring.codes.mapping import (
    DEFECT_VALUES,
    FEATURE_VALUES,
    FLAGS,
    WORDS,
    CodeMap,
    CodeMapFault,
    CodeMapInvalid,
    Entry,
    What,
)
from scoring.grading.kinds import KINDS, words_of

FEATURE_KINDS = (
    "joint",
    "trap",
    "bend",
    "connection",
    "material_change",
    "size_change",
    "coupling",
    "water_level",
    "main",
    "access_point",
)
_MOST_ENTRIES = 5000


def load_code_map(document: Mapping[str, Any], *, is_kept: bool = False) -> CodeMap:
    """Return the checked code map of a document. Raises CodeMapInvalid with every fault found.

    `is_kept`: it was taken once, so words no finding can bear, which are a fault in a new one, are read as they are.
    """
    faults: list[CodeMapFault] = []
    given = _object(document, "", ("id", "version", "title", "entries"), faults)
    for name in ("id", "title"):
        _text(given.get(name), f"/{name}", faults)
    version = given.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 0:
        faults.append(CodeMapFault("/version", "not_a_whole_number", "Give a whole number of 0 or more."))
    items = _list(given.get("entries"), "/entries", faults)
    entries = [_entry(item, f"/entries/{index}", faults) for index, item in enumerate(items)]
    faults += _repeated(entries)
    if not is_kept:
        faults += [fault for index, entry in enumerate(entries) for fault in _word_faults(entry, index)]
    if faults:
        raise CodeMapInvalid(faults)
    return CodeMap(given["id"], cast(int, version), given["title"], tuple(entries))


def _entry(value: Any, path: str, faults: list[CodeMapFault]) -> Entry:
    given = _object(value, path, ("code", "what", "kind", "attributes", "carries"), faults)
    code = _text(given.get("code"), f"{path}/code", faults)
    what = _choice(given.get("what", "defect"), f"{path}/what", ("defect", "feature"), faults)
    kinds = FEATURE_KINDS if what == "feature" else KINDS
    kind = _choice(given.get("kind"), f"{path}/kind", kinds, faults)
    names = FEATURE_VALUES if what == "feature" else DEFECT_VALUES
    carried = given.get("carries", [])
    if not isinstance(carried, (list, tuple)):
        faults.append(CodeMapFault(f"{path}/carries", "not_a_list", "Give a list of names."))
        carried = []
    carries = tuple(_choice(name, f"{path}/carries/{i}", names, faults) for i, name in enumerate(carried))
    fixable = () if what == "feature" else (*WORDS, *FLAGS)
    attributes = _object(given.get("attributes", {}), f"{path}/attributes", fixable, faults)
    for name, fixed in attributes.items():
        is_sound = isinstance(fixed, bool) if name in FLAGS else isinstance(fixed, str) and bool(fixed)
        if not is_sound:
            wanted = "true or false" if name in FLAGS else "a word"
            faults.append(CodeMapFault(f"{path}/attributes/{name}", "wrong_value", f"Give {wanted}."))
    return Entry(code, cast(What, what), kind, dict(attributes), carries)


def _word_faults(entry: Entry, index: int) -> list[CodeMapFault]:
    """Words that no finding of the kind can bear: the code would never be used."""
    if not entry.kind:  # named as a fault already
        return []
    known = {name: words_of(entry.kind, name) for name in WORDS if isinstance(entry.attributes.get(name), str)}
    return [
        CodeMapFault(f"/entries/{index}/attributes/{name}", "unknown_value", f"Give one of {', '.join(words)}.")
        for name, words in known.items()
        if entry.attributes[name] not in words
    ]


def _repeated(entries: list[Entry]) -> list[CodeMapFault]:
    seen: dict[str, int] = {}
    faults = []
    for index, entry in enumerate(entries):
        if entry.code and entry.code in seen:
            sentence = f"'{entry.code}' stands already at /entries/{seen[entry.code]}; a code means one thing."
            faults.append(CodeMapFault(f"/entries/{index}/code", "code_repeated", sentence))
        seen.setdefault(entry.code, index)
    return faults


def _object(value: Any, path: str, allowed: tuple[str, ...], faults: list[CodeMapFault]) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        faults.append(CodeMapFault(path, "not_an_object", "Give an object here."))
        return {}
    for key in value:
        if key not in allowed:
            known = ", ".join(allowed) or "nothing"
            faults.append(CodeMapFault(f"{path}/{key}", "unknown_field", f"Leave it out; known: {known}."))
    return value


def _list(value: Any, path: str, faults: list[CodeMapFault]) -> list[Any]:
    if not isinstance(value, (list, tuple)) or not 0 < len(value) <= _MOST_ENTRIES:
        faults.append(CodeMapFault(path, "not_a_list", f"Give a list of 1 to {_MOST_ENTRIES} entries."))
        return []
    return list(value)


def _text(value: Any, path: str, faults: list[CodeMapFault]) -> str:
    if not isinstance(value, str) or not value.strip():
        faults.append(CodeMapFault(path, "not_a_text", "Give a text."))
        return ""
    return value


def _choice(value: Any, path: str, allowed: tuple[str, ...], faults: list[CodeMapFault]) -> str:
    if not isinstance(value, str) or value not in allowed:
        faults.append(CodeMapFault(path, "unknown_value", f"Give one of {', '.join(allowed)}."))
        return ""
    return value
