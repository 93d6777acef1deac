"""The OWASP API Security Top 10 of 2023 (https://owasp.org/API-Security/editions/2023/en/0x11-t10/), a test each."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from pytest_django.fixtures import Settings

from inspections import limits
from inspections.api.urls import urlpatterns
from inspections.limits import InMemory
from inspections.models import ApiToken, Delivery, Event, Job, Subscription
from inspections.services import couriers
from tests import builders, people
from tests.admin.conftest import desk, person
from tests.api.answers import draft_of, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api
from tests.processes import ROOT
from tests.receivers import receiving

STAR = {"If-Match": "*"}


def test_api1_another_organisations_record_is_neither_read_nor_changed_nor_named_nor_reached_through_a_batch(
    api: Api, rival_api: Api
) -> None:
    theirs = draft_of(rival_api)
    path = f"/runs/{theirs['id']}"
    entry = {"method": "PATCH", "path": path, "headers": STAR, "body": {"inspector": "X"}}
    with nothing_changes(but=("KeptAnswer",)):
        refused(api.get(path), 404, "not_found")
        refused(api.patch(path, {"inspector": "X"}, **STAR), 404, "not_found")
        refused(api.delete(path, **STAR), 404, "not_found")
        refused(api.post(f"{path}/submit"), 404, "not_found")
        refused(api.put(f"/runs/{uuid.uuid4()}", builders.run(theirs["job"])), 422, "invalid", "/job")
        batch = read(api.post("/batches", {"mode": "independent", "entries": [entry]}))
        assert [one["status"] for one in batch["entries"]] == [404]


def test_api2_only_a_whole_living_token_in_the_header_opens(firm: people.Firm) -> None:
    token = firm.token()
    row = ApiToken.objects.get()
    read(Api(token).get("/jobs"))
    forged = token[:10] + ("A" if token[10] != "A" else "B") + token[11:]
    for wrong in (forged, token[:-1], token + "0", row.digest, row.hint, "", "null"):
        refused(Api(wrong).get("/jobs"), 401, "not_signed_in")
    anonymous = Api("")
    anonymous.http.defaults.pop("HTTP_AUTHORIZATION", None)
    anonymous.http.cookies["token"] = token
    assert anonymous.http.get(f"/api/v1/jobs?token={token}", headers={"X-Api-Key": token}).status_code == 401
    assert anonymous.http.get("/api/v1/jobs", headers={"Authorization": f"Basic {token}"}).status_code == 401
    ApiToken.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    refused(Api(token).get("/jobs"), 401, "not_signed_in")
    ApiToken.objects.update(expires_at=timezone.now() + timedelta(days=1), revoked_at=timezone.now())
    refused(Api(token).get("/jobs"), 401, "not_signed_in")


def test_api3_what_a_caller_may_not_set_is_refused_by_name_and_what_they_may_not_see_is_not_shown(
    api: Api, firm: people.Firm, rival: people.Firm
) -> None:
    job = job_of(api)
    for name, value in {
        "state": "accepted",
        "organisation": str(rival.organisation.pk),
        "source": "other",
        "revision": 9,
        "submitted_at": "2027-03-01T08:00:00Z",
        "review_reasons": [],
    }.items():
        refused(api.post("/runs", builders.run(job["id"], **{name: value})), 400, "malformed", f"/{name}")
    admin = Api(firm.token("admin"))
    shown = read(admin.get("/tokens"))["items"][0]
    assert set(shown) == {
        *("id", "client", "hint", "scopes", "created_at", "expires_at", "last_used_at", "revoked_at"),
    }
    made = read(admin.post("/subscriptions", {"url": "https://hooks.example.com/", "event_types": ["*"]}), 201)
    again = admin.get(f"/subscriptions/{made['id']}").content.decode()
    row = Subscription.objects.get()
    assert not [one for one in (made["secret"], row.salt, row.secret_sha256) if one in again]


def test_api4_nobody_asks_for_more_than_is_good_for_all(
    api: Api, firm: people.Firm, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    refused(api.post("/jobs", b" " * 5_000_001), 413, "body_too_large")
    refused(api.post("/jobs", b"[" * 40 + b"]" * 40), 400, "malformed")
    refused(api.get("/jobs?limit=100000"), 400, "malformed", "/limit")
    many = {"mode": "independent", "entries": [{"method": "POST", "path": "/jobs", "body": {}}] * 501}
    assert api.post("/batches", many).status_code in (400, 422)
    counter = InMemory()
    monkeypatch.setattr(limits, "_counter", lambda url: counter)
    settings.RATE_PER_SECOND, settings.RATE_BURST = 1, 5
    fast = Api(firm.token())
    assert [fast.get("/jobs").status_code for _ in range(7)] == [200] * 5 + [429] * 2


def test_api5_writers_do_not_review_and_nobody_but_administrators_administers(api: Api, firm: people.Firm) -> None:
    run = sealed_of(api)
    writer = Api(firm.token("runs:write", "jobs:write", "records:read", "repair-scopes:write"))
    with nothing_changes():
        refused(writer.post(f"/runs/{run['id']}/accept"), 403, "scope_missing")
        refused(writer.post("/tokens", {"client": "x", "scopes": ["admin"]}), 403, "scope_missing")
        refused(writer.post("/subscriptions", {"url": "https://hooks.example.com/"}), 403, "scope_missing")
        refused(writer.get("/audit-entries"), 403, "scope_missing")
        refused(api.post("/grading-schemes", {"document": {}}), 403, "scope_missing")
    # Who signs in at the desk gets nothing at the API by it, and a token opens no desk.
    browser = desk(person(firm, "administrator"))
    assert browser.get("/api/v1/jobs").status_code == 401
    assert api.http.get("/admin/desk/").status_code == 302


def test_api6_a_flow_driven_by_a_machine_makes_each_thing_once(api: Api) -> None:
    for _ in range(20):
        assert api.post("/jobs", builders.job()).status_code in (200, 201)
    assert Job.objects.count() == 1
    run = sealed_of(api, read(api.post("/jobs", builders.job())))
    for _ in range(5):
        refused(api.post(f"/runs/{run['id']}/submit"), 409, "run_already_submitted")
    assert Event.objects.filter(type="run.submitted").count() == 1


@pytest.mark.parametrize(
    "url",
    [
        "https://169.254.169.254/latest/meta-data/",
        "https://127.0.0.1/",
        "http://example.com/",
        "https://[::1]/",
        "https://10.0.0.1/",
    ],
)
def test_api7_the_service_calls_no_address_inside(firm: people.Firm, url: str) -> None:
    admin = Api(firm.token("admin"))
    refused(admin.post("/subscriptions", {"url": url, "event_types": ["*"]}), 422, "invalid", "/url")
    assert not Subscription.objects.exists()


def test_api8_errors_tell_nothing_of_the_inside_and_nothing_is_open_by_default(
    api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: Any, **options: Any) -> Any:
        raise RuntimeError("secret-of-the-inside at /srv/pullback/db")

    monkeypatch.setattr("inspections.api.jobs.pages", broken, raising=False)
    monkeypatch.setattr("inspections.services.jobs.job_request", broken)
    api.http.raise_request_exception = False
    failed = api.post("/jobs", builders.job())
    problem = read(failed, 500)
    assert problem["code"] == "service_error"
    assert "secret-of-the-inside" not in failed.content.decode()
    assert "Traceback" not in failed.content.decode()
    for path in ("/nothing", "/api/v1/nothing", "/api/v2/jobs", "/.git/config", "/config/settings.py"):
        answer = api.http.get(path)
        assert (answer.status_code, answer.headers["Content-Type"]) == (404, "application/problem+json"), path
    for verb in ("TRACE", "CONNECT", "PROPFIND"):
        assert api.http.generic(verb, "/api/v1/jobs").status_code == 405, verb
    asked = api.http.get("/api/v1/jobs", headers={"Origin": "https://elsewhere.example"})
    assert not [name for name in asked.headers if name.lower().startswith("access-control-")]


def test_api9_every_address_that_answers_stands_in_the_published_document_and_no_other() -> None:
    document = json.loads((ROOT / "inspections" / "api" / "openapi.json").read_text())
    listed = {
        (path.removeprefix("/api/v1/"), verb)
        for path, verbs in document["paths"].items()
        for verb in verbs
        if verb in ("get", "post", "put", "patch", "delete")
    }
    served = set()
    for pattern in urlpatterns:
        path = str(pattern.pattern).replace("<str:", "{").replace(">", "}")
        for verb in ("get", "post", "put", "patch", "delete"):
            if hasattr(pattern.callback.cls, verb):
                served.add((path, verb))
    # The document and its page describe the others, not themselves.
    assert served - listed <= {
        ("openapi.json", "get"),
        ("docs", "get"),
    }
    assert listed <= served


def test_api10_what_a_receiver_answers_is_cut_kept_as_text_and_believed_in_nothing(
    firm: people.Firm, settings: Settings
) -> None:
    said = b"<script>alert(1)</script>" + b"x" * 2_000_000
    forged = {"Location": "http://127.0.0.1:1/", "Set-Cookie": "sessionid=1", "Retry-After": "999999999999"}
    with receiving((302, forged, said)) as receiver:
        settings.WEBHOOK_ALLOW = (receiver.allowed,)
        admin = Api(firm.token("admin"))
        made = read(admin.post("/subscriptions", {"url": receiver.url, "event_types": ["run.*"]}), 201)
        read(admin.post(f"/subscriptions/{made['id']}/test"), 202)
        couriers.deliver(uuid.UUID(made["id"]))
        assert len(receiver.received) == 1
    row = Delivery.objects.filter(last_status=302).get()
    assert row.state == "queued"  # no 2xx, no success, and nothing followed
    assert len(row.response_excerpt or "") <= 65_536
    assert row.next_attempt_at - timezone.now() < timedelta(days=1, minutes=1)
    shown = desk(person(firm, "administrator")).get(f"/admin/inspections/delivery/{row.pk}/change/").content.decode()
    assert "<script>alert" not in shown
