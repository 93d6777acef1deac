"""How operations refuse: each status with the codes a client can branch on."""

from collections.abc import Iterable, Mapping
from typing import Any, Final

from inspections import errors
from inspections.api.problems import CODES, MEDIA_TYPE, STATUS_OF, TITLES
from inspections.errors import Refused

Codes = dict[int, tuple[str, ...]]

_SENTENCES: Final[Mapping[str, str]] = {
    "malformed": "The request cannot be read: syntax, types, unknown fields or parameters.",
    "not_signed_in": "No valid token.",
    "scope_missing": "The token lacks the scope.",
    "not_found": "No such record in this organisation.",
    "length_required": "The body's length is not said.",
    "body_too_large": "The body is over 5 MB.",
    "media_type_not_supported": "The body is not in a form that is taken here.",
    "invalid": "The request can be read, and says something that cannot be.",
    "too_many_requests": "The token asks too fast; Retry-After says when to go on.",
    "service_error": "An error of the service; tell its keepers the request_id.",
    "not_available": "The database does not answer just now; Retry-After says when to send the same again.",
}
_ALWAYS: Final[tuple[int, ...]] = (400, 411, 413, 415, 500, 503)


def codes(
    *,
    verb: str,
    is_public: bool,
    names_record: bool,
    judges: bool,
    key: str,
    may_match: bool,
    needs_match: bool,
    refuses: Iterable[type[Refused]],
) -> Codes:
    """Return the codes of each status an operation may refuse with.

    `judges`: it reads values that can be wrong in content. `key`: "", "may" or "must" carry an Idempotency-Key.
    """
    found: dict[int, list[str]] = {status: [CODES[status]] for status in _ALWAYS}
    if not is_public:
        found |= {401: [errors.NotSignedIn.code], 403: [errors.ScopeMissing.code]}
        found |= {429: [errors.TooManyRequests.code]}
    kinds: list[type[Refused]] = []
    kinds += [errors.NotFound] if names_record else []
    kinds += [errors.Invalid] if judges else []
    kinds += [errors.KeyInFlight, errors.KeyReused, errors.KeyRequired] if key else []
    kinds += [errors.RevisionStale] if may_match or needs_match else []
    kinds += [errors.RevisionRequired] if needs_match else []
    for kind in (*kinds, *refuses):
        listed = found.setdefault(STATUS_OF[kind], [])
        if kind.code not in listed:
            listed.append(kind.code)
    return {status: tuple(listed) for status, listed in sorted(found.items())}


def answer(status: int, listed: tuple[str, ...]) -> dict[str, Any]:
    """Return how a refusal stands in the document."""
    text = " ".join(f"`{code}`: {meaning(code)}" for code in listed)
    schema = {"$ref": "#/components/schemas/Problem"}
    return {"description": text, "content": {MEDIA_TYPE: {"schema": schema}}, "x-codes": list(listed)}


def meaning(code: str) -> str:
    """Return what a code of a problem means, in a sentence."""
    if code in _SENTENCES:
        return _SENTENCES[code]
    kind = next(one for one in STATUS_OF if one.code == code)
    return (kind.__doc__ or TITLES[STATUS_OF[kind]]).strip()
