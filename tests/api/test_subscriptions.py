"""Subscriptions and deliveries over the API: secrets shown once, bad input named, others' records not there."""

from __future__ import annotations

import time
import uuid
from typing import Any

import pytest
from pytest_django.fixtures import Settings

from inspections.models import AuditEntry, Delivery, Event, KeptAnswer, Subscription
from inspections.services import couriers, outbox
from tests import builders, people
from tests.api.answers import fault_codes, job_of, nothing_changes, read, refused
from tests.client import Api
from tests.receivers import receiving

WANTED = {"url": "https://hooks.example.com/pullback", "event_types": ["job.*"], "description": "the dispatcher's"}


@pytest.fixture
def admin(firm: people.Firm) -> Api:
    return Api(firm.token("admin", client="keeper"))


@pytest.fixture
def rival_admin(rival: people.Firm) -> Api:
    return Api(rival.token("admin", client="keeper"))


def subscription_of(admin: Api, **changes: Any) -> dict[str, Any]:
    made: dict[str, Any] = read(admin.post("/subscriptions", {**WANTED, **changes}), 201)
    return made


def test_a_subscription_shows_its_secret_when_it_is_made_and_never_again(admin: Api) -> None:
    response = admin.post("/subscriptions", WANTED)
    made = read(response, 201)
    assert made["secret"].startswith("whsec_") and len(made["secret"]) == 50
    assert response.headers["Location"] == f"/api/v1/subscriptions/{made['id']}"
    again = read(admin.get(f"/subscriptions/{made['id']}"))
    assert again == {name: value for name, value in made.items() if name != "secret"}
    assert (again["is_enabled"], again["format"], again["event_types"]) == (True, "plain", ["job.*"])
    assert read(admin.get("/subscriptions"))["items"] == [again]


def test_the_secret_is_in_no_table(admin: Api) -> None:
    secret = subscription_of(admin)["secret"]
    rows = [*AuditEntry.objects.values_list("after"), *Event.objects.values_list("data")]
    rows += [*Subscription.objects.values_list("salt", "secret_sha256"), *KeptAnswer.objects.values_list("body")]
    assert secret not in " ".join(str(value) for row in rows for value in row)


def test_a_post_sent_again_gets_its_answer_again_without_the_secret(admin: Api) -> None:
    made = read(admin.post("/subscriptions", WANTED, key="k1"), 201)
    again = admin.post("/subscriptions", WANTED, key="k1")
    assert read(again, 201) == {**made, "secret": None}
    assert again.headers["Idempotency-Replayed"] == "true"


@pytest.mark.parametrize(
    ("change", "place", "status", "code"),
    [
        ({"url": "http://hooks.example.com/"}, "/url", 422, "address_not_allowed"),
        ({"url": "https://127.0.0.1/"}, "/url", 422, "address_not_allowed"),
        ({"url": "https://hooks.example.com:22/"}, "/url", 422, "address_not_allowed"),
        ({"url": "https://user@hooks.example.com/"}, "/url", 422, "address_not_allowed"),
        ({"url": 5}, "/url", 400, "not_text"),
        ({"event_types": []}, "/event_types", 422, "too_few"),
        ({"event_types": ["job.*", "Job"]}, "/event_types/1", 422, "not_an_event_type"),
        ({"event_types": ["*.submitted"]}, "/event_types/0", 422, "not_an_event_type"),
        ({"event_types": ["run.submited"]}, "/event_types/0", 422, "not_an_event_type"),
        ({"event_types": ["runs.*"]}, "/event_types/0", 422, "not_an_event_type"),
        ({"event_types": "*"}, "/event_types", 400, "not_a_list"),
        ({"is_enabled": "yes"}, "/is_enabled", 400, "not_yes_or_no"),
        ({"format": "xml"}, "/format", 422, "unknown_value"),
        ({"secret": "whsec_mine"}, "/secret", 400, "unknown_field"),
    ],
)
def test_bad_input_is_named_with_its_place(
    admin: Api, change: dict[str, Any], place: str, status: int, code: str
) -> None:
    with nothing_changes():
        problem = refused(
            admin.post("/subscriptions", {**WANTED, **change}), status, "malformed" if status == 400 else "invalid"
        )
    assert fault_codes(problem)[place] == code


