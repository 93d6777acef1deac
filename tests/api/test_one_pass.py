"""Sound documents are read and checked in one quick pass: it takes and makes exactly what the careful way does."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some
from rest_framework.exceptions import ValidationError

from inspections import exact_json
from inspections.api.fields import sound
from inspections.api.shapes.run import RunShape
from inspections.errors import Malformed
from tests import builders

KEYS = some.sampled_from(["a", "b", 'q"', "back\\", 'a":', "é", "\x00", "\ud800"])
LEAVES = some.one_of(
    some.none(),
    some.booleans(),
    some.integers(-(2**70), 2**70),
    some.decimals(allow_nan=False, allow_infinity=False, places=3).map(float),
    some.sampled_from(['"', '":', '\\":', "\\", "x\x00", "\ud834", "\U0001d11e", "12:30", "e\u0301"]),
)
VALUES = some.recursive(
    LEAVES, lambda inner: some.lists(inner, max_size=3) | some.dictionaries(KEYS, inner, max_size=3), max_leaves=12
)


def careful(raw: bytes) -> Any:
    return outcome(exact_json._looked_at_closely, raw)


def outcome(read: Any, raw: bytes) -> Any:
    try:
        return repr(read(raw))
    except Malformed as error:
        return error.detail, error.faults


@given(VALUES, some.booleans(), some.sampled_from([(",", ":"), (", ", ": "), (" , ", " : ")]))
def test_any_json_is_read_as_by_the_careful_way(value: Any, ascii: bool, separators: tuple[str, str]) -> None:
    text = json.dumps(value, ensure_ascii=ascii, separators=separators)
    raw = text.encode("utf-8", "surrogatepass")
    assert outcome(exact_json.read, raw) == careful(raw)


@pytest.mark.parametrize(
    "raw",
    [
        b'{"a":1,"a":2}',
        b'{"a":1,"a" :2}',
        b'{"a\\\\":1,"b":1,"b":2}',
        b'[{"a":1},{"b":2,"b":3}]',
        b'{"t":"\\":","a":1,"a":1}',
        b'{"a":1,"a":2,"t":"\\":"}',
        b"[1.50,-0,1e5,1E400,9007199254740993,0.123456789012345678,1.0e-3]",
        b"[" * 31 + b"]" * 31,
        b"[" * 40 + b"1" + b"]" * 40,
        b"[" * 100_000,
        b'"\\u0000"',
        b'"\\ud834\\udd1e"',
        b'"\xff"',
        b"\xef\xbb\xbf{}",
        b"[NaN]",
        b"",
        b"[01]",
    ],
)
def test_what_json_readers_disagree_about_is_said_as_by_the_careful_way(raw: bytes) -> None:
    assert outcome(exact_json.read, raw) == careful(raw)


SPOILT = some.sampled_from(
    [None, "", "x", "12", 0, -1, 7, 13, 200000, True, [], {}, [None], [{}], "crack", "us", "2027-03-01", {"kind": "x"}]
)


@given(some.data())
def test_any_run_is_checked_as_by_the_careful_way(data: some.DataObject) -> None:
    document = copy.deepcopy(builders.run("00000000-0000-4000-8000-000000000001"))
    for _ in range(data.draw(some.integers(0, 2))):
        inside: Any = document
        while isinstance(inside, dict | list) and inside:
            keys = sorted(inside) if isinstance(inside, dict) else list(range(len(inside)))
            key = data.draw(some.sampled_from(keys))
            if not isinstance(inside[key], dict | list) or not inside[key] or data.draw(some.booleans()):
                inside[key] = copy.deepcopy(data.draw(SPOILT))
                break
            inside = inside[key]
    if data.draw(some.booleans()):
        document["defects"] = document.get("defects")
        document["no_such_field"] = data.draw(some.sampled_from([None, 1]))
    read = exact_json.read(json.dumps(document).encode())
    assert taken(lambda: sound(RunShape, read)) == taken(lambda: RunShape().run_validation(read))


def taken(check: Any) -> Any:
    """Return what is made of a document, in its order; nothing for a refusal, whose words the careful way has."""
    try:
        return json.dumps(check(), default=str)
    except ValidationError:
        return None
