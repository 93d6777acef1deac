"""Deliveries: retried on schedule, never twice at a time, never at the expense of other receivers."""

from __future__ import annotations

import json
import uuid
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from typing import Any

import pytest
from celery import current_app
from django.utils import timezone
from pytest_django.fixtures import Settings
from standardwebhooks.webhooks import Webhook, WebhookVerificationError

from inspections.models import AuditEntry, Delivery, Event, Subscription
from inspections.outgoing import posting
from inspections.outgoing.posting import Answer, NoAnswer
from inspections.services import couriers, deliveries, doorbell, outbox, subscriptions, trail, webhook_secrets
from inspections.services.revisions import Expected
from tests import people
from tests.receivers import Receiver, receiving


def subscribed(firm: people.Firm, url: str = "https://hooks.example.com/", **changes: Any) -> Subscription:
    document = {
        "external_ref": None,
        "url": url,
        "event_types": ["run.*"],
        "is_enabled": True,
        "description": None,
        "format": "plain",
        **changes,
    }
    return subscriptions.subscription_create(actor=firm.actor, document=document).row


RUN = "0b9f6f0e-6d0f-4f43-9a0e-6b5f3c1d2e4f"
TOLD = {"id": RUN, "job": "7c1d2a3b-4e5f-4a6b-8c7d-9e0f1a2b3c4d", "state": "submitted", "revision": 2}


def happened(firm: people.Firm) -> Event:
    return trail.event(organisation=firm.organisation, type="run.submitted", subject=f"runs/{RUN}", data=dict(TOLD))


def answering(monkeypatch: pytest.MonkeyPatch, *answers: Answer | Exception) -> list[dict[str, str]]:
    """Have every POST answered so, in turn, then by the last one; return the headers that were sent."""
    sent: list[dict[str, str]] = []

    def post(found: object, body: bytes, headers: dict[str, str]) -> Answer:
        sent.append(dict(headers))
        answer = answers[min(len(sent), len(answers)) - 1]
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(couriers.posting, "post", post)
    return sent


def due_now() -> None:
    Delivery.objects.filter(state="queued").update(next_attempt_at=timezone.now() - timedelta(seconds=1))
    Subscription.objects.update(rests_until=None)


@pytest.fixture
def receiver(settings: Settings) -> Any:
    with receiving() as found:
        settings.WEBHOOK_ALLOW = (found.allowed,)
        yield found


def test_what_is_delivered_is_the_event_and_verifies_with_the_reference_library(
    firm: people.Firm, receiver: Receiver
) -> None:
    row = subscribed(firm, receiver.url)
    event = happened(firm)
    assert couriers.deliver(row.id) == 1
    (path, headers, body) = receiver.received[0]
    told = Webhook(webhook_secrets.secret_of(row)).verify(body, headers)
    assert told["id"] == headers["webhook-id"] == str(event.id)
    assert (told["type"], told["subject"], told["data"]) == ("run.submitted", f"runs/{RUN}", TOLD)
    assert (path, headers["content-type"]) == ("/hook?of=town", "application/json")
    done = Delivery.objects.get()
    assert (done.state, done.attempt, done.last_status, done.last_error) == ("delivered", 1, 200, None)


def test_a_subscription_may_ask_for_cloudevents(firm: people.Firm, receiver: Receiver) -> None:
    row = subscribed(firm, receiver.url, format="cloudevents")
    event = happened(firm)
    couriers.deliver(row.id)
    (_, headers, body) = receiver.received[0]
    told = json.loads(body)
    assert headers["content-type"] == "application/cloudevents+json"
    assert (told["specversion"], told["id"], told["type"]) == ("1.0", str(event.id), "run.submitted")
    assert told["source"] == f"urn:uuid:{firm.organisation.id}"


def test_both_secrets_sign_while_rotating_and_only_the_new_one_after(firm: people.Firm, receiver: Receiver) -> None:
    row = subscribed(firm, receiver.url)
    old = webhook_secrets.secret_of(row)
    _, new = subscriptions.secret_rotate(actor=firm.actor, id=row.id, keep_previous_hours=1)
    happened(firm)
    couriers.deliver(row.id)
    (_, headers, body) = receiver.received[0]
    assert Webhook(old).verify(body, headers) == Webhook(new).verify(body, headers)
    Subscription.objects.update(previous_until=timezone.now() - timedelta(seconds=1))
    happened(firm)
    couriers.deliver(row.id)
    (_, headers, body) = receiver.received[1]
    Webhook(new).verify(body, headers)
    with pytest.raises(WebhookVerificationError):
        Webhook(old).verify(body, headers)


