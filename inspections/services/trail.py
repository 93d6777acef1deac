"""The trail: one audit entry a change, chained by record, and events for those who follow.

Both are written by an explicit call in the transaction of the change itself: what rolls back leaves no trace,
what commits always does.
"""

import hashlib
import secrets
import uuid
from collections.abc import Generator, Iterator, Mapping
from datetime import datetime
from itertools import islice
from typing import Any

from django.db import connection, transaction
from django.db.models import BigIntegerField, Func, OuterRef, QuerySet, Subquery, UUIDField, Value
from django.db.models.expressions import Combinable
from django.db.models.functions import Now
from django.utils import timezone

from inspections import exact_json, tracing
from inspections.actor import Actor
from inspections.models import AuditEntry, AuditHead, Event, Organisation, PersonalValue
from inspections.queries import personal
from inspections.services import outbox, tables
from inspections.vocabulary import EVENT_TYPES

GENESIS = "0" * 64
_CHUNK = 500


def entry(
    *,
    actor: Actor,
    record_type: str,
    record_id: uuid.UUID | str,
    action: str,
    before: Any = None,
    after: Any = None,
    reason: str = "",
    at: datetime | None = None,
) -> AuditEntry:
    """Append one entry to the chain of one record. Must run inside the change's transaction.

    `at`: when the record says it was changed, where it does; the record is shown as of earlier times by it.
    """
    row, values = _entry(actor, record_type, str(record_id), action, before, after, reason, at)
    # No savepoint: what fails here must take the change with it.
    with transaction.atomic(savepoint=False):
        PersonalValue.objects.bulk_create(values)
        _link(row)
        row.save(force_insert=True)
    return row


def begun(*, actor: Actor, row: Any, record_type: str, action: str, after: Any, data: dict[str, Any]) -> bool:
    """Insert a new record with the first entry of its chain and its event; False where the record is there already.

    What trail.entry and trail.event write after it is written with it, in one statement where the database can.
    """
    first, values = _entry(actor, record_type, str(row.pk), action, None, after, "", None)
    first.at = row.updated_at = row.created_at = timezone.now()
    head = _begin_chain(first)
    told = _event(actor.organisation, f"{record_type}.{action}", f"{record_type}s/{row.pk}", data)
    count = tables.insert_in_turn([row, head, first, told])
    if count == 0:
        return False
    PersonalValue.objects.bulk_create(values)
    if count == 1:  # the id had a record before: its chain goes on
        _link(first)
        first.save(force_insert=True)
        told.save(force_insert=True)
    outbox.event_queue(told)
    return True


def _entry(
    actor: Actor,
    record_type: str,
    record_id: str,
    action: str,
    before: Any,
    after: Any,
    reason: str,
    at: datetime | None,
) -> tuple[AuditEntry, list[PersonalValue]]:
    """Return an entry that is in no chain yet, and the personal values that stand apart from it."""
    key = {"record_type": record_type, "record_id": record_id}
    was, values_then = _sealed(actor.organisation, key, before)
    now, values_now = _sealed(actor.organisation, key, after)
    row = AuditEntry(
        **key,
        organisation=actor.organisation,
        actor=actor.name,
        through=actor.through,
        request_id=actor.request_id,
        action=action,
        reason=reason,
        before=was,
        after=now,
    )
    if at is not None:
        row.at = at
    return row, [*values_then, *values_now]


def _sealed(organisation: Organisation, key: Mapping[str, str], document: Any) -> tuple[str, list[PersonalValue]]:
    """Return a document as the trail keeps it, and the personal values that stand apart from it, to be erasable."""
    text = exact_json.write_text(document)
    owner = personal.owner_of(**key, document=document)
    if owner is None or key["record_type"] not in personal.PLACES:
        return text, []
    document, values = exact_json.load(text), []
    for inside, name in personal.places(key["record_type"], document):
        value = inside[name]
        if isinstance(value, str) and value != personal.ERASED_NAME:
            salt = secrets.token_hex(16)
            digest = personal.digest_of(salt, value)
            values.append(
                PersonalValue(organisation=organisation, digest=digest, customer=owner, salt=salt, value=value)
            )
            inside[name] = {personal.SEALED: digest}
    return exact_json.write_text(document), values


def _begin_chain(row: AuditEntry) -> AuditHead:
    """Make an entry the first of its chain and return the head that says so."""
    row.number, row.previous_hash = 1, GENESIS
    row.hash = entry_hash(row)
    return AuditHead(record_type=row.record_type, record_id=row.record_id, number=1, hash=row.hash)


