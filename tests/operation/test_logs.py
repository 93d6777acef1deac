"""Logs: one line of JSON an event, one id from the request to the webhook, and nothing secret or personal."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from pytest_django.fixtures import Settings

from inspections.logs import Lines
from inspections.models import Calculation, Event, Subscription
from inspections.services import couriers, work
from tests import builders, people
from tests.admin.conftest import PASSWORD, person
from tests.api.answers import read, refused
from tests.client import Api
from tests.receivers import receiving

ID = "scheduling-4711"


@pytest.fixture
def logged() -> Iterator[Any]:
    """Everything that is logged at any level, as it would be written."""
    stream, root = io.StringIO(), logging.getLogger()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(Lines())
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    logging.getLogger("django.db.backends").setLevel(logging.INFO)  # SQL is logged nowhere but while debugging
    try:
        yield lambda: [json.loads(line) for line in stream.getvalue().splitlines()]
    finally:
        root.removeHandler(handler)
        root.setLevel(level)


def test_one_id_leads_from_the_request_through_the_worker_to_the_webhook(
    firm: people.Firm, settings: Settings, rung: list[str], logged: Any
) -> None:
    api, admin = Api(firm.token()), Api(firm.token("admin"))
    with receiving() as receiver:
        settings.WEBHOOK_ALLOW = (receiver.allowed,)
        subscribed = {"url": receiver.url, "event_types": ["run.submitted", "run.graded"]}
        hook = read(admin.post("/subscriptions", subscribed), 201)
        job = read(api.post("/jobs", builders.job()), 201)
        run = read(api.post("/runs", builders.run(job["id"])), 201)
        read(api.post(f"/runs/{run['id']}/submit", **{"X-Request-Id": ID}), 202)
        work.perform(Calculation.objects.get(kind="grade_run").pk)
        couriers.deliver(Subscription.objects.get(pk=hook["id"]).pk)
        heard = [(json.loads(body)["type"], headers["x-request-id"]) for _, headers, body in receiver.received]
    assert sorted(heard) == [("run.graded", ID), ("run.submitted", ID)]
    lines = [(line["message"], line["logger"]) for line in logged() if line["request_id"] == ID]
    assert ("request", "inspections.requests") in lines
    assert ("calculation", "inspections.services.work") in lines
    assert lines.count(("delivery", "inspections.services.couriers")) == 2
    assert set(Event.objects.filter(subject=f"runs/{run['id']}").values_list("request_id", flat=True)) >= {ID}


def test_a_request_is_told_in_one_line_without_its_path(api: Api, logged: Any) -> None:
    api.get("/jobs?external_ref=AF-1001", **{"X-Request-Id": ID})
    (line,) = [line for line in logged() if line["message"] == "request"]
    assert (line["method"], line["route"], line["status"], line["request_id"]) == ("GET", "/api/v1/jobs", 200, ID)
    assert "AF-1001" not in json.dumps(line)


def test_a_line_stays_one_line_whatever_it_quotes(logged: Any) -> None:
    said = 'x\n{"level": "FORGED"}\r\x1b[2J\u202e\u2028"'
    logging.getLogger("inspections.test").warning("receiver said %s", said, extra={"beside": said})
    (line,) = [line for line in logged() if line["logger"] == "inspections.test"]
    assert line["level"] == "WARNING"
    assert line["beside"] == said
    raw = Lines().format(logging.makeLogRecord({"msg": said}))
    assert raw.isascii() and raw.isprintable()


def test_no_secret_and_nobody_is_named_in_any_log_at_any_level(
    firm: people.Firm, settings: Settings, rung: list[str], logged: Any
) -> None:
    token, admin_token = firm.token(), firm.token("admin")
    api, admin = Api(token), Api(admin_token)
    customer = {"name": "Tansy Quillfeather", "email": "tansy@quill.example", "phone": "555-0177"}
    secrets = [token, admin_token, token[10:30], PASSWORD, "wrong-but-mine-9"]
    with receiving((500, {}, b"no")) as receiver:
        settings.WEBHOOK_ALLOW = (receiver.allowed,)
        hook = read(admin.post("/subscriptions", {"url": f"{receiver.url}&key=u7rl", "event_types": ["*"]}), 201)
        secrets += [hook["secret"], "u7rl"]
        secrets.append(read(admin.post("/tokens", {"client": "x", "scopes": ["records:read"]}), 201)["token"])
        job = read(api.post("/jobs", builders.job(customer=customer, instructions="Ring for Tansy.")), 201)
        refused(api.post("/jobs", builders.job(customer=customer)), 409, "external_ref_taken")
        refused(api.post("/customers", {**customer, "nome": "Tansy Quillfeather"}), 400, "malformed")
        run = read(api.post("/runs", builders.run(job["id"])), 201)
        read(api.post(f"/runs/{run['id']}/submit"), 202)
        refused(Api(token[:-1] + "x").get("/jobs"), 401, "not_signed_in")
        api.http.get(f"/api/v1/jobs?token={token}&q=Quillfeather")
        api.http.get(f"/api/v1/{token}")
        for id in Calculation.objects.values_list("id", flat=True):
            work.perform(id)
        couriers.deliver(Subscription.objects.get(pk=hook["id"]).pk)
    person(firm, "dispatcher")
    browser = Client()
    browser.post("/admin/login/", {"username": "dispatcher", "password": "wrong-but-mine-9"})
    browser.post("/admin/login/", {"username": "dispatcher", "password": PASSWORD})
    text = json.dumps(logged())
    assert len(logged()) > 10
    told = [one for one in (*secrets, "Quillfeather", "tansy@quill", "555-0177", "Ring for Tansy") if one in text]
    assert told == []


def test_an_error_of_the_service_tells_neither(
    api: Api, logged: Any, monkeypatch: pytest.MonkeyPatch, firm: people.Firm
) -> None:
    def broken(*args: Any, **options: Any) -> Any:
        raise RuntimeError("broken inside")

    monkeypatch.setattr("inspections.services.jobs.job_request", broken)
    api.http.raise_request_exception = False
    sent = builders.job(customer={"name": "Tansy Quillfeather"})
    assert api.post("/jobs", sent, **{"X-Request-Id": ID}).status_code == 500
    told = [line for line in logged() if "broken inside" in line.get("error", "")]
    assert told and told[0]["request_id"] == ID
    assert "Quillfeather" not in json.dumps(logged())
