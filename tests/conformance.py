"""Every answer of the API in every test is held against the committed OpenAPI document.

A status, header, code or field that the document does not name, and a required one that is missing, is a fault.
Objects
in answers are read as closed here: the document lets answers grow, the tests want each field described first.
"""

from __future__ import annotations

import copy
import json
import re
import threading
import uuid
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Any, Final

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from jsonschema import Draft202012Validator, FormatChecker
from jsonschema.exceptions import best_match

from inspections import exact_json
from tests.processes import ROOT

BASE: Final = "/api/v1"
# The document itself and the page that draws it are not part of what it describes.
_UNDESCRIBED: Final = frozenset({f"{BASE}/openapi.json", f"{BASE}/docs"})
# What the service says by headers; all others are of the server or of Django.
_OWN_HEADERS: Final = frozenset(
    {
        *("ETag", "Location", "Link", "RateLimit", "RateLimit-Policy", "Retry-After", "WWW-Authenticate", "Dry-Run"),
        *("Idempotency-Replayed", "Deprecation", "Sunset", "Content-Disposition", "X-Request-Id"),
    }
)
_MOMENT: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)", re.IGNORECASE)
_formats: Final = FormatChecker(formats=())

found: Final[list[str]] = []
_lock: Final = threading.Lock()


@_formats.checks("date-time")
def _is_moment(value: object) -> bool:
    return not isinstance(value, str) or _MOMENT.fullmatch(value) is not None


@_formats.checks("date")
def _is_day(value: object) -> bool:
    return not isinstance(value, str) or re.fullmatch(r"\d{4}-\d\d-\d\d", value) is not None


@_formats.checks("uuid", raises=ValueError)
def _is_uuid(value: object) -> bool:
    return not isinstance(value, str) or bool(uuid.UUID(value))


