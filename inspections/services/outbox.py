"""What leaves the service: each event becomes a row for every receiver that wants it, in the event's transaction.

The row is the queue; the broker is only told, after the commit, that a receiver has something waiting.
"""

import uuid
from collections.abc import Iterable
from typing import Final

from django.db import transaction
from django.db.models.functions import Now

from inspections.models import Delivery, Event, Subscription
from inspections.queries.prepared import SAMPLE_IDS, Prepared
from inspections.services import doorbell

TASK: Final = "inspections.deliver"


def event_queue(row: Event) -> None:
    """Queue an event for every enabled subscription of its organisation that wants its type."""
    enabled = _ENABLED(row.organisation_id)
    chosen = [Subscription(id=id) for id, event_types in enabled if wants(event_types, row.type)]
    if chosen:
        queue(row, chosen)


_ENABLED: Final = Prepared(
    lambda organisation: (
        Subscription.objects.filter(organisation=organisation, is_enabled=True)
        .order_by("id")
        .values_list("id", "event_types")
    ),
    SAMPLE_IDS[0],
)


def queue(row: Event, receivers: Iterable[Subscription]) -> None:
    """Queue an event for these receivers; for one that has it already nothing is added."""
    deliveries = [
        Delivery(organisation_id=row.organisation_id, subscription=one, event=row, next_attempt_at=Now())
        for one in receivers
    ]
    Delivery.objects.bulk_create(deliveries, ignore_conflicts=True)
    for delivery in deliveries:
        ring_after_commit(delivery.subscription_id)


def wants(patterns: Iterable[str], type: str) -> bool:
    """Tell whether an event type matches one of the patterns: the type itself, `run.*`, or `*`."""
    return any(pattern in ("*", type) or pattern == f"{type.partition('.')[0]}.*" for pattern in patterns)


def ring_after_commit(subscription_id: uuid.UUID) -> None:
    """Ring once the transaction is committed."""
    transaction.on_commit(lambda: ring(subscription_id))


def ring(subscription_id: uuid.UUID) -> None:
    """Tell the couriers that a receiver has something waiting."""
    doorbell.ring(TASK, subscription_id)
