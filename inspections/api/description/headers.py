"""The headers of answers, and which answer carries which."""

from typing import Any, Final

Operation = dict[str, Any]

_TEXT: Final = {"type": "string"}
_SECONDS: Final = {"type": "integer", "minimum": 1}
_TRUE: Final = {"type": "string", "enum": ["true"]}
_ADDRESS: Final = {"type": "string", "format": "uri-reference"}

# Name: form, whether it is always there, meaning.
HEADERS: Final[dict[str, tuple[dict[str, Any], bool, str]]] = {
    "X-Request-Id": (_TEXT, True, "Names this request in logs and trail: your own where you sent a usable one."),
    "RateLimit-Policy": (_TEXT, False, "How many requests a token may send at once (q), paid back in seconds (w)."),
    "RateLimit": (_TEXT, False, "How many requests are left (r), and in how many seconds all are there again (t)."),
    "Retry-After": (_SECONDS, True, "Whole seconds after which the same request may be sent again."),
    "WWW-Authenticate": (_TEXT, True, "Bearer: send a token."),
    "ETag": (_TEXT, True, "The revision of what is shown, for If-Match and If-None-Match."),
    "Location": (_ADDRESS, True, "Where what was made is read."),
    "Link": (_TEXT, False, 'The next page (rel="next"); absent on the last.'),
    "Idempotency-Replayed": (_TRUE, False, "The first answer under this Idempotency-Key, once more."),
    "Dry-Run": (_TRUE, False, "Nothing was changed, because dry_run was asked for."),
    "Deprecation": (_TEXT, True, "Since when the operation is on its way out (RFC 9745)."),
    "Sunset": (_TEXT, True, "When the operation ends (RFC 8594)."),
    "Content-Disposition": (_TEXT, True, "Under which name to keep it."),
    "Content-Security-Policy": (_TEXT, True, "What the page may load: nothing from anywhere else."),
}
_OF_TOKENS: Final = ("RateLimit-Policy", "RateLimit")
# What is refused before the token was read says nothing of its rate.
_BEFORE_TOKENS: Final = frozenset({"401", "411", "413"})


def components() -> dict[str, Any]:
    """Return the headers as components."""
    return {
        name: {"schema": schema, "description": text, **({"required": True} if is_always else {})}
        for name, (schema, is_always, text) in HEADERS.items()
    }


def put_into(
    operation: Operation,
    *,
    is_public: bool,
    is_tagged: bool,
    is_paged: bool,
    places: frozenset[int],
    is_write: bool,
    is_kept: bool,
    is_retired: bool,
    more: tuple[str, ...],
) -> None:
    """Say of every answer which headers it carries. `places`: the statuses that come with a Location."""
    for status, answer in operation["responses"].items():
        is_well = status[0] in "23"
        names = ["X-Request-Id"]
        names += [] if is_public or status in _BEFORE_TOKENS else _OF_TOKENS
        names += ["WWW-Authenticate"] if status == "401" else []
        names += ["Retry-After"] if status in ("429", "503") else []
        names += ["ETag"] if is_tagged and is_well and status != "204" else []
        names += ["Location"] if status.isdigit() and int(status) in places else []
        names += ["Link"] if is_paged and is_well else []
        names += ["Idempotency-Replayed"] if is_kept and is_well else []
        names += ["Dry-Run"] if is_write else []
        names += ["Deprecation", "Sunset", "Link"] if is_retired else []
        names += more if is_well else ()
        answer["headers"] = {name: {"$ref": f"#/components/headers/{name}"} for name in dict.fromkeys(names)}
