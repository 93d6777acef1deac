"""Batches: many requests in one, each answered as it would be alone; all or nothing where asked."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from inspections.models import Job, KeptAnswer, Run
from tests import builders, people
from tests.api.answers import draft_of, fault_codes, job_of, nothing_changes, plain, read, refused
from tests.client import Api


def entry(method: str, path: str, body: Any = None, **headers: str) -> dict[str, Any]:
    """One entry as a client writes it."""
    said: dict[str, Any] = {"method": method, "path": path}
    if body is not None:
        said["body"] = body
    if headers:
        said["headers"] = headers
    return said


def send(api: Api, *entries: dict[str, Any], mode: str = "independent", key: str | None = None) -> Any:
    """Send a batch and return its answers."""
    return read(api.post("/batches", {"mode": mode, "entries": list(entries)}, key=key))["entries"]


def test_entries_are_answered_in_order_with_status_headers_and_body(api: Api) -> None:
    run = str(uuid.uuid4())
    job = str(uuid.uuid4())
    first, second, third = send(
        api,
        entry("PUT", f"/jobs/{job}", builders.job()),
        entry("PUT", f"/api/v1/runs/{run}", builders.run(job)),
        entry("POST", f"/runs/{run}/submit"),
    )
    assert (first["status"], first["headers"]["Location"]) == (201, f"/api/v1/jobs/{job}")
    assert (second["status"], second["headers"]["ETag"], second["body"]["id"]) == (201, '"1"', run)
    assert (third["status"], third["body"]["state"]) == (202, "submitted")
    assert read(api.get(f"/runs/{run}"))["state"] == "submitted"


def test_numbers_of_an_entry_are_kept_as_written(api: Api) -> None:
    job = job_of(api)["id"]
    run = str(uuid.uuid4())
    body = plain(builders.run(job)).replace('"counter_end":60', '"counter_end":60.00')
    batch = f'{{"mode":"atomic","entries":[{{"method":"PUT","path":"/runs/{run}","body":{body}}}]}}'
    assert b'"counter_end":60.00' in api.post("/batches", batch).content
    assert b'"counter_end":60.00' in api.get(f"/runs/{run}").content


def test_what_is_refused_does_not_hold_up_the_others(api: Api) -> None:
    answers = send(
        api,
        entry("POST", "/jobs", builders.job()),
        entry("POST", "/jobs", builders.job(external_ref="AF-2", purpose="backpu")),
        entry("POST", "/jobs", builders.job(external_ref="AF-3")),
        entry("PATCH", f"/jobs/{uuid.uuid4()}", {"state": "done"}, **{"If-Match": "*"}),
        entry("PUT", "/nowhere", {}),
    )
    assert [one["status"] for one in answers] == [201, 422, 201, 404, 404]
    assert answers[1]["body"]["errors"][0]["pointer"] == "/purpose"
    assert Job.objects.count() == 2


def test_an_atomic_batch_with_a_refused_entry_changes_nothing_and_names_every_fault(api: Api) -> None:
    job = str(uuid.uuid4())
    entries = [
        entry("PUT", f"/jobs/{job}", builders.job()),
        entry("PUT", f"/runs/{uuid.uuid4()}", builders.run(job, direction="downstrem")),
        entry("DELETE", f"/runs/{uuid.uuid4()}", **{"If-Match": "*"}),
    ]
    with nothing_changes():
        response = api.post("/batches", {"mode": "atomic", "entries": entries})
    problem = read(response, 422)
    assert response.headers["Content-Type"] == "application/problem+json"
    assert problem["code"] == "batch_not_done"
    assert fault_codes(problem) == {"/entries/1/body/direction": "unknown_value", "/entries/2": "not_found"}
    assert [one["status"] for one in problem["entries"]] == [424, 422, 404]
    assert "id" not in problem["entries"][0]["body"]


def test_an_atomic_batch_without_fault_is_done(api: Api) -> None:
    job = str(uuid.uuid4())
    answers = send(
        api,
        entry("PUT", f"/jobs/{job}", builders.job()),
        entry("PUT", f"/runs/{uuid.uuid4()}", builders.run(job)),
        mode="atomic",
    )
    assert [one["status"] for one in answers] == [201, 201]
    assert (Job.objects.count(), Run.objects.count()) == (1, 1)


def test_a_batch_sent_again_gets_its_first_answer_and_is_not_done_twice(api: Api) -> None:
    body: Any = {"mode": "independent", "entries": [entry("POST", "/customers", {"name": "Rowan Ashby"})] * 2}
    first = api.post("/batches", body, key="monday")
    with nothing_changes():
        again = api.post("/batches", body, key="monday")
    assert again.content == first.content and again.headers["Idempotency-Replayed"] == "true"
    ids = [one["body"]["id"] for one in read(first)["entries"]]
    assert len(set(ids)) == 2
    refused(api.post("/batches", {**body, "mode": "atomic"}, key="monday"), 422, "idempotency_key_reused")


def test_a_refused_batch_is_not_kept(api: Api) -> None:
    body = {"mode": "atomic", "entries": [entry("PATCH", f"/jobs/{uuid.uuid4()}", {"state": "done"})]}
    assert api.post("/batches", body, key="monday").status_code == 422
    assert KeptAnswer.objects.count() == 0


def test_a_batch_needs_a_key(api: Api) -> None:
    body = {"mode": "atomic", "entries": [entry("POST", "/jobs", builders.job())]}
    response = api.http.post("/api/v1/batches", body, content_type="application/json")
    refused(response, 400, "idempotency_key_required")


def test_an_entrys_own_key_is_honoured_within_and_outside_batches(api: Api) -> None:
    alone = api.post("/jobs", builders.job(), key="job-1")
    same = entry("POST", "/jobs", builders.job(), **{"Idempotency-Key": "job-1"})
    other = entry("POST", "/jobs", builders.job(purpose="routine"), **{"idempotency-key": "job-1"})
    answers = send(api, same, other)
    assert answers[0]["status"] == 201 and answers[0]["body"] == read(alone, 201)
    assert answers[0]["headers"]["Idempotency-Replayed"] == "true"
    assert (answers[1]["status"], answers[1]["body"]["code"]) == (422, "idempotency_key_reused")
    assert Job.objects.count() == 1


def test_if_match_of_an_entry_is_held_against_what_earlier_entries_made(api: Api) -> None:
    job = job_of(api)["id"]
    answers = send(
        api,
        entry("PATCH", f"/jobs/{job}", {"state": "under_way"}, **{"If-Match": '"1"'}),
        entry("PATCH", f"/jobs/{job}", {"state": "done"}, **{"If-Match": '"1"'}),
        entry("PATCH", f"/jobs/{job}", {"state": "done"}, **{"If-Match": '"2"'}),
    )
    assert [one["status"] for one in answers] == [200, 412, 200]


def test_batches_in_batches_are_refused(api: Api) -> None:
    for path in ("/batches", "/api/v1/batches", "/batches?dry_run=true", "/%62atches"):
        inner = {"mode": "atomic", "entries": [entry("POST", "/jobs", builders.job())]}
        body = {"mode": "independent", "entries": [entry("POST", path, inner)]}
        with nothing_changes():
            problem = refused(api.post("/batches", body), 422, "invalid", "/entries/0/path")
        assert fault_codes(problem) == {"/entries/0/path": "nested_batch"}


@pytest.mark.parametrize(
    ("body", "status", "place"),
    [
        ({"mode": "atomc", "entries": [{"method": "POST", "path": "/jobs"}]}, 422, "/mode"),
        ({"mode": "atomic", "entries": []}, 422, "/entries"),
        ({"mode": "atomic"}, 422, "/entries"),
        ({"mode": "atomic", "entries": [{"method": "GET", "path": "/jobs"}]}, 422, "/entries/0/method"),
        ({"mode": "atomic", "entries": [{"method": "POST", "path": "https://a.example/"}]}, 422, "/entries/0/path"),
        ({"mode": "atomic", "entries": [{"method": "POST", "path": "//jobs"}]}, 422, "/entries/0/path"),
        ({"mode": "atomic", "entries": [{"method": "POST", "path": 5}]}, 400, "/entries/0/path"),
        ({"mode": "atomic", "entries": [{"method": "POST", "path": "/jobs", "body": []}]}, 400, "/entries/0/body"),
        (
            {"mode": "atomic", "entries": [{"method": "POST", "path": "/jobs", "headers": {"Host": "a"}}]},
            400,
            "/entries/0/headers/Host",
        ),
        ({"mode": "atomic", "entries": [{"method": "POST", "path": "/jobs"}] * 501}, 422, "/entries"),
        ([], 400, ""),
    ],
)
def test_a_batch_of_another_shape_is_refused_by_its_place(api: Api, body: Any, status: int, place: str) -> None:
    with nothing_changes():
        refused(api.post("/batches", body), status, "malformed" if status == 400 else "invalid", place)


def test_odd_entries_are_answers_not_errors_of_the_service(api: Api) -> None:
    answers = send(
        api,
        entry("POST", "/jobs"),
        entry("PUT", "/jobs/%00", builders.job()),
        entry("POST", "/jobs?no=1", builders.job()),
        entry("DELETE", "/jobs"),
        entry("POST", "/"),
        entry("PUT", "/customers/%E2%82%AC", {"name": "Wren Fallow"}),
        entry("PATCH", "/customers/x", {}, **{"If-Match": "\u00e9"}),
        entry("POST", "/jobs", builders.job(), **{"Idempotency-Key": "\u00e9"}),
        entry("POST", "/jobs", builders.job(), **{"Content-Type": "application/merge-patch+json"}),
    )
    assert [one["status"] for one in answers[:8]] == [422, 404, 400, 405, 405, 404, 404, 400]
    assert answers[8]["status"] < 500


def test_each_entry_needs_its_own_scope_and_its_own_firms_records(api: Api, rival_api: Api, firm: people.Firm) -> None:
    draft = draft_of(api)
    reader = Api(firm.token("records:read"))
    change = entry("PATCH", f"/jobs/{draft['job']}", {"state": "done"}, **{"If-Match": "*"})
    submit = entry("POST", f"/runs/{draft['id']}/submit")
    with nothing_changes(but=("KeptAnswer",)):
        assert [one["status"] for one in send(rival_api, change, submit)] == [404, 404]
        assert [one["status"] for one in send(reader, change, submit)] == [403, 403]
        refused(Api("pbk_none").post("/batches", {}), 401, "not_signed_in")
    writer = Api(firm.token("jobs:write"))
    assert [one["status"] for one in send(writer, change, submit)] == [200, 403]


def test_a_batch_can_be_tried_first(api: Api) -> None:
    body = {"mode": "independent", "entries": [entry("POST", "/jobs", builders.job())]}
    with nothing_changes():
        assert read(api.post("/batches?dry_run=true", body))["entries"][0]["status"] == 201
        send_one = entry("POST", "/jobs?dry_run=true", builders.job())
        answer = read(api.post("/batches?dry_run=true", {**body, "entries": [send_one]}))["entries"][0]
    assert answer["headers"]["Dry-Run"] == "true"


def test_work_is_rung_for_once_the_batch_is_committed_and_not_for_what_was_taken_back(
    api: Api, rung: list[str], django_capture_on_commit_callbacks: Any
) -> None:
    draft = draft_of(api)
    submit = entry("POST", f"/runs/{draft['id']}/submit")
    bad = entry("PATCH", f"/jobs/{draft['job']}", {"state": "done"})
    with django_capture_on_commit_callbacks(execute=True):
        api.post("/batches", {"mode": "atomic", "entries": [submit, bad]})
    assert rung == []
    with django_capture_on_commit_callbacks(execute=True):
        (answer,) = send(api, submit)
    assert rung == [answer["body"]["calculation"]["id"]]


def test_a_put_that_saw_a_revision_of_what_is_not_there_makes_nothing(api: Api) -> None:
    with nothing_changes():
        refused(api.put(f"/jobs/{uuid.uuid4()}", builders.job(), **{"If-Match": '"1"'}), 412, "revision_stale")
        refused(api.put(f"/customers/{uuid.uuid4()}", {"name": "W"}, **{"If-Match": "*"}), 412, "revision_stale")
