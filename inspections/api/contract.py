"""What breaks those who rely on the contract: a newer OpenAPI document held against the one they integrated with."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

Document = Mapping[str, Any]

_VERBS: Final = ("get", "post", "put", "patch", "delete")
_DEEPEST: Final = 12
# Of what is sent: whether a bound is a least one.
_BOUNDS: Final = {
    **dict.fromkeys(("minimum", "exclusiveMinimum", "minLength", "minItems"), True),
    **dict.fromkeys(("maximum", "exclusiveMaximum", "maxLength", "maxItems"), False),
}


def breaks(before: Document, after: Document) -> list[str]:
    """Return every sentence about what a client of `before` can no longer rely on, in the order of addresses.

    New addresses, new optional fields and parameters, new fields in answers and new words of a list are no break; nor
    is the end of what was marked as deprecated.
    """
    return sorted(set(_found(before, after)))


def _found(before: Document, after: Document) -> Iterator[str]:
    for path, verbs in before["paths"].items():
        for verb in _VERBS:
            was = verbs.get(verb)
            if was is None or was.get("deprecated"):
                continue
            now = after["paths"].get(path, {}).get(verb)
            place = f"{verb.upper()} {path}"
            if now is None:
                yield f"{place}: is gone"
                continue
            yield from _parameters(place, was, now)
            yield from _body(place, was, now, before, after)
            yield from _answers(place, was, now, before, after)


def _parameters(place: str, was: Document, now: Document) -> Iterator[str]:
    old, new = ({(p["in"], p["name"]): p for p in one.get("parameters", [])} for one in (was, now))
    for _, name in sorted(old.keys() - new.keys()):
        yield f"{place}: the parameter {name} is gone"
    for key, parameter in sorted(new.items()):
        if parameter.get("required") and not old.get(key, {}).get("required"):
            yield f"{place}: the parameter {key[1]} is required now"


def _body(place: str, was: Document, now: Document, before: Document, after: Document) -> Iterator[str]:
    old, new = (one.get("requestBody", {}) for one in (was, now))
    for form, content in old.get("content", {}).items():
        if form not in new.get("content", {}):
            yield f"{place}: {form} is not taken any more"
            continue
        asked = content.get("schema", {}), new["content"][form].get("schema", {})
        for fault in _narrower(*asked, before, after, "", 0):
            yield f"{place}: what is sent: {fault}"


def _answers(place: str, was: Document, now: Document, before: Document, after: Document) -> Iterator[str]:
    for status, answer in was.get("responses", {}).items():
        if not status.startswith("2"):
            continue
        new = now.get("responses", {}).get(status)
        if new is None:
            yield f"{place}: does not answer {status} any more"
            continue
        for form, content in answer.get("content", {}).items():
            if form not in new.get("content", {}):
                yield f"{place}: does not answer as {form} any more"
                continue
            given = new["content"][form].get("schema", {}), content.get("schema", {})
            for fault in _narrower(*given, after, before, "", 0, is_answer=True):
                yield f"{place}: what is answered: {fault}"


def _narrower(
    wide: Document,
    narrow: Document,
    wide_in: Document,
    narrow_in: Document,
    at: str,
    depth: int,
    *,
    is_answer: bool = False,
) -> Iterator[str]:
    """Yield where `narrow` does not hold all that `wide` promises.

    Of what is sent, `wide` is the old shape and `narrow` the new one: all that was taken must still be taken. Of what
    is answered it is the other way round: all that is answered now must be what was promised.
    """
    wide, narrow = _resolved(wide, wide_in), _resolved(narrow, narrow_in)
    if depth > _DEEPEST or "oneOf" in wide or "oneOf" in narrow or "anyOf" in wide or "anyOf" in narrow:
        return  # a choice between shapes is for people to judge
    if _types(wide) - _types(narrow) and _types(narrow):
        yield (
            f"{at or 'the whole'} may be {_listed(_types(wide))}, was {_listed(_types(narrow))}"
            if is_answer
            else (f"{at or 'the whole'} must be {_listed(_types(narrow))}, could be {_listed(_types(wide))}")
        )
    gone = (
        []
        if is_answer
        else sorted(map(str, set(wide.get("enum", [])) - set(narrow.get("enum", wide.get("enum", [])))))
    )
    if gone:
        yield f"{at or 'the whole'} does not take {', '.join(gone)} any more"
    old, new = (narrow, wide) if is_answer else (wide, narrow)
    for name, member in old.get("properties", {}).items():
        if name not in new.get("properties", {}):
            yield f"{at}/{name} is gone"
            continue
        pair = (new["properties"][name], member) if is_answer else (member, new["properties"][name])
        yield from _narrower(*pair, wide_in, narrow_in, f"{at}/{name}", depth + 1, is_answer=is_answer)
    yield from _bounds(wide, narrow, at, is_answer=is_answer)
    for name in sorted(set(narrow.get("required", [])) - set(wide.get("required", []))):
        yield f"{at}/{name} may be missing now" if is_answer else f"{at}/{name} is required now"
    if "items" in wide and "items" in narrow:
        pair = wide["items"], narrow["items"]
        yield from _narrower(*pair, wide_in, narrow_in, f"{at}/*", depth + 1, is_answer=is_answer)


def _bounds(wide: Document, narrow: Document, at: str, *, is_answer: bool) -> Iterator[str]:
    """Yield what is sent and was within bounds, and is not any more. Bounds of answers may widen."""
    if is_answer:
        return
    for name, is_least in _BOUNDS.items():
        was, now = wide.get(name), narrow.get(name)
        if now is not None and (was is None or (now > was if is_least else now < was)):
            yield f"{at or 'the whole'}: {name} is {now} now, was {'not said' if was is None else was}"
    if narrow.get("additionalProperties") is False and wide.get("additionalProperties") is not False:
        yield f"{at or 'the whole'} takes no other fields any more"
    if "pattern" in narrow and narrow["pattern"] != wide.get("pattern"):
        yield f"{at or 'the whole'} must be written as {narrow['pattern']} now"
    if "format" in narrow and narrow["format"] != wide.get("format"):
        yield f"{at or 'the whole'} must be a {narrow['format']} now"


def _resolved(schema: Document, document: Document) -> Document:
    """Follow references, also the single one that generators wrap, and see through `or null`."""
    while "$ref" in schema or len(schema.get("allOf", ())) == 1:
        if "$ref" not in schema:
            schema = schema["allOf"][0]
            continue
        target: Any = document
        for step in schema["$ref"].removeprefix("#/").split("/"):
            target = target[step]
        schema = target
    choices = [_resolved(one, document) for one in schema.get("oneOf", ())]
    real = [one for one in choices if one.get("type") != "null" and one.get("enum") != [None]]
    if len(real) == 1 and len(choices) == 2:
        return {**real[0], "type": sorted(_types(real[0]) | {"null"})}
    return schema


def _types(schema: Document) -> frozenset[str]:
    kind = schema.get("type", ())
    kinds = {kind} if isinstance(kind, str) else set(kind)
    return frozenset(kinds | {"number"} if "integer" in kinds else kinds)


def _listed(words: frozenset[str]) -> str:
    return " or ".join(sorted(words))