def test_only_an_administrators_token_opens_any_of_it(api: Api, admin: Api, rival_admin: Api) -> None:
    id = subscription_of(admin)["id"]
    for path in ("/subscriptions", f"/subscriptions/{id}", "/deliveries", f"/deliveries/{uuid.uuid4()}"):
        refused(api.get(path), 403, "scope_missing")
    for path in ("/subscriptions", f"/subscriptions/{id}/test", f"/subscriptions/{id}/rotate-secret"):
        refused(api.post(path, {}), 403, "scope_missing")
    with nothing_changes():
        refused(rival_admin.get(f"/subscriptions/{id}"), 404, "not_found")
        refused(rival_admin.put(f"/subscriptions/{id}", WANTED), 404, "not_found")
        refused(rival_admin.delete(f"/subscriptions/{id}", **{"If-Match": "*"}), 404, "not_found")
        refused(rival_admin.post(f"/subscriptions/{id}/test"), 404, "not_found")
        refused(rival_admin.post(f"/subscriptions/{id}/rotate-secret"), 404, "not_found")


def test_a_change_needs_the_revision_that_was_read_and_leaves_its_trace(admin: Api) -> None:
    made = subscription_of(admin)
    path = f"/subscriptions/{made['id']}"
    refused(admin.patch(path, {"event_types": ["run.*"]}), 428, "revision_required")
    changed = read(admin.patch(path, {"event_types": ["run.*"]}, **{"If-Match": '"1"'}))
    assert (changed["event_types"], changed["revision"], changed["url"]) == (["run.*"], 2, made["url"])
    trail = AuditEntry.objects.filter(record_type="subscription").values_list("action", flat=True)
    assert list(trail) == ["made", "changed"]
    events = Event.objects.filter(subject=f"subscriptions/{made['id']}").values_list("type", flat=True)
    assert list(events) == ["subscription.made", "subscription.changed"]


def test_every_matching_event_becomes_a_delivery_and_no_other(admin: Api, api: Api) -> None:
    jobs, everything = subscription_of(admin), subscription_of(admin, event_types=["*"])
    submitted = subscription_of(admin, event_types=["run.submitted"])
    off = subscription_of(admin, is_enabled=False)
    Delivery.objects.all().delete()
    job_of(api)
    types = {"job.requested", "customer.made", "property.made", "lateral.made"}
    said = set(Event.objects.exclude(type__startswith="subscription").values_list("type", flat=True))
    assert "job.requested" in said <= types | said

    def told(subscription: dict[str, Any]) -> list[str]:
        page = read(admin.get(f"/deliveries?subscription={subscription['id']}"))
        return sorted(item["event_type"] for item in page["items"])

    assert told(jobs) == ["job.requested"]
    assert "job.requested" in told(everything)
    assert told(submitted) == told(off) == []


def test_an_event_of_another_firm_is_delivered_to_nobody_here(admin: Api, rival_api: Api) -> None:
    subscription_of(admin, event_types=["*"])
    Delivery.objects.all().delete()
    job_of(rival_api)
    assert not Delivery.objects.exists()


def test_a_change_that_is_rolled_back_or_only_tried_is_not_delivered(admin: Api, api: Api) -> None:
    subscription_of(admin)
    read(api.post("/jobs?dry_run=true", builders.job()), 201)
    assert not Delivery.objects.exists()


