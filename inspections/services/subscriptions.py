"""Subscriptions: made and changed like every plain record; their secret, test and end are their own."""

import uuid
from collections.abc import Callable, Mapping
from typing import Any, Final

from django.conf import settings
from django.db import transaction

from inspections import documents
from inspections.actor import Actor
from inspections.errors import Fault, Invalid, SubscriptionDisabled
from inspections.models import Delivery, Subscription
from inspections.outgoing import destinations
from inspections.queries import find
from inspections.services import outbox, records, trail, webhook_secrets
from inspections.services.records import Document
from inspections.services.revisions import Expected, Outcome

_TOLD: Final = ("external_ref", "url", "event_types", "is_enabled", "description", "format")


def subscription_writable(row: Subscription) -> Document:
    """Return the part of a subscription that a caller sends."""
    return {name: getattr(row, name) for name in _TOLD}


def subscription_document(row: Subscription) -> Document:
    """Return the document of a subscription; its secret is never in it."""
    return {
        "id": str(row.id),
        **subscription_writable(row),
        "disabled_reason": row.disabled_reason,
        "previous_secret_until": row.previous_until,
        **documents.stamps(row),
    }


def _apply(actor: Actor, row: Subscription, document: Mapping[str, Any]) -> None:
    try:
        destinations.destination(document["url"], allowed=settings.WEBHOOK_ALLOW)
    except destinations.NotAllowed as error:
        fault = Fault(("url",), "address_not_allowed", str(error))
        raise Invalid("Nothing is sent to this address.", faults=[fault]) from error
    for name in _TOLD:
        setattr(row, name, document[name])
    row.disabled_reason = None if row.is_enabled else (row.disabled_reason or "disabled by hand")
    row.silent_attempts, row.rests_until = 0, None
    if not row.salt:
        webhook_secrets.secret_renew(row)


KIND: Final = records.Kind(
    Subscription, "subscription", "subscriptions", subscription_document, subscription_writable, _apply
)


def subscription_create(*, actor: Actor, document: Document) -> Outcome[Subscription]:
    """Make a subscription; the same external_ref with equal content again is the same one."""
    return records.record_create(actor=actor, kind=KIND, document=document)


def subscription_put(*, actor: Actor, id: uuid.UUID, document: Document, expected: Expected) -> Outcome[Subscription]:
    """Make a subscription under the client's id, or replace it."""
    with transaction.atomic():
        return _settled(records.record_put(actor=actor, kind=KIND, id=id, document=document, expected=expected))


def subscription_change(
    *, actor: Actor, id: uuid.UUID, edit: Callable[[Document], Document], expected: Expected
) -> Outcome[Subscription]:
    """Change a subscription. What waits for one that is disabled is put aside, to be replayed on request."""
    with transaction.atomic():
        return _settled(records.record_change(actor=actor, kind=KIND, id=id, edit=edit, expected=expected))


def _settled(outcome: Outcome[Subscription]) -> Outcome[Subscription]:
    if not outcome.row.is_enabled:
        Delivery.objects.filter(subscription=outcome.row, state="queued").update(state="disabled")
    else:
        outbox.ring_after_commit(outcome.row.id)
    return outcome


def subscription_delete(*, actor: Actor, id: uuid.UUID, expected: Expected) -> None:
    """Take a subscription away, with what was to be delivered; the events stay in the feed."""
    records.record_delete(actor=actor, kind=KIND, id=id, expected=expected)


def subscription_disable(*, actor: Actor, id: uuid.UUID, reason: str) -> None:
    """Disable a subscription whose receiver says it is gone. Nothing happens when it is disabled already."""
    with transaction.atomic():
        row = Subscription.objects.select_for_update().filter(pk=id, is_enabled=True).first()
        if row is None:
            return
        before = subscription_writable(row)
        row.is_enabled, row.disabled_reason = False, reason
        row.revision += 1
        row.save(update_fields=["is_enabled", "disabled_reason", "revision", "updated_at"])
        _settled(Outcome(row))
        after = subscription_writable(row)
        _noted(actor, row, "disabled", before=before, after=after, reason=reason)


def secret_rotate(*, actor: Actor, id: uuid.UUID, keep_previous_hours: int) -> tuple[Subscription, str]:
    """Give a subscription a new secret and return it; the one before goes on signing for so many hours."""
    with transaction.atomic():
        row = find.one(Subscription, actor.organisation, id, lock=True)
        secret = webhook_secrets.secret_renew(row, keep_previous_s=keep_previous_hours * 3600)
        row.revision += 1
        row.save()
        after = {"previous_secret_until": row.previous_until}
        _noted(actor, row, "secret_rotated", before=None, after=after)
        return row, secret


def subscription_test(*, actor: Actor, id: uuid.UUID) -> Delivery:
    """Send a receiver an event made for this, whatever types it asked for. Raises SubscriptionDisabled."""
    with transaction.atomic():
        row = find.one(Subscription, actor.organisation, id, lock=True)
        hold_enabled(row)
        trail.entry(actor=actor, record_type="subscription", record_id=row.id, action="tested")
        made = trail.event(
            organisation=actor.organisation,
            type="subscription.tested",
            subject=f"subscriptions/{row.id}",
            data={"id": str(row.id), "external_ref": row.external_ref, "revision": row.revision},
        )
        outbox.queue(made, [row])
        return Delivery.objects.select_related("event").get(subscription=row, event=made)


def hold_enabled(row: Subscription) -> None:
    """Raise SubscriptionDisabled unless deliveries are made."""
    if not row.is_enabled:
        raise SubscriptionDisabled("The subscription is disabled; enable it first, then send this again.")


def _noted(actor: Actor, row: Subscription, action: str, *, before: Any, after: Any, reason: str = "") -> None:
    trail.entry(
        actor=actor,
        record_type="subscription",
        record_id=row.id,
        action=action,
        before=before,
        after=after,
        reason=reason,
    )
    data = {"id": str(row.id), "external_ref": row.external_ref, "revision": row.revision}
    subject = f"subscriptions/{row.id}"
    trail.event(organisation=actor.organisation, type=f"subscription.{action}", subject=subject, data=data)