def test_ten_attempts_are_made_on_the_schedule_under_one_id(
    firm: people.Firm, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(deliveries.random, "uniform", lambda low, high: 1.0)
    sent = answering(monkeypatch, Answer(500, None, "broken"))
    row = subscribed(firm)
    happened(firm)
    waits = []
    for _ in range(10):
        due_now()
        couriers.deliver(row.id)
        delivery = Delivery.objects.get()
        waits.append(round((delivery.next_attempt_at - timezone.now()).total_seconds() / 5) * 5)
    # 5 s, 5 min, 30 min, 2 h, 5 h, 10 h, 14 h, 20 h, 24 h after the attempt before (Standard Webhooks, retries).
    assert waits[:9] == [5, 300, 1800, 7200, 18000, 36000, 50400, 72000, 86400]
    assert (delivery.state, delivery.attempt, delivery.last_error) == (
        "failed",
        10,
        "The receiver answered 500.",
    )
    due_now()
    assert couriers.deliver(row.id) == 0
    assert len(sent) == 10 and len({headers["webhook-id"] for headers in sent}) == 1


def test_waits_are_spread_by_a_tenth(firm: people.Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[float, float]] = []
    monkeypatch.setattr(deliveries.random, "uniform", lambda *bounds: asked.append(bounds) or 1.0)
    answering(monkeypatch, Answer(500, None, ""))
    row = subscribed(firm)
    happened(firm)
    couriers.deliver(row.id)
    assert asked == [(0.9, 1.1)]


@pytest.mark.parametrize("status", [199, 301, 302, 304, 400, 404, 429, 500, 503])
def test_only_2xx_is_success(firm: people.Firm, monkeypatch: pytest.MonkeyPatch, status: int) -> None:
    answering(monkeypatch, Answer(status, None, ""))
    row = subscribed(firm)
    happened(firm)
    couriers.deliver(row.id)
    assert Delivery.objects.get().state == "queued"


def test_410_disables_the_subscription_and_all_that_waits(firm: people.Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    answering(monkeypatch, Answer(410, None, "gone"))
    row = subscribed(firm)
    for _ in range(3):
        happened(firm)
    assert couriers.deliver(row.id) == 1
    row.refresh_from_db()
    assert (row.is_enabled, row.disabled_reason) == (False, "the receiver answered 410 Gone")
    assert set(Delivery.objects.values_list("state", flat=True)) == {"disabled"}
    entry = AuditEntry.objects.filter(record_type="subscription").latest("number")
    assert (entry.action, entry.actor, entry.through) == ("disabled", "courier", "worker")
    assert Event.objects.latest("number").type == "subscription.disabled"
    happened(firm)
    assert Delivery.objects.count() == 3


@pytest.mark.parametrize(
    ("text", "seconds"),
    [(None, 0), ("120", 120), (" 7 ", 7), ("99999999999", 86_400), ("-5", 0), ("soon", 0), ("", 0), ("１２", 0)],
)
def test_retry_after_is_read_in_seconds(text: str | None, seconds: float) -> None:
    assert deliveries.retry_after_s(text) == seconds


def test_retry_after_is_read_as_a_date() -> None:
    later = format_datetime(datetime.now(UTC) + timedelta(minutes=10), usegmt=True)
    assert 590 < deliveries.retry_after_s(later) <= 600
    assert deliveries.retry_after_s("Wed, 21 Oct 2015 07:28:00 GMT") == 0


def test_a_receiver_that_asks_for_time_is_given_it(firm: people.Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    answering(monkeypatch, Answer(503, "3600", ""))
    row = subscribed(firm)
    happened(firm)
    couriers.deliver(row.id)
    wait = (Delivery.objects.get().next_attempt_at - timezone.now()).total_seconds()
    assert 3590 < wait <= 3600


def test_a_silent_receiver_rests_and_has_one_attempt_at_a_time(
    firm: people.Firm, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent = answering(monkeypatch, NoAnswer("No answer came within 15 s."), Answer(200, None, ""))
    row = subscribed(firm)
    for _ in range(5):
        happened(firm)
    assert couriers.deliver(row.id) == 1  # the other four wait, although they are due
    row.refresh_from_db()
    assert row.silent_attempts == 1 and row.rests_until is not None
    assert couriers.deliver(row.id) == 0
    assert deliveries.sweep() == 0
    Subscription.objects.update(rests_until=timezone.now() - timedelta(seconds=1))
    first = deliveries.claim_next(row.id)
    assert first is not None and deliveries.claim_next(row.id) is None
    Delivery.objects.filter(pk=first.pk).update(state="queued", attempt=0)
    assert couriers.deliver(row.id) == 4  # the first is not due again for some seconds
    row.refresh_from_db()
    assert (row.silent_attempts, row.rests_until) == (0, None)
    assert len(sent) == 5


def test_two_attempts_at_a_time_are_made_with_one_receiver(firm: people.Firm) -> None:
    row = subscribed(firm)
    for _ in range(6):
        happened(firm)
    claimed = [deliveries.claim_next(row.id) for _ in range(4)]
    assert [one is not None for one in claimed] == [True, True, False, False]


def test_a_courier_that_lost_its_lease_writes_nothing(firm: people.Firm) -> None:
    row = subscribed(firm)
    happened(firm)
    first = deliveries.claim_next(row.id)
    Delivery.objects.update(lease_until=timezone.now() - timedelta(seconds=1))
    second = deliveries.claim_next(row.id)
    assert first is not None and second is not None and second.attempt == 2
    assert not deliveries.settle(firm.actor, first, Answer(200, None, ""), "")
    assert deliveries.settle(firm.actor, second, Answer(200, None, ""), "")
    assert Delivery.objects.get().state == "delivered"


def test_what_broke_off_at_its_last_attempt_is_given_up_by_the_sweep(firm: people.Firm) -> None:
    row = subscribed(firm)
    happened(firm)
    past = timezone.now() - timedelta(seconds=1)
    Delivery.objects.update(state="delivering", attempt=10, lease_until=past)
    assert deliveries.claim_next(row.id) is None
    deliveries.sweep()
    assert Delivery.objects.get().state == "failed"


def test_the_sweep_rings_once_for_each_receiver_that_has_something_due(
    firm: people.Firm, monkeypatch: pytest.MonkeyPatch
) -> None:
    rung: list[uuid.UUID] = []
    monkeypatch.setattr(outbox, "ring", rung.append)
    one, other, idle = subscribed(firm), subscribed(firm, external_ref="b"), subscribed(firm, event_types=["job.*"])
    happened(firm)
    happened(firm)
    assert deliveries.sweep() == 2
    assert sorted(rung) == sorted([one.id, other.id]) and idle.id not in rung
    Delivery.objects.update(next_attempt_at=timezone.now() + timedelta(hours=1))
    assert deliveries.sweep() == 0


def test_what_was_queued_while_its_subscription_was_disabled_is_put_aside(firm: people.Firm) -> None:
    row = subscribed(firm)
    happened(firm)
    Subscription.objects.filter(pk=row.pk).update(is_enabled=False)
    deliveries.sweep()
    assert Delivery.objects.get().state == "disabled"


def test_a_broker_that_is_away_costs_one_refused_connection_only(monkeypatch: pytest.MonkeyPatch) -> None:
    tries: list[object] = []

    def away(*_: object, **__: object) -> None:
        tries.append(1)
        raise ConnectionError("refused")

    monkeypatch.setattr(current_app, "send_task", away)
    monkeypatch.setitem(doorbell._broker, "away_until", 0.0)
    for _ in range(50):
        outbox.ring(uuid.uuid4())
    assert len(tries) == 1


def test_a_changed_key_of_the_service_is_said_and_nothing_is_sent(
    firm: people.Firm, monkeypatch: pytest.MonkeyPatch, settings: Settings
) -> None:
    sent = answering(monkeypatch, Answer(200, None, ""))
    row = subscribed(firm)
    happened(firm)
    old = settings.SECRET_KEY
    settings.SECRET_KEY = "another key of the service, long enough"
    couriers.deliver(row.id)
    assert sent == [] and "rotate" in str(Delivery.objects.get().last_error)
    settings.SECRET_KEY_FALLBACKS = [old]
    due_now()
    couriers.deliver(row.id)
    assert Delivery.objects.get().state == "delivered"


def test_an_address_that_is_not_allowed_any_more_is_not_called(firm: people.Firm, settings: Settings) -> None:
    with receiving() as receiver:
        settings.WEBHOOK_ALLOW = (receiver.allowed,)
        row = subscribed(firm, receiver.url)
        settings.WEBHOOK_ALLOW = ()
        happened(firm)
        couriers.deliver(row.id)
        assert receiver.received == []
    assert Delivery.objects.get().last_error == "Only https is called."


def test_an_attempt_is_over_well_within_its_lease(settings: Settings) -> None:
    assert posting.TOTAL_S == 15 and settings.DELIVERY_LEASE_SECONDS > posting.TOTAL_S + posting._EXCERPT_S


def test_equal_content_again_keeps_the_secret(firm: people.Firm) -> None:
    row = subscribed(firm, external_ref="a")
    secret = webhook_secrets.secret_of(row)
    again = subscriptions.subscription_change(
        actor=firm.actor, id=row.id, edit=lambda document: document, expected=Expected()
    )
    assert webhook_secrets.secret_of(again.row) == secret