def _link(row: AuditEntry) -> None:
    """Put an entry at the end of its record's chain, or at the beginning of a new one."""
    key = {"record_type": row.record_type, "record_id": row.record_id}
    # The clock that counts is the database's: a machine's own may be wrong.
    locked = AuditHead.objects.annotate(now=Now()).select_for_update().filter(**key)
    head = locked.first()
    if head is None:
        tables.insert_unless_there(AuditHead(**key, number=0, hash=GENESIS))
        head = locked.get()
    if row.at is None:
        row.at = head.now
    row.number, row.previous_hash = head.number + 1, head.hash
    row.hash = entry_hash(row)
    AuditHead.objects.filter(pk=head.pk).update(number=row.number, hash=row.hash)


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
    """Append one event to the feed and queue it for those who subscribed. Must run inside the change's transaction.

    `type` is one of `vocabulary.EVENT_TYPES`: nobody can subscribe to what is not listed there.
    """
    row = _event(organisation, type, subject, data)
    row.save(force_insert=True)
    outbox.event_queue(row)
    return row


def _event(organisation: Organisation, type: str, subject: str, data: dict[str, Any]) -> Event:
    if type not in EVENT_TYPES:
        raise ValueError(f"{type} is no event type; list it in vocabulary.EVENT_TYPES with its meaning")
    return Event(
        organisation=organisation,
        transaction=_this_transaction(),
        request_id=tracing.current(),
        type=type,
        time=Now(),
        subject=subject,
        data=exact_json.write_text(data),
    )


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


def heads() -> Iterator[dict[str, Any]]:
    """Yield the head of every chain, to be kept outside: what verifying against an anchor needs."""
    newest = AuditEntry.objects.filter(
        record_type=OuterRef("record_type"), record_id=OuterRef("record_id"), number=OuterRef("number")
    )
    rows = AuditHead.objects.annotate(
        organisation=Subquery(newest.values("organisation_id")[:1], output_field=UUIDField())
    )
    for row in rows.order_by("record_type", "record_id").iterator(chunk_size=2000):
        yield {
            "record_type": row.record_type,
            "record_id": row.record_id,
            "organisation": str(row.organisation or ""),
            "number": row.number,
            "hash": row.hash,
        }


def export(rows: QuerySet[AuditEntry]) -> Generator[bytes]:
    """Yield entries as NDJSON, chain by chain, so that the hash of each can be computed from its line alone.

    `before` and `after` are the texts that were hashed; `opened` has salt and value of the digests in them that stand
    for personal values not erased since. The last line says how many entries there are.
    """
    count = 0
    for row, opened in _with_openings(rows.order_by("record_type", "record_id", "number")):
        names = ("record_type", "record_id", "number", "actor", "through", "request_id", "action", "reason")
        line = {name: getattr(row, name) for name in names}
        line |= {"organisation": str(row.organisation_id or ""), "at": row.at.isoformat()}
        line |= {"before": row.before, "after": row.after, "previous_hash": row.previous_hash, "hash": row.hash}
        line |= {"opened": opened} if opened else {}
        count += 1
        yield exact_json.write(line) + b"\n"
    yield exact_json.write({"entries": count}) + b"\n"


def _with_openings(rows: QuerySet[AuditEntry]) -> Iterator[tuple[AuditEntry, dict[str, list[str]]]]:
    found = rows.iterator(chunk_size=_CHUNK)
    while chunk := list(islice(found, _CHUNK)):
        yield from zip(chunk, personal.openings(chunk), strict=True)


Anchor = Mapping[tuple[str, str], tuple[int, str]]


def first_bad_row(*, heads: bool = True, anchor: Anchor | None = None) -> tuple[AuditEntry | AuditHead, str] | None:
    """Walk every chain and return the first row that does not fit, with the reason, or None.

    `anchor`: number and hash of heads that were kept elsewhere, by record; each must still stand in its chain.
    """
    missing = dict(anchor or {})
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
        if missing.get((row.record_type, row.record_id)) == (row.number, row.hash):
            del missing[row.record_type, row.record_id]
    for head in AuditHead.objects.order_by("id").iterator(chunk_size=2000) if heads else ():
        if chain.pop((head.record_type, head.record_id), (0, GENESIS)) != (head.number, head.hash):
            return head, "the newest entries of its record were removed or added"
    for record_type, record_id in sorted(chain):
        row = AuditEntry.objects.filter(record_type=record_type, record_id=record_id).latest("number")
        return row, "its record has no head"
    for (record_type, record_id), (number, hash) in sorted(missing.items()):
        row_then = AuditHead(record_type=record_type, record_id=record_id, number=number, hash=hash)
        return row_then, "was there when the anchor was made and is missing or other now"
    return _first_bad_value()


def _first_bad_value() -> tuple[AuditEntry, str] | None:
    rows = AuditEntry.objects.filter(record_type__in=personal.PLACES).order_by("record_type", "record_id", "number")
    found = rows.iterator(chunk_size=_CHUNK)
    while chunk := list(islice(found, _CHUNK)):
        bad = personal.first_bad_value(chunk)
        if bad is not None:
            return bad
    return None
