"""The trail: one audit entry a change, chained by record, and events for those who follow.

Both are written by an explicit call in the transaction of the change itself: what rolls back leaves no trace,
what commits always does.
"""

import hashlib
import uuid
from typing import Any

from django.db import connection, transaction
from django.db.models import BigIntegerField, Func, Value
from django.db.models.expressions import Combinable
from django.utils import timezone

from inspections import exact_json
from inspections.actor import Actor
from inspections.models import AuditEntry, AuditHead, Event, Organisation
from inspections.services import outbox

GENESIS = "0" * 64


def entry(
    *,
    actor: Actor,
    record_type: str,
    record_id: uuid.UUID | str,
    action: str,
    before: Any = None,
    after: Any = None,
    reason: str = "",
) -> AuditEntry:
    """Append one entry to the chain of one record. Must run inside the change's transaction."""
    key = {"record_type": record_type, "record_id": str(record_id)}
    with transaction.atomic():
        AuditHead.objects.bulk_create([AuditHead(**key, number=0, hash=GENESIS)], ignore_conflicts=True)
        head = AuditHead.objects.select_for_update().get(**key)
        row = AuditEntry(
            **key,
            organisation=actor.organisation,
            number=head.number + 1,
            at=timezone.now(),
            actor=actor.name,
            through=actor.through,
            request_id=actor.request_id,
            action=action,
            reason=reason,
            before=exact_json.write_text(before),
            after=exact_json.write_text(after),
            previous_hash=head.hash,
        )
        row.hash = entry_hash(row)
        row.save(force_insert=True)
        AuditHead.objects.filter(pk=head.pk).update(number=row.number, hash=row.hash)
    return row


def entry_hash(row: AuditEntry) -> str:
    """Return the hash that binds an entry to its content and to the entry before it."""
    content = [
        row.previous_hash,
        row.record_type,
        row.record_id,
        row.number,
        str(row.organisation_id or ""),
        row.at.isoformat(),
        row.actor,
        row.through,
        row.request_id,
        row.action,
        row.reason,
        row.before,
        row.after,
    ]
    return hashlib.sha256(exact_json.canonical(content)).hexdigest()


def event(*, organisation: Organisation, type: str, subject: str, data: dict[str, Any]) -> Event:
    """Append one event to the feed and queue it for those who subscribed. Must run inside the change's transaction."""
    row = Event.objects.create(
        organisation=organisation,
        transaction=_this_transaction(),
        type=type,
        time=timezone.now(),
        subject=subject,
        data=exact_json.write_text(data),
    )
    outbox.event_queue(row)
    return row


def _this_transaction() -> Combinable:
    """Return what orders events by commit.

    PostgreSQL: the transaction's own id; readers stop before the oldest open one, so an event that commits
    late is never behind a reader's cursor. SQLite has one writer at a time: the row number is the order.
    """
    if connection.vendor == "postgresql":
        return Func(
            function="pg_current_xact_id",
            template="(%(function)s()::text::bigint)",
            output_field=BigIntegerField(),
        )
    return Value(0)


def first_bad_row(*, heads: bool = True) -> tuple[AuditEntry | AuditHead, str] | None:
    """Walk every chain and return the first row that does not fit, with the reason, or None."""
    chain: dict[tuple[str, str], tuple[int, str]] = {}
    for row in AuditEntry.objects.order_by("record_type", "record_id", "number").iterator(chunk_size=2000):
        number, previous = chain.get((row.record_type, row.record_id), (0, GENESIS))
        if row.number != number + 1:
            return row, f"entry {number + 1} of its record is missing"
        if row.previous_hash != previous:
            return row, "does not follow from the entry before it"
        if entry_hash(row) != row.hash:
            return row, "content was changed after it was written"
        chain[row.record_type, row.record_id] = (row.number, row.hash)
    for head in AuditHead.objects.order_by("id").iterator(chunk_size=2000) if heads else ():
        if chain.pop((head.record_type, head.record_id), (0, GENESIS)) != (head.number, head.hash):
            return head, "the newest entries of its record were removed or added"
    for record_type, record_id in sorted(chain):
        row = AuditEntry.objects.filter(record_type=record_type, record_id=record_id).latest("number")
        return row, "its record has no head"
    return None
