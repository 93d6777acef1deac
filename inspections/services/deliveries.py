"""Deliveries as rows: claimed by one UPDATE, sent outside any transaction, settled by who still holds them.

A receiver that does not answer rests, longer each time, and has one attempt at a time, so that it takes no courier
from the others. Order is not promised: a delivery that failed is tried again after later ones; receivers order by
the event's time and know what came twice by its id.
"""

import random
import uuid
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any, Final

from django.conf import settings
from django.db import transaction
from django.db.models import DateTimeField, Exists, ExpressionWrapper, F, OuterRef, Q, Value
from django.db.models.functions import Now

from inspections.actor import Actor
from inspections.errors import StateNotReachable
from inspections.models import Delivery, Subscription
from inspections.outgoing.posting import Answer
from inspections.queries import find
from inspections.services import doorbell, outbox, subscriptions, trail

# When each attempt is made, in seconds after the one before it.
SCHEDULE_S: Final = (0, 5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400)
MOST_ATTEMPTS: Final = len(SCHEDULE_S)
MOST_AT_ONCE: Final = 2  # of 16 couriers, so that a receiver that turns silent holds up nobody
_LONGEST_WAIT_S: Final = 86_400
_REST_S: Final = (5, 20, 80, 300)
_RING_AT_ONCE: Final = 500
_TRIES: Final = 20


def _from_now(seconds: float) -> Any:
    return ExpressionWrapper(Now() + Value(timedelta(seconds=seconds)), output_field=DateTimeField())


def _due() -> Q:
    return Q(state="queued", next_attempt_at__lte=Now()) | Q(state="delivering", lease_until__lt=Now())


def claim_next(subscription_id: uuid.UUID) -> Delivery | None:
    """Take the next delivery of a receiver, unless it rests or enough attempts are under way with it."""
    for _ in range(_TRIES):
        awake = Q(rests_until=None) | Q(rests_until__lte=Now())
        receiver = Subscription.objects.filter(awake, pk=subscription_id, is_enabled=True).first()
        rows = Delivery.objects.filter(subscription_id=subscription_id)
        if receiver is None or _under_way(rows) >= (1 if receiver.silent_attempts else MOST_AT_ONCE):
            return None
        due = rows.filter(_due(), attempt__lt=MOST_ATTEMPTS).order_by("next_attempt_at", "id")
        id = due.values_list("id", flat=True).first()
        if id is None:
            return None
        taken = Delivery.objects.filter(_due(), pk=id, attempt__lt=MOST_ATTEMPTS).update(
            state="delivering",
            attempt=F("attempt") + 1,
            lease_until=_from_now(settings.DELIVERY_LEASE_SECONDS),
            updated_at=Now(),
        )
        if taken:
            return Delivery.objects.select_related("subscription", "event", "organisation").get(pk=id)
    return None


def _under_way(rows: Any) -> int:
    return int(rows.filter(state="delivering", lease_until__gte=Now()).count())


def settle(actor: Actor, claimed: Delivery, answer: Answer | None, error: str) -> bool:
    """Write what became of an attempt; False when another courier holds the delivery now."""
    status = answer.status if answer else None
    result: dict[str, Any] = {
        "last_status": status,
        "last_error": error or None,
        "response_excerpt": answer.excerpt if answer else None,
        "lease_until": None,
        "updated_at": Now(),
        **_next_state(claimed, answer),
    }
    with transaction.atomic():
        mine = Delivery.objects.filter(pk=claimed.pk, attempt=claimed.attempt, state="delivering")
        if not mine.update(**result):
            return False
        _note_silence(claimed.subscription_id, is_silent=answer is None)
        if status == 410:
            reason = "the receiver answered 410 Gone"
            subscriptions.subscription_disable(actor=actor, id=claimed.subscription_id, reason=reason)
        return True


