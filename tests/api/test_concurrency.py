"""Writers at the same time, on the database that is in use: one effect, one winner, no lost update."""

from __future__ import annotations

import threading
import time
import uuid
from typing import Any

import pytest

from inspections.models import AuditEntry, Customer, Event, Job, Lateral, Property, Run
from inspections.services import jobs, trail
from tests import builders
from tests.api.answers import draft_of, job_of, read, refused
from tests.api.threads import at_once
from tests.client import Api

pytestmark = pytest.mark.django_db(transaction=True)


def _until_not_in_flight(send: Any) -> Any:
    """Repeat a request that another one with its key is ahead of, as the answer says."""
    for _ in range(200):
        response = send()
        if response.status_code != 409 or response.json()["code"] != "idempotency_key_in_flight":
            return response
        time.sleep(0.02)
    raise AssertionError("the first request never ended")


def test_fifty_identical_posts_make_one_job(api: Api) -> None:
    answers = at_once(50, lambda _: _until_not_in_flight(lambda: api.post("/jobs", builders.job(), key="k-1")))
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1
    assert (Job.objects.count(), Customer.objects.count(), Property.objects.count()) == (1, 1, 1)
    assert sum("Idempotency-Replayed" not in answer.headers for answer in answers) == 1
    assert Event.objects.filter(type="job.requested").count() == 1


def test_fifty_posts_of_one_reference_under_their_own_keys_make_one_job(api: Api) -> None:
    answers = at_once(50, lambda _: api.post("/jobs", builders.job()))
    assert sorted(answer.status_code for answer in answers) == [200] * 49 + [201]
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert Lateral.objects.count() == 1


def test_jobs_that_share_a_new_customer_and_property_make_one_of_each(api: Api) -> None:
    answers = at_once(16, lambda n: api.post("/jobs", builders.job(external_ref=f"AF-{n}")))
    assert {answer.status_code for answer in answers} == {201}
    assert (Customer.objects.count(), Property.objects.count(), Lateral.objects.count()) == (1, 1, 1)


@pytest.mark.parametrize("kind", ["jobs", "runs", "customers"])
def test_eight_puts_of_one_new_id_make_one_record(api: Api, kind: str) -> None:
    id = str(uuid.uuid4())
    body = {
        "jobs": builders.job,
        "runs": lambda: builders.run(job_of(api)["id"]),
        "customers": lambda: {"name": "Rowan Ashby"},
    }[kind]()
    answers = at_once(8, lambda _: api.put(f"/{kind}/{id}", body))
    assert sorted(answer.status_code for answer in answers) == [200] * 7 + [201], answers[0].content
    assert {answer.json()["id"] for answer in answers} == {id}


def test_of_eight_writers_with_one_etag_one_wins(api: Api) -> None:
    job = job_of(api)
    path = f"/jobs/{job['id']}"
    answers = at_once(8, lambda n: api.patch(path, {"instructions": f"Word {n}."}, **{"If-Match": '"1"'}))
    assert sorted(answer.status_code for answer in answers) == [200] + [412] * 7
    winner = next(answer.json() for answer in answers if answer.status_code == 200)
    now = read(api.get(path))
    assert (now["instructions"], now["revision"]) == (winner["instructions"], 2)
    assert AuditEntry.objects.filter(record_type="job", action="changed").count() == 1


def test_of_eight_writers_of_one_draft_one_wins(api: Api) -> None:
    draft = draft_of(api)
    path = f"/runs/{draft['id']}"
    answers = at_once(8, lambda n: api.patch(path, {"inspector": f"Person {n}"}, **{"If-Match": '"1"'}))
    assert sorted(answer.status_code for answer in answers) == [200] + [412] * 7
    assert len(read(api.get(path))["defects"]) == 4


def test_of_eight_submits_one_seals(api: Api, rung: list[str]) -> None:
    draft = draft_of(api)
    answers = at_once(8, lambda _: api.post(f"/runs/{draft['id']}/submit"))
    assert sorted(answer.status_code for answer in answers) == [202] + [409] * 7
    assert len(rung) == 1
    assert Lateral.objects.get(pk=draft["lateral"]).inputs_revision == 1


def test_a_put_and_a_submit_at_once_never_change_a_sealed_run(api: Api, rung: list[str]) -> None:
    for _ in range(5):
        draft = draft_of(api, job_of(api, external_ref=str(uuid.uuid4())))
        path, other = f"/runs/{draft['id']}", builders.run(draft["job"], inspector="Ash Heath")
        acts = [lambda p=path: api.post(f"{p}/submit"), lambda p=path, o=other: api.put(p, o, **{"If-Match": "*"})]
        submitted, put = at_once(2, lambda n, acts=acts: acts[n](), threads=2)
        assert submitted.status_code == 202
        said = AuditEntry.objects.filter(record_id=draft["id"]).order_by("number").values_list("action", flat=True)
        assert list(said) == ["created", *(["changed"] if put.status_code == 200 else []), "submitted"]
        assert read(api.get(path))["inspector"] == ("Ash Heath" if put.status_code == 200 else "Linden Marsh")


def test_every_chain_of_the_trail_holds_after_a_day_of_concurrent_writers(api: Api) -> None:
    job = job_of(api)
    at_once(24, lambda n: api.patch(f"/jobs/{job['id']}", {"instructions": f"Word {n}."}, **{"If-Match": "*"}))
    at_once(16, lambda n: api.post("/jobs", builders.job(external_ref=f"AF-{n}")))
    assert AuditEntry.objects.filter(record_id=job["id"]).count() == 25
    assert trail.first_bad_row() is None


@pytest.mark.postgresql  # SQLite lets one writer in at a time: it waits instead
def test_a_retry_while_the_first_request_runs_is_told_to_ask_again(api: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    inside, go_on, real = threading.Event(), threading.Event(), jobs.job_request

    def slow(**given: Any) -> Any:
        inside.set()
        assert go_on.wait(20)
        return real(**given)

    monkeypatch.setattr(jobs, "job_request", slow)

    def act(number: int) -> Any:
        if number == 0:
            return api.post("/jobs", builders.job(), key="k-1")
        assert inside.wait(20)
        try:
            return api.post("/jobs", builders.job(), key="k-1")
        finally:
            go_on.set()

    first, second = at_once(2, act, threads=2)
    assert first.status_code == 201
    refused(second, 409, "idempotency_key_in_flight")
    assert api.post("/jobs", builders.job(), key="k-1").content == first.content


def test_a_request_that_fails_leaves_nothing_behind(api: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(**_: Any) -> None:
        raise RuntimeError("no trail, no change")

    monkeypatch.setattr("inspections.services.trail.event", broken)
    refused(api.post("/jobs", builders.job(), key="k-1"), 500, "service_error")
    assert (Job.objects.count(), Customer.objects.count(), Run.objects.count()) == (0, 0, 0)
    assert not AuditEntry.objects.filter(record_type="job").exists()
    monkeypatch.undo()
    assert api.post("/jobs", builders.job(), key="k-1").status_code == 201
