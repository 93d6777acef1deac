"""What a courier does: takes what waits for one receiver, signs it, sends it, writes down what became of it."""

import logging
import time
import uuid
from typing import Final

from django.conf import settings

from inspections import documents, exact_json, tracing
from inspections.actor import Actor
from inspections.models import Delivery
from inspections.outgoing import destinations, posting, signatures
from inspections.services import deliveries, outbox, webhook_secrets

logger = logging.getLogger(__name__)

_AT_ONE_RING_S: Final = 20.0
MEDIA_TYPES: Final = {"plain": "application/json", "cloudevents": "application/cloudevents+json"}


def deliver(subscription_id: uuid.UUID) -> int:
    """Send what waits for one receiver, for a bounded time, then leave the courier to others; return how many."""
    until = time.monotonic() + _AT_ONE_RING_S
    count = 0
    while time.monotonic() < until:
        claimed = deliveries.claim_next(subscription_id)
        if claimed is None:
            return count
        _attempt(claimed)
        count += 1
    outbox.ring(subscription_id)
    return count


def _attempt(claimed: Delivery) -> None:
    with tracing.working_for(claimed.event.request_id):
        began = time.perf_counter()
        status = _attempted(claimed)
        ms = round((time.perf_counter() - began) * 1000, 1)
        beside = {"delivery": str(claimed.pk), "event": claimed.event.type, "attempt": claimed.attempt}
        logger.info("delivery", extra={**beside, "status": status, "ms": ms})


def _attempted(claimed: Delivery) -> int | None:
    answer, error = None, ""
    try:
        answer = _sent(claimed)
        error = "" if 200 <= answer.status < 300 else f"The receiver answered {answer.status}."
    except (posting.NoAnswer, destinations.NotAllowed, webhook_secrets.SecretLost) as reason:
        error = str(reason)
    actor = Actor(claimed.organisation, "worker", "courier", "worker", request_id=claimed.event.request_id)
    deliveries.settle(actor, claimed, answer, error)
    return answer.status if answer else None


def _sent(claimed: Delivery) -> posting.Answer:
    receiver = claimed.subscription
    found = destinations.destination(receiver.url, allowed=settings.WEBHOOK_ALLOW)
    body = body_of(claimed)
    # The database's time of the claim: receivers refuse what a wrong clock has signed.
    id, now = str(claimed.event.id), int(claimed.updated_at.timestamp())
    signed = signatures.headers(webhook_secrets.secrets_now(receiver), id=id, timestamp=now, body=body)
    headers = {"Content-Type": MEDIA_TYPES[receiver.format], "User-Agent": "Pullback", "Accept": "*/*", **signed}
    headers |= {"X-Request-Id": claimed.event.request_id} if claimed.event.request_id else {}
    return posting.post(found, body, headers)


def body_of(row: Delivery) -> bytes:
    """Return what is sent: the event as the receiver wants it, the same at every attempt."""
    wanted = documents.cloud_event if row.subscription.format == "cloudevents" else documents.event
    return exact_json.write(wanted(row.event))