def _next_state(claimed: Delivery, answer: Answer | None) -> dict[str, Any]:
    if answer is not None and 200 <= answer.status < 300:
        return {"state": "delivered", "finished_at": Now()}
    if answer is not None and answer.status == 410:
        return {"state": "disabled", "finished_at": Now()}
    if claimed.attempt >= MOST_ATTEMPTS:
        return {"state": "failed", "finished_at": Now()}
    asked = retry_after_s(answer.retry_after if answer else None)
    wait = max(SCHEDULE_S[claimed.attempt] * random.uniform(0.9, 1.1), asked)  # nosec B311 # spreads load, hides nothing
    return {"state": "queued", "next_attempt_at": _from_now(wait)}


def retry_after_s(text: str | None) -> float:
    """Return what Retry-After asks for, in seconds from now, at most a day; 0 where it asks for nothing readable."""
    if text is None:
        return 0.0
    text = text.strip()
    if text.isascii() and text.isdigit():
        return float(min(int(text[:9]), _LONGEST_WAIT_S))
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return 0.0
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    return min(max(0.0, (moment - datetime.now(UTC)).total_seconds()), float(_LONGEST_WAIT_S))


def _note_silence(subscription_id: uuid.UUID, *, is_silent: bool) -> None:
    """Let a receiver that gave no answer rest, longer each time; any answer ends that."""
    receiver = Subscription.objects.filter(pk=subscription_id)
    if not is_silent:
        receiver.filter(silent_attempts__gt=0).update(silent_attempts=0, rests_until=None)
        return
    known = receiver.values_list("silent_attempts", flat=True).first() or 0
    rest = _REST_S[min(known, len(_REST_S) - 1)]
    receiver.update(silent_attempts=F("silent_attempts") + 1, rests_until=_from_now(rest))


def delivery_replay(*, actor: Actor, id: uuid.UUID) -> Delivery:
    """Queue a delivery that ended, however it ended, once more with all its attempts, under the same id."""
    with transaction.atomic():
        row = find.one(Delivery, actor.organisation, id, lock=True)
        if row.state in ("queued", "delivering"):
            raise StateNotReachable(f"The delivery is {row.state}; it is replayed when it has ended.")
        subscriptions.hold_enabled(row.subscription)
        before = {"state": row.state}
        Delivery.objects.filter(pk=row.pk).update(
            state="queued", attempt=0, next_attempt_at=Now(), finished_at=None, updated_at=Now()
        )
        Subscription.objects.filter(pk=row.subscription_id).update(rests_until=None)
        after = {"state": "queued"}
        trail.entry(
            actor=actor, record_type="delivery", record_id=row.id, action="replayed", before=before, after=after
        )
        data = {"id": str(row.id), "event": str(row.event.id), "subscription": str(row.subscription_id)}
        subject = f"deliveries/{row.id}"
        trail.event(organisation=actor.organisation, type="delivery.replayed", subject=subject, data=data)
        outbox.ring_after_commit(row.subscription_id)
        return Delivery.objects.select_related("event").get(pk=row.pk)


def release_delivering() -> int:
    """End the leases of all that is under way; only for a process that knows itself to be the only one."""
    return Delivery.objects.filter(state="delivering").update(lease_until=_from_now(-1.0), updated_at=Now())


def sweep() -> int:
    """Ring for every receiver that has something due although the ring may be lost; return how many.

    Gives up what broke off at its last attempt, and puts aside what was queued while its subscription was disabled.
    """
    unknown = "Given up: the last attempt broke off, and whether it arrived is not known."
    Delivery.objects.filter(state="delivering", lease_until__lt=Now(), attempt__gte=MOST_ATTEMPTS).update(
        state="failed", last_error=unknown, finished_at=Now(), lease_until=None, updated_at=Now()
    )
    disabled = Subscription.objects.filter(pk=OuterRef("subscription_id"), is_enabled=False)
    Delivery.objects.filter(Exists(disabled), state="queued").update(state="disabled", updated_at=Now())
    awake = Q(rests_until=None) | Q(rests_until__lte=Now())
    waiting = Delivery.objects.filter(_due(), subscription_id=OuterRef("pk"))
    receivers = Subscription.objects.filter(awake, Exists(waiting), is_enabled=True)
    ids = list(receivers.order_by("id").values_list("id", flat=True)[:_RING_AT_ONCE])
    for id in ids[: doorbell.lacking(settings.DELIVERY_QUEUE, len(ids))]:
        outbox.ring(id)
    return len(ids)
