"""Addresses of the event feed and of the audit trail."""

import uuid
from collections.abc import Callable, Generator, Iterator
from contextlib import closing
from typing import Any, ClassVar

from django.db import connection
from django.db.models import Q, QuerySet
from django.http import StreamingHttpResponse
from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.pages import text_parameter
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.views import ResourceView, parsed_id
from inspections.errors import Fault, Invalid, Malformed, NotFound
from inspections.models import AuditEntry, Event
from inspections.queries import personal
from inspections.services import trail
from inspections.vocabulary import DELIVERY_FORMATS

_MOST = 200


class Events(ResourceView):
    """All committed changes of the organisation, in order, without a gap."""

    parameters = frozenset({"after", "limit", "format"})

    @described(
        "Follow what changes",
        answer=answers.Events,
        filters=("after",),
        named=("format",),
        page_of="events",
        tagged=False,
    )
    def get(self, request: Request) -> Response:
        shape = _format(request)
        rows = _settled(Event.objects.filter(organisation=self.actor.organisation))
        after = request.query_params.get("after")
        if after is not None:
            rows = _behind(rows, after)
        limit = _limit(request)
        found = list(rows.order_by("transaction", "number")[:limit])
        following = None
        if found:
            after = str(found[-1].id)
        if after is not None:
            query = request.query_params.copy()
            query["after"], query["limit"] = after, str(limit)
            following = request.build_absolute_uri(f"{request.path}?{query.urlencode()}")
        return Response({"items": [shape(row) for row in found], "next": following})


def _format(request: Request) -> Callable[[Event], dict[str, Any]]:
    """Return what an event is shown as."""
    wanted = request.query_params.get("format", "plain")
    if wanted not in DELIVERY_FORMATS:
        detail = f"Known are: {', '.join(DELIVERY_FORMATS)}."
        raise Invalid("The format is not known.", faults=[Fault(("format",), "unknown_value", detail)])
    return documents.cloud_event if wanted == "cloudevents" else documents.event


def _settled(rows: QuerySet[Event]) -> QuerySet[Event]:
    """Hold back what is younger than the oldest open transaction: something older may still commit before it."""
    if connection.vendor != "postgresql":
        return rows
    return rows.extra(where=["transaction < pg_snapshot_xmin(pg_current_snapshot())::text::bigint"])


def _behind(rows: QuerySet[Event], after: str) -> QuerySet[Event]:
    try:
        last = rows.filter(id=uuid.UUID(after)).first()
    except ValueError:
        last = None
    if last is None:
        raise Malformed("There is no such event.", faults=[Fault(("after",), "no_such_event", "Send an event's id.")])
    later = Q(transaction__gt=last.transaction) | Q(number__gt=last.number)
    return rows.filter(transaction__gte=last.transaction).filter(later)


def _limit(request: Request) -> int:
    text = request.query_params.get("limit", "100")
    if not (text.isascii() and text.isdigit() and len(text) < 6 and 1 <= int(text) <= _MOST):
        raise Malformed(f"limit is a whole number from 1 to {_MOST}.", faults=[Fault(("limit",), "not_a_limit", text)])
    return int(text)


class AuditEntries(ResourceView):
    """Who did what, when, through what; for auditors."""

    scopes_needed = {"GET": "audit:read"}
    parameters = frozenset({"limit", "after", "record_type", "record_id"})

    @described(
        "Read the audit trail",
        answer=answers.AuditEntries,
        page_of="audit entries",
        filters=("after", "record_type", "record_id"),
    )
    def get(self, request: Request) -> Response:
        rows = AuditEntry.objects.filter(organisation=self.actor.organisation)
        return _entries(request, _of_record(request, rows))


class AuditExport(ResourceView):
    """The whole trail of the organisation, to be verified by others."""

    scopes_needed = {"GET": "audit:read"}
    parameters = frozenset({"record_type", "record_id"})

    @described(
        "Export the audit trail as NDJSON that verifies by itself",
        forms={"application/x-ndjson": str},
        carries=("Content-Disposition",),
        filters=("record_type", "record_id"),
    )
    def get(self, request: Request) -> HttpResponseBase:
        lines = trail.export(_of_record(request, AuditEntry.objects.filter(organisation=self.actor.organisation)))
        first = next(lines)  # what fails does so before the answer begins
        response = StreamingHttpResponse(_from(first, lines), content_type="application/x-ndjson")
        response["Content-Disposition"] = 'attachment; filename="audit-trail.ndjson"'
        return response


def _from(first: bytes, lines: Generator[bytes]) -> Iterator[bytes]:
    """Yield the first line and the others; closed with the answer, also when the client hangs up."""
    with closing(lines):
        yield first
        yield from lines


class History(ResourceView):
    """What became of one record: who changed it, when, through what, from what to what, and why."""

    parameters = frozenset({"limit", "after"})
    record_types: ClassVar[tuple[str, ...]]
    named_by: ClassVar[str] = "id"  # the part of the address that names the record

    @described(
        "Read what became of a record", answer=answers.AuditEntries, page_of="audit entries", filters=("after",)
    )
    def get(self, request: Request, **path: str) -> Response:
        mine = AuditEntry.objects.filter(organisation=self.actor.organisation)
        rows = mine.filter(record_type__in=self.record_types, record_id=str(parsed_id(path[self.named_by])))
        if not rows.exists():
            raise NotFound("There is no such record here; check the id.")
        return _entries(request, rows)


def history(*record_types: str, scope: str = "records:read", named_by: str = "id") -> Callable[..., HttpResponseBase]:
    """Return the view of the history of one kind of record, also of records that were taken away."""
    attributes = {"record_types": record_types, "scopes_needed": {"GET": scope}, "named_by": named_by}
    attributes["__doc__"] = History.__doc__ or ""
    kind: type[History] = type("History", (History,), attributes)
    view: Callable[..., HttpResponseBase] = kind.as_view()
    return view


def _of_record(request: Request, rows: QuerySet[AuditEntry]) -> QuerySet[AuditEntry]:
    for name in ("record_type", "record_id"):
        if name in request.query_params:
            rows = rows.filter(**{name: text_parameter(name, request.query_params[name])})
    return rows


def _entries(request: Request, rows: QuerySet[AuditEntry]) -> Response:
    """Return one page of entries, oldest first."""
    after = request.query_params.get("after", "0")
    if not (after.isascii() and after.isdigit() and len(after) < 19):
        raise Malformed("after is the id of an entry.", faults=[Fault(("after",), "no_such_entry", "A number.")])
    limit = _limit(request)
    found = list(rows.filter(id__gt=int(after)).order_by("id")[:limit])
    following = None
    if len(found) == limit:
        query = request.query_params.copy()
        query["after"] = str(found[-1].id)
        following = request.build_absolute_uri(f"{request.path}?{query.urlencode()}")
    items = [_entry(row, *documents) for row, documents in zip(found, personal.opened(found), strict=True)]
    return Response({"items": items, "next": following})


def _entry(row: AuditEntry, before: Any, after: Any) -> dict[str, Any]:
    shown = [
        "id",
        "record_type",
        "record_id",
        "number",
        "at",
        "actor",
        "through",
        "request_id",
        "action",
        "reason",
        "previous_hash",
        "hash",
    ]
    return {
        **{name: getattr(row, name) for name in shown},
        "before": before,
        "after": after,
    }
