"""Batches: many requests in one, each answered by the very view that answers it alone."""

import hashlib
import io
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final
from urllib.parse import unquote

from django.core.handlers.wsgi import WSGIRequest
from django.db import connection, transaction
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import exact_json
from inspections.api import problems
from inspections.api.auth import ANY_TOKEN
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes.batch import BASE, BatchShape, address, split
from inspections.api.views import ResourceView, once
from inspections.errors import BatchNotDone, Fault
from inspections.models import Organisation

Document = dict[str, Any]

_SHOWN_HEADERS: Final = ("ETag", "Location", "Idempotency-Replayed", "Dry-Run", "Retry-After", "WWW-Authenticate")
# What the batch says of itself and no entry inherits.
_OWN_HEADERS: Final = ("HTTP_IDEMPOTENCY_KEY", "HTTP_IF_MATCH", "HTTP_IF_NONE_MATCH", "HTTP_ACCEPT")
_UNDONE: Final = 424


class Batches(ResourceView):
    """Many requests in one. The batch itself needs any token; each entry needs what it needs alone."""

    scopes_needed = {"POST": ANY_TOKEN}

    @described(
        "Send many requests in one",
        body=BatchShape,
        answer=answers.Batch,
        acts=True,
        requires_key=True,
        tagged=False,
        refuses=(BatchNotDone,),
        examples=examples.shown("A customer and a property, both or none", examples.BATCH),
    )
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        asked = BatchShape.checked(request.data)
        with transaction.atomic():
            _take_turns(self.actor.organisation, [split(entry["path"]).path for entry in asked["entries"]])
            entries = [answered(request, entry) for entry in asked["entries"]]
            if asked["mode"] == "atomic" and any(_is_refused(one) for one in entries):
                raise BatchNotDone(
                    "Some entries were refused, so none was done; mend them and send the batch again.",
                    faults=list(_faults(entries)),
                    extension={"mode": "atomic", "entries": _undone(entries)},
                )
        return Response({"mode": asked["mode"], "entries": entries})


def _take_turns(organisation: Organisation, paths: Sequence[str]) -> None:
    """Let batches that name the same records go one after the other, whatever the order they name them in.

    Each would else hold what the other waits for. A request alone locks its records in one order always.
    """
    if connection.vendor != "postgresql":
        return
    named = {tuple(path.split("/")[1:3]) for path in paths}  # ("runs", id) of /runs/{id}/submit
    records = [f"{organisation.pk}/{one[0]}/{one[1]}" for one in named if len(one) == 2]
    digests = (hashlib.sha256(record.encode()).digest() for record in records)
    numbers = sorted(int.from_bytes(digest[:8], "big", signed=True) for digest in digests)
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(pg_advisory_xact_lock(number)) FROM unnest(%s::bigint[]) number", [numbers])


def answered(batch: Request, entry: Mapping[str, Any]) -> Document:
    """Return the answer to a request that came within another. What is refused leaves nothing behind.

    `entry`: method, path, headers (or None), body (or None), as in a batch.
    """
    match = address(entry["path"])
    if match is None:
        return _shown(problems.http_problem(batch._request, 404, detail="There is nothing at this address."))
    with transaction.atomic():
        response = match.func(_request(batch, entry), *match.args, **match.kwargs)
        if response.status_code >= 400:
            transaction.set_rollback(True)
    return _shown(response)


def _request(batch: Request, entry: Mapping[str, Any]) -> HttpRequest:
    """Return the request an entry stands for, as the web server would hand it over, from the batch's caller."""
    parts, headers = split(entry["path"]), entry["headers"] or {}
    body = b"" if entry["body"] is None else exact_json.write(entry["body"])
    patch = "application/merge-patch+json" if entry["method"] == "PATCH" else "application/json"
    outer = {name: value for name, value in batch._request.META.items() if name not in _OWN_HEADERS}
    inner: Any = WSGIRequest(
        {
            **outer,
            "REQUEST_METHOD": entry["method"],
            "PATH_INFO": (BASE + unquote(parts.path)).encode().decode("latin-1"),
            "QUERY_STRING": parts.query,
            "CONTENT_TYPE": headers.get("Content-Type") or patch,
            "CONTENT_LENGTH": str(len(body)),
            "wsgi.input": io.BytesIO(body),
            **{
                f"HTTP_{name.upper().replace('-', '_')}": headers[name]
                for name in ("If-Match", "Idempotency-Key")
                if headers.get(name) is not None
            },
        }
    )
    inner.request_id = getattr(batch._request, "request_id", "")
    inner.caller = (batch.user, batch.auth)
    inner.is_covered_by_batch = True
    return inner  # type: ignore[no-any-return] # a WSGIRequest with what the middleware sets


def _shown(response: HttpResponseBase) -> Document:
    headers = {name: response[name] for name in _SHOWN_HEADERS if response.has_header(name)}
    return {"status": response.status_code, "headers": headers, "body": _body(response)}


def _body(response: Any) -> Any:
    if isinstance(response, Response):
        return response.data
    return exact_json.load(response.content.decode()) if response.content else None


def _is_refused(entry: Document) -> bool:
    return int(entry["status"]) >= 400


def _faults(entries: Sequence[Document]) -> Iterator[Fault]:
    """Yield the faults of the refused entries, placed in the batch."""
    for number, entry in enumerate(entries):
        if not _is_refused(entry):
            continue
        problem = entry["body"]
        if not problem["errors"]:
            yield Fault(("entries", number), problem["code"], problem["detail"])
        for fault in problem["errors"]:
            place = "path" if fault["code"] == "unknown_parameter" else "body"
            steps = [step.replace("~1", "/").replace("~0", "~") for step in fault["pointer"].split("/")[1:]]
            yield Fault(("entries", number, place, *steps), fault["code"], fault["detail"])


def _undone(entries: Sequence[Document]) -> list[Document]:
    """Return the answers with those taken back that were well; no answer may show what is not there."""
    body = problems.problem(
        _UNDONE, code="undone", detail="This entry is well, but another one was refused; send the batch again."
    )
    return [entry if _is_refused(entry) else {"status": _UNDONE, "headers": {}, "body": body} for entry in entries]