class AnswersAreDescribed:
    """The outermost middleware of the tests."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if request.path == BASE or request.path.startswith(f"{BASE}/"):
            note(faults_of(request.method or "", request.path, response))
        return response


def note(faults: Iterator[str]) -> None:
    """Keep faults until the end of the test."""
    with _lock:
        found.extend(faults)


def taken() -> list[str]:
    """Return what was found since the last time."""
    with _lock:
        faults = sorted(set(found))
        found.clear()
    return faults


def faults_of(method: str, path: str, response: HttpResponseBase) -> Iterator[str]:
    """Yield where an answer is not what the document says."""
    if path in _UNDESCRIBED or method in ("OPTIONS", "TRACE"):
        return
    verb = "get" if method == "HEAD" else method.lower()
    content = b"" if response.streaming or method == "HEAD" else response.content  # type: ignore[attr-defined]
    for fault in _faults(verb, path, response.status_code, response.headers, content, response.streaming):
        yield f"{method} {path} -> {response.status_code}: {fault}"


def _faults(
    verb: str, path: str, status: int, headers: Mapping[str, str], content: bytes, is_streaming: bool
) -> Iterator[str]:
    item = _item(path)
    if item is None or verb not in item:
        yield from _nowhere(item, status, headers, content)
        return
    answer = _resolved(item[verb]["responses"].get(str(status)))
    if answer is None:
        yield f"the document has no such status ({content[:300]!r})"
        return
    yield from _header_faults(answer, headers)
    media = headers.get("Content-Type", "").partition(";")[0]
    if not answer.get("content"):
        if content:
            yield "the document has no body here"
        return
    if media not in answer["content"]:
        yield f"the document has no {media}"
        return
    if is_streaming or not content:
        return
    yield from _body_faults(answer, media, content)


def _nowhere(item: Any, status: int, headers: Mapping[str, str], content: bytes) -> Iterator[str]:
    """Hold what is answered where the document has no operation: that there is none, or a refusal before that."""
    allowed = (400, 404, 411, 413, 415) if item is None else (400, 405, 411, 413, 415)
    if status not in allowed:
        yield "there is no such operation in the document"
    if status == 405 and "Allow" not in headers:
        yield "a 405 names what is allowed"
    if content:
        yield from _problem_faults(content)


def _body_faults(answer: Mapping[str, Any], media: str, content: bytes) -> Iterator[str]:
    place = answer["content"][media]["schema"]
    if media == "application/problem+json":
        yield from _problem_faults(content)
        code = json.loads(content).get("code")
        if code not in answer["x-codes"]:
            yield f"the document names no code {code} here, but {answer['x-codes']}"
    elif media.endswith("ndjson"):
        for line in content.splitlines():
            yield from _json_faults(place, json.loads(line))
    elif media.endswith("json"):
        yield from _json_faults(place, json.loads(content))


def _header_faults(answer: Mapping[str, Any], headers: Mapping[str, str]) -> Iterator[str]:
    known = {name: _resolved(header) for name, header in answer.get("headers", {}).items()}
    for name in sorted(_OWN_HEADERS & set(headers)):
        if name not in known:
            yield f"the document has no header {name} here"
    for name, header in known.items():
        if header["schema"]["type"] == "integer" and name in headers and not headers[name].isdigit():
            yield f"{name} is {headers[name]}, not a whole number"
        if header.get("required") and name not in headers:
            yield f"the header {name} is missing"


def _problem_faults(content: bytes) -> Iterator[str]:
    problem = json.loads(content)
    # An atomic batch also says what became of each entry.
    extension = ("mode", "entries") if problem.get("code") == "batch_not_done" else ()
    plain = {name: value for name, value in problem.items() if name not in extension}
    yield from _json_faults({"$ref": "#/components/schemas/Problem"}, plain)


def _json_faults(schema: Mapping[str, Any], document: Any) -> Iterator[str]:
    for error in _validator(json.dumps(schema, sort_keys=True)).iter_errors(document):
        deepest = best_match([error]) or error
        yield f"{deepest.json_path}: {deepest.message[:300]}"


def event_faults(type: str, data: Mapping[str, Any]) -> Iterator[str]:
    """Yield where an event is not what the webhooks section says."""
    webhook = _document()["webhooks"].get(type)
    if webhook is None:
        yield f"event {type}: the document has no such webhook"
        return
    content = webhook["post"]["requestBody"]["content"]["application/json"]
    shape = _resolved(content["schema"])["properties"]["data"]
    for fault in _json_faults(shape, json.loads(exact_json.write(data))):
        yield f"event {type}: {fault}"


@cache
def _document() -> dict[str, Any]:
    """Return the document with every object of an answer closed."""
    document: dict[str, Any] = json.loads((ROOT / "inspections" / "api" / "openapi.json").read_text())
    for name, schema in document["components"]["schemas"].items():
        if not name.endswith("Request"):
            _close(schema)
    return document


def _close(schema: Any) -> None:
    if isinstance(schema, dict):
        if "properties" in schema and "additionalProperties" not in schema:
            schema["additionalProperties"] = False
        for member in list(schema.values()):
            _close(member)
    elif isinstance(schema, list):
        for member in schema:
            _close(member)


@cache
def _paths() -> tuple[tuple[re.Pattern[str], dict[str, Any]], ...]:
    """Return every address as an expression, the plain ones before those with an id in them."""
    ordered = sorted(_document()["paths"].items(), key=lambda one: one[0].count("{"))
    return tuple((re.compile(re.sub(r"\{\w+\}", "[^/]+", path)), item) for path, item in ordered)


@cache
def _item(path: str) -> dict[str, Any] | None:
    return next((item for pattern, item in _paths() if pattern.fullmatch(path)), None)


def _resolved(part: Any) -> Any:
    while isinstance(part, dict) and "$ref" in part:
        target: Any = _document()
        for step in part["$ref"].removeprefix("#/").split("/"):
            target = target[step]
        part = target
    return part


@cache
def _validator(schema: str) -> Draft202012Validator:
    whole = {**copy.copy(json.loads(schema)), "components": {"schemas": _document()["components"]["schemas"]}}
    return Draft202012Validator(whole, format_checker=_formats)
