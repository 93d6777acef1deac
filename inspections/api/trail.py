"""Addresses of the event feed and of the audit trail."""

import uuid
from collections.abc import Callable
from typing import Any

from django.db import connection
from django.db.models import Q, QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents, exact_json
from inspections.api.pages import text_parameter
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.views import ResourceView
from inspections.errors import Fault, Invalid, Malformed
from inspections.models import AuditEntry, Event
from inspections.vocabulary import DELIVERY_FORMATS

_MOST = 200


class Events(ResourceView):
    """All committed changes of the organisation, in order, without a gap."""

    parameters = frozenset({"after", "limit", "format"})

    @described(
        "Follow what changes", answer=answers.Events, filters=("after",), named=("format",), page_of="events"
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
        for name in ("record_type", "record_id"):
            if name in request.query_params:
                rows = rows.filter(**{name: text_parameter(name, request.query_params[name])})
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
        return Response({"items": [_entry(row) for row in found], "next": following})


def _entry(row: AuditEntry) -> dict[str, Any]:
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
        "before": exact_json.load(row.before),
        "after": exact_json.load(row.after),
    }
