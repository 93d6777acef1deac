"""`?dry_run=true`: the real answer of every change, and nothing is changed."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from inspections.models import Job
from tests import builders, people
from tests.api.answers import draft_of, fault_codes, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api

ANY = {"If-Match": "*"}
UNTOLD = ("id", "customer_id", "created_at", "updated_at")


def without_chance(document: Any) -> Any:
    """Return a document without what is new each time: ids and times."""
    if isinstance(document, dict):
        return {name: without_chance(value) for name, value in document.items() if name not in UNTOLD}
    return [without_chance(one) for one in document] if isinstance(document, list) else document


def test_a_job_tried_first_gets_the_answer_it_will_get_and_is_not_made(api: Api) -> None:
    with nothing_changes():
        tried = api.post("/jobs?dry_run=true", builders.job())
    assert tried.headers["Dry-Run"] == "true" and tried.headers["ETag"] == '"1"'
    real = api.post("/jobs", builders.job())
    assert "Dry-Run" not in real.headers
    assert without_chance(read(tried, 201)) == without_chance(read(real, 201))


def test_a_key_used_for_trying_is_free_for_the_real_request(api: Api) -> None:
    read(api.post("/jobs?dry_run=true", builders.job(), key="monday-1"), 201)
    made = read(api.post("/jobs", builders.job(), key="monday-1"), 201)
    again = api.post("/jobs?dry_run=true", builders.job(), key="monday-1")
    assert read(again, 201) == made and again.headers["Idempotency-Replayed"] == "true"


def test_a_submit_tried_first_seals_nothing_and_rings_for_nothing(
    api: Api, rung: list[str], django_capture_on_commit_callbacks: Any
) -> None:
    draft = draft_of(api)
    with nothing_changes(), django_capture_on_commit_callbacks(execute=True):
        answer = read(api.post(f"/runs/{draft['id']}/submit?dry_run=true"), 202)
    assert answer["state"] == "submitted" and rung == []
    assert read(api.get(f"/runs/{draft['id']}"))["state"] == "draft"


def test_every_kind_of_change_can_be_tried(api: Api, firm: people.Firm) -> None:
    draft, sealed = draft_of(api), sealed_of(api, job_of(api, external_ref="AF-1002"))
    job, lateral = draft["job"], draft["lateral"]
    with nothing_changes():
        assert read(api.put(f"/jobs/{uuid.uuid4()}?dry_run=true", builders.job(external_ref="AF-3")), 201)
        assert read(api.patch(f"/jobs/{job}?dry_run=true", {"state": "done"}, **ANY))["state"] == "done"
        assert read(api.patch(f"/runs/{draft['id']}?dry_run=true", {"inspector": "Ivy Lark"}, **ANY))["revision"] == 2
        assert api.delete(f"/runs/{draft['id']}?dry_run=true", **ANY).status_code == 204
        assert read(api.put(f"/laterals/{lateral}/site?dry_run=true", builders.site()))["revision"] == 1
        amendment = {"reason": "The roots were larger.", "changes": {"inspector": "Ivy Lark"}}
        assert read(api.post(f"/runs/{sealed['id']}/amendments?dry_run=true", amendment), 201)["run_revision"] == 3
        policy = {"policy": {"fix_from_grade": 3}}
        assert read(api.post(f"/laterals/{lateral}/repair-scopes?dry_run=true", policy), 202)["calculation"]
        assert read(api.post("/customers?dry_run=true", {"name": "Wren Fallow"}), 201)["name"] == "Wren Fallow"


def test_faults_are_those_of_the_real_request(api: Api) -> None:
    body = {"purpose": "backpu"}
    real = fault_codes(refused(api.post("/jobs", body), 422, "invalid"))
    assert fault_codes(refused(api.post("/jobs?dry_run=true", body), 422, "invalid")) == real
    draft = draft_of(api)
    refused(api.patch(f"/runs/{draft['id']}?dry_run=true", {"inspector": "Ivy Lark"}), 428, "revision_required")


def test_trying_needs_the_scope_and_the_record_as_the_change_does(api: Api, rival_api: Api, firm: people.Firm) -> None:
    job = job_of(api)
    path = f"/jobs/{job['id']}?dry_run=true"
    refused(rival_api.patch(path, {"state": "done"}, **ANY), 404, "not_found")
    refused(Api(firm.token("records:read")).patch(path, {"state": "done"}, **ANY), 403, "scope_missing")
    refused(Api("pbk_none").patch(path, {"state": "done"}, **ANY), 401, "not_signed_in")


def test_dry_run_false_is_the_change_itself(api: Api) -> None:
    read(api.post("/jobs?dry_run=false", builders.job()), 201)
    assert Job.objects.count() == 1


@pytest.mark.parametrize("query", ["dry_run=yes", "dry_run=", "dry_run=True", "dry_run=true&dry_run=false"])
def test_other_words_are_refused_and_change_nothing(api: Api, query: str) -> None:
    with nothing_changes():
        refused(api.post(f"/jobs?{query}", builders.job()), 400, "malformed", "/dry_run")


def test_a_read_cannot_be_tried(api: Api) -> None:
    assert fault_codes(refused(api.get("/jobs?dry_run=true"), 400, "malformed")) == {"/dry_run": "unknown_parameter"}
