"""Writers at the same time, on the database that is in use: one effect, one winner, no lost update."""

from __future__ import annotations

import threading
import time
import uuid
from typing import Any

import pytest

from inspections.models import AuditEntry, Customer, Event, Job, Lateral, Property, RuleSet, Run
from inspections.services import calculations, jobs, trail, work
from scoring.scope import DEFAULT_RULE_SET
from tests import builders, people
from tests.api.answers import draft_of, job_of, plain, read, refused, sealed_of
from tests.api.threads import at_once
from tests.client import Api

STAR = {"If-Match": "*"}
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


def test_of_eight_first_writers_of_a_site_one_wins(api: Api) -> None:
    path = f"/laterals/{job_of(api)['property']['laterals'][0]['id']}/site"
    answers = at_once(8, lambda n: api.put(path, builders.site(groundwater_depth=n), **{"If-Match": '"0"'}))
    assert sorted(answer.status_code for answer in answers) == [200] + [412] * 7
    assert (read(api.get(path))["revision"], AuditEntry.objects.filter(record_type="site").count()) == (1, 1)


def test_eight_amendments_at_once_are_eight_revisions(api: Api, rung: list[str]) -> None:
    run = sealed_of(api)
    asked = [{"reason": "x", "changes": {"inspector": f"Person {n}"}} for n in range(8)]
    answers = at_once(8, lambda n: api.post(f"/runs/{run['id']}/amendments", asked[n]))
    assert [answer.status_code for answer in answers] == [201] * 8
    revisions = sorted(answer.json()["run_revision"] for answer in answers)
    assert revisions == list(range(run["revision"] + 1, run["revision"] + 9))
    assert Lateral.objects.get(pk=run["lateral"]).inputs_revision == 9
    befores = {answer.json()["before"]["inspector"] for answer in answers}
    assert len(befores) == 8  # each says what the one before it left


def test_eight_loads_of_one_new_version_make_one(firm: people.Firm) -> None:
    admin = Api(firm.token("admin"))
    newer = {**DEFAULT_RULE_SET, "version": str(int(DEFAULT_RULE_SET["version"]) + 1)}
    answers = at_once(8, lambda _: admin.post("/rule-sets", plain({"document": newer, "is_default": True})))
    assert sorted(answer.status_code for answer in answers) == [200] * 7 + [201]
    assert RuleSet.objects.filter(is_default=True).count() == 1


def test_eight_first_runs_of_a_job_begin_it_once(api: Api) -> None:
    job = job_of(api)
    answers = at_once(8, lambda _: api.post("/runs", builders.run(job["id"])))
    assert [answer.status_code for answer in answers] == [201] * 8
    now = read(api.get(f"/jobs/{job['id']}"))
    assert (now["state"], now["revision"], len(now["runs"])) == ("under_way", 2, 8)
    assert Event.objects.filter(type="job.under_way").count() == 1


def test_a_first_run_and_changes_of_its_job_never_share_a_revision(api: Api) -> None:
    for _ in range(4):
        job = job_of(api, external_ref=str(uuid.uuid4()))
        path = f"/jobs/{job['id']}"
        acts = [
            lambda j=job: api.post("/runs", builders.run(j["id"])),
            *(lambda n=n, p=path: api.patch(p, {"instructions": f"Word {n}."}, **STAR) for n in range(5)),
        ]
        answers = at_once(6, lambda n, acts=acts: acts[n](), threads=6)
        assert sorted(answer.status_code for answer in answers) == [200] * 5 + [201]
        now = read(api.get(path))
        assert (now["state"], now["revision"]) == ("under_way", 7)  # made, five changes, begun


def test_runs_of_one_lateral_sealed_while_workers_compute_all_end_on_it(api: Api, monkeypatch: Any) -> None:
    job = job_of(api)
    drafts = [draft_of(api, job, defects=[{"ref": "h", "kind": "hole", "at": 20}]) for _ in range(6)]
    monkeypatch.setattr(calculations, "ring", work.perform)  # each submit's own thread is its worker
    answers = at_once(6, lambda n: api.post(f"/runs/{drafts[n]['id']}/submit"), threads=6)
    assert [answer.status_code for answer in answers] == [202] * 6
    assert {one["state"] for one in read(api.get("/calculations"))["items"]} == {"done"}
    shown = read(api.get(f"/laterals/{drafts[0]['lateral']}"))
    assert (len(shown["runs"]), shown["is_current"]) == (6, True)
    assert len(shown["defects"]) == 1  # the one hole, seen six times
