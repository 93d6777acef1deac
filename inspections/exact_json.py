"""JSON that keeps numbers digit for digit: 12.50 stays 12.50.

Reading refuses what JSON readers disagree about: duplicate keys, NaN, numbers beyond what a double holds,
NUL and lone surrogates. Writing is deterministic, so that a digest of the bytes means something.
"""

import hashlib
import json
import re
from decimal import Decimal, InvalidOperation
from typing import Any, Final

import msgspec

from inspections.errors import Fault, Malformed

DEPTH_LIMIT: Final = 32
_WHOLE_LIMIT: Final = 2**53
NUMBER_LIMIT: Final = Decimal(_WHOLE_LIMIT)
DIGITS_LIMIT: Final = 17
_SMALLEST_EXPONENT: Final = -20
_SUSPECT_TEXT: Final = re.compile("[\x00\ud800-\udfff]")

_encoder = msgspec.json.Encoder(decimal_format="number")
_sorting_encoder = msgspec.json.Encoder(decimal_format="number", order="deterministic")


class _Object(dict[str, Any]):
    """A JSON object that remembers which keys came twice."""

    duplicates: tuple[str, ...] = ()


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) == len(pairs):
        return members
    marked = _Object(members)
    names = [name for name, _ in pairs]
    marked.duplicates = tuple(sorted({name for name in names if names.count(name) > 1}))
    return marked


class _NotANumber(Exception):
    """NaN or Infinity stood where JSON has no word for it."""


def _constant(word: str) -> Any:
    raise _NotANumber(word)


def _whole(digits: str) -> int | Decimal:
    return int(digits) if len(digits) <= 20 else Decimal(digits)


class _Doubtful(Exception):
    """Something in a document needs a closer look; it may be sound."""


_SHORT: Final = 16  # a number of fewer characters has few enough digits and decimals and lies within the limit
_SPACED_COLON: Final = re.compile(rb'"[ \t\r\n]+:')
_SUSPECT_ESCAPE: Final = re.compile(rb"\\u(?:0000|[dD][89a-fA-F])")


def _short_number(text: str) -> Decimal:
    if len(text) >= _SHORT or "e" in text or "E" in text:
        raise _Doubtful
    return Decimal(text)


_decoder = msgspec.json.Decoder(float_hook=_short_number)
_own_decoder = msgspec.json.Decoder(float_hook=Decimal)


def read(raw: bytes) -> Any:
    """Return the document in `raw` with decimals exact. Raises Malformed, naming every fault found."""
    try:
        return _plainly_sound(raw)
    except (_Doubtful, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return _looked_at_closely(raw)


def _plainly_sound(raw: bytes) -> Any:
    """Return a document in which nothing can be at fault; most are. Raises where only a closer look can tell.

    Escapes are the only way to a NUL or a surrogate. The compiled decoder keeps the last of two equal keys in
    silence: there are as many keys in the text as in what was read of it, or one stands twice. A quote before a
    colon ends a key, unless it is escaped and stands in a text.
    """
    if b'\\\\"' in raw or (b"\\u" in raw and _SUSPECT_ESCAPE.search(raw)) or _SPACED_COLON.search(raw):
        raise _Doubtful
    document = _decoder.decode(raw)
    if _keys(document, 0) != raw.count(b'":') - raw.count(b'\\":'):
        raise _Doubtful
    return document


def _keys(value: Any, depth: int) -> int:
    """Count the keys of a document while looking for what is nested too deep or too large."""
    if depth >= DEPTH_LIMIT:
        raise _Doubtful
    if isinstance(value, dict):
        count, members = len(value), value.values()
    elif isinstance(value, list):
        count, members = 0, value  # type: ignore[assignment] # either is iterated
    else:
        count, members = 0, (value,)  # type: ignore[assignment] # same
    for member in members:
        kind = type(member)
        if kind is dict or kind is list:
            count += _keys(member, depth + 1)
        elif kind is int and not -_WHOLE_LIMIT <= member <= _WHOLE_LIMIT:
            raise _Doubtful
    return count


def _looked_at_closely(raw: bytes) -> Any:
    try:
        text = raw.decode("utf-8")
        document = json.loads(
            text, object_pairs_hook=_object, parse_float=Decimal, parse_int=_whole, parse_constant=_constant
        )
    except UnicodeDecodeError as error:
        raise Malformed(f"The body is not UTF-8 at byte {error.start}.") from error
    except _NotANumber as error:
        raise Malformed(f"{error} is not a JSON number; leave the field out or send null.") from error
    except RecursionError as error:
        raise Malformed(f"The document is nested deeper than {DEPTH_LIMIT} levels.") from error
    except (ValueError, InvalidOperation) as error:
        raise Malformed(f"The body is not JSON: {error}.") from error
    faults: list[Fault] = []
    _inspect(document, (), faults)
    if faults:
        raise Malformed("The document has values that cannot be kept.", faults=faults)
    return document


def load(text: str) -> Any:
    """Return a document this service wrote itself."""
    return _own_decoder.decode(text)


def _inspect(value: Any, path: tuple[str | int, ...], faults: list[Fault]) -> None:
    if len(path) > DEPTH_LIMIT:
        faults.append(Fault(path, "too_deep", f"Nested deeper than {DEPTH_LIMIT} levels; flatten it."))
    elif isinstance(value, dict):
        for name in getattr(value, "duplicates", ()):
            faults.append(Fault((*path, name), "duplicate_key", "This key stands twice; send it once."))
        for name, member in value.items():
            if _SUSPECT_TEXT.search(name):
                faults.append(
                    Fault((*path, _shown(name)), "unusable_character", "A key holds a NUL or a lone surrogate.")
                )
            else:
                _inspect(member, (*path, name), faults)
    elif isinstance(value, list):
        for position, member in enumerate(value):
            _inspect(member, (*path, position), faults)
    elif isinstance(value, str):
        if _SUSPECT_TEXT.search(value):
            faults.append(Fault(path, "unusable_character", "The text holds a NUL or a lone surrogate; take it out."))
    elif isinstance(value, int | Decimal) and not isinstance(value, bool):
        _inspect_number(value, path, faults)


def _shown(name: str) -> str:
    return _SUSPECT_TEXT.sub("\N{REPLACEMENT CHARACTER}", name)


def _inspect_number(value: int | Decimal, path: tuple[str | int, ...], faults: list[Fault]) -> None:
    if not -NUMBER_LIMIT <= value <= NUMBER_LIMIT:
        faults.append(Fault(path, "number_too_large", "Numbers must lie within plus or minus 2^53."))
    elif isinstance(value, Decimal):
        parts = value.as_tuple()
        if len(parts.digits) > DIGITS_LIMIT or (
            isinstance(parts.exponent, int) and parts.exponent < _SMALLEST_EXPONENT
        ):
            faults.append(
                Fault(
                    path,
                    "too_many_digits",
                    f"At most {DIGITS_LIMIT} digits and 20 decimals; round the number.",
                )
            )


def write(document: Any) -> bytes:
    """Return a document as JSON in UTF-8, its keys in the order given."""
    return _encoder.encode(document)


def write_text(document: Any) -> str:
    """Return a document as JSON text."""
    return _encoder.encode(document).decode()


def canonical(document: Any) -> bytes:
    """Return the one form of a document that its digest is taken of: keys sorted, no spaces."""
    return _sorting_encoder.encode(document)


def digest(document: Any) -> str:
    """Return the SHA-256 of the canonical form, in hex."""
    return hashlib.sha256(canonical(document)).hexdigest()