def test_a_test_event_reaches_a_receiver_that_wants_other_types(
    admin: Api, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    with receiving() as receiver:
        settings.WEBHOOK_ALLOW = (receiver.allowed,)
        made = subscription_of(admin, url=receiver.url)
        delivery = read(admin.post(f"/subscriptions/{made['id']}/test"), 202)
        assert (delivery["state"], delivery["event_type"]) == ("queued", "subscription.tested")
        couriers.deliver(uuid.UUID(made["id"]))
    after = read(admin.get(f"/deliveries/{delivery['id']}"))
    assert (after["state"], after["last_status"], after["response_excerpt"]) == ("delivered", 200, "thanks")
    assert [headers["webhook-id"] for _, headers, _ in receiver.received] == [after["event"]]


def test_a_disabled_subscription_is_neither_tested_nor_replayed_to(admin: Api, api: Api) -> None:
    made = subscription_of(admin)
    job_of(api)
    read(admin.patch(f"/subscriptions/{made['id']}", {"is_enabled": False}, **{"If-Match": "*"}))
    (delivery,) = read(admin.get("/deliveries?state=disabled"))["items"]
    refused(admin.post(f"/subscriptions/{made['id']}/test"), 409, "subscription_disabled")
    refused(admin.post(f"/deliveries/{delivery['id']}/replay"), 409, "subscription_disabled")
    read(admin.patch(f"/subscriptions/{made['id']}", {"is_enabled": True}, **{"If-Match": "*"}))
    assert read(admin.post(f"/deliveries/{delivery['id']}/replay"), 202)["state"] == "queued"


def test_a_delivery_that_waits_is_not_replayed(admin: Api, api: Api) -> None:
    subscription_of(admin)
    job_of(api)
    (delivery,) = read(admin.get("/deliveries?state=queued"))["items"]
    with nothing_changes():
        refused(admin.post(f"/deliveries/{delivery['id']}/replay"), 409, "state_not_reachable")


def test_deliveries_of_another_firm_are_not_there(admin: Api, api: Api, rival_admin: Api) -> None:
    subscription_of(admin)
    job_of(api)
    (delivery,) = read(admin.get("/deliveries"))["items"]
    assert read(rival_admin.get("/deliveries"))["items"] == []
    refused(rival_admin.get(f"/deliveries/{delivery['id']}"), 404, "not_found")
    refused(rival_admin.post(f"/deliveries/{delivery['id']}/replay"), 404, "not_found")


def test_rotation_shows_a_new_secret_and_says_how_long_the_old_one_signs(admin: Api) -> None:
    made = subscription_of(admin)
    path = f"/subscriptions/{made['id']}/rotate-secret"
    rotated = read(admin.post(path, {"keep_previous_hours": 2}))
    assert rotated["secret"].startswith("whsec_") and rotated["secret"] != made["secret"]
    assert rotated["previous_secret_until"] is not None
    assert read(admin.post(path, {"keep_previous_hours": 0}))["previous_secret_until"] is None
    refused(admin.post(path, {"keep_previous_hours": 169}), 422, "invalid", "/keep_previous_hours")


def test_a_subscription_that_is_taken_away_takes_its_deliveries_along(admin: Api, api: Api) -> None:
    made = subscription_of(admin)
    job_of(api)
    assert admin.delete(f"/subscriptions/{made['id']}", **{"If-Match": '"1"'}).status_code == 204
    assert not Delivery.objects.exists()
    refused(admin.get(f"/subscriptions/{made['id']}"), 404, "not_found")
    assert Event.objects.latest("number").type == "subscription.deleted"


@pytest.mark.django_db(transaction=True)
def test_the_feed_in_cloudevents_holds_the_same_events(admin: Api, api: Api, rung: list[str]) -> None:
    job_of(api)
    until = time.monotonic() + 20
    while not read(api.get("/events?limit=1"))["items"] and time.monotonic() < until:
        time.sleep(0.05)  # on a shared server others may hold transactions open
    plain, wrapped = read(api.get("/events?limit=1")), read(api.get("/events?limit=1&format=cloudevents"))
    (event,), (envelope,) = plain["items"], wrapped["items"]
    # The attributes that CloudEvents 1.0 requires: id, source, specversion, type.
    assert envelope["specversion"] == "1.0" and envelope["source"].startswith("urn:uuid:")
    assert {name: envelope[name] for name in event} == event
    assert "format=cloudevents" in wrapped["next"]
    refused(api.get("/events?format=xml"), 422, "invalid", "/format")


@pytest.mark.parametrize(
    ("pattern", "matches"),
    [("run.submitted", True), ("run.*", True), ("*", True), ("run.graded", False), ("job.*", False)],
)
def test_a_pattern_matches_a_type_a_kind_of_record_or_everything(pattern: str, matches: bool) -> None:
    assert outbox.wants([pattern], "run.submitted") is matches
