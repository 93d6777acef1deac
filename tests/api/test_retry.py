"""Blind retries: the first answer again, byte for byte, and one effect however often a request comes."""

from __future__ import annotations

import pytest

from inspections.models import Job, KeptAnswer, RepairScope, Run
from tests import builders, people
from tests.api.answers import draft_of, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api


def _bare(api: Api, path: str, body: object, **headers: str):  # type: ignore[no-untyped-def]
    """POST without an Idempotency-Key, unless one is among the headers."""
    return api._send("POST", path, body, headers)


def test_what_makes_something_needs_a_key(api: Api) -> None:
    run = sealed_of(api)
    asked = [
        ("/jobs", builders.job(external_ref="AF-2")),
        ("/runs", builders.run(run["job"])),
        (f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}),
    ]
    with nothing_changes():
        for path, body in asked:
            refused(_bare(api, path, body), 400, "idempotency_key_required")
            for key in ("", "x" * 256, "schlüssel"):
                refused(_bare(api, path, body, **{"Idempotency-Key": key}), 400, "idempotency_key_required")


def test_a_key_is_not_needed_where_nothing_is_made(api: Api) -> None:
    draft = draft_of(api)
    read(_bare(api, f"/runs/{draft['id']}/submit", None), 202)
    read(_bare(api, f"/runs/{draft['id']}/accept", None))


@pytest.mark.parametrize("path", ["/jobs", "/runs", "submit", "amendments", "repair-scopes", "/customers"])
def test_a_retry_gets_the_first_answer_byte_for_byte(api: Api, path: str) -> None:
    path, body = _request(api, path)
    first = api.post(path, body, key="k-1")
    assert first.status_code in (201, 202)
    with nothing_changes():
        again = api.post(path, body, key="k-1")
    assert (again.status_code, again.content) == (first.status_code, first.content)
    for name in ("ETag", "Location", "Content-Type"):
        assert again.headers.get(name) == first.headers.get(name), name
    assert "Idempotency-Replayed" not in first.headers
    assert again.headers["Idempotency-Replayed"] == "true"


def _request(api: Api, path: str) -> tuple[str, object]:
    if path in ("/jobs", "/customers"):
        return path, builders.job() if path == "/jobs" else {"name": "Rowan Ashby"}
    if path == "/runs":
        return path, builders.run(job_of(api)["id"])
    if path == "submit":
        return f"/runs/{draft_of(api)['id']}/submit", None
    run = sealed_of(api)
    if path == "amendments":
        return f"/runs/{run['id']}/amendments", {"reason": "x", "changes": {"inspector": "Ash Heath"}}
    return f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}


def test_a_retry_gets_the_first_answer_also_after_the_record_moved_on(api: Api) -> None:
    first = api.post("/jobs", builders.job(), key="k-1")
    read(api.patch(f"/jobs/{first.json()['id']}", {"state": "done"}, **{"If-Match": "*"}))
    assert api.post("/jobs", builders.job(), key="k-1").content == first.content


def test_a_key_with_another_body_or_path_is_refused(api: Api) -> None:
    job = read(api.post("/jobs", builders.job(), key="k-1"), 201)
    with nothing_changes():
        refused(api.post("/jobs", builders.job(purpose="routine"), key="k-1"), 422, "idempotency_key_reused")
        refused(api.post("/runs", builders.run(job["id"]), key="k-1"), 422, "idempotency_key_reused")


def test_a_refused_request_is_judged_anew_under_its_key(api: Api) -> None:
    with nothing_changes():
        refused(api.post("/jobs", builders.job(purpose="party"), key="k-1"), 422, "invalid")
    assert read(api.post("/jobs", builders.job(), key="k-1"), 201)["state"] == "requested"


def test_a_key_belongs_to_one_client(api: Api, rival_api: Api, firm: people.Firm) -> None:
    first = read(api.post("/jobs", builders.job(), key="k-1"), 201)
    for other in (rival_api, Api(firm.token(client="field"))):
        assert read(other.post("/jobs", builders.job(), key="k-1"), 201)["id"] != first["id"]
    assert (Job.objects.count(), KeptAnswer.objects.count()) == (3, 3)


def test_a_new_token_of_the_same_client_still_gets_the_answer(api: Api, firm: people.Firm) -> None:
    first = api.post("/jobs", builders.job(), key="k-1")
    assert Api(firm.token()).post("/jobs", builders.job(), key="k-1").content == first.content


def test_every_request_doubled_makes_one_of_each(api: Api) -> None:
    jobs = [api.post("/jobs", builders.job(), key="j") for _ in range(2)]
    runs = [api.post("/runs", builders.run(jobs[0].json()["id"]), key="r") for _ in range(2)]
    submits = [api.post(f"/runs/{runs[0].json()['id']}/submit", key="s") for _ in range(2)]
    scopes = [
        api.post(f"/laterals/{runs[0].json()['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}, key="p")
        for _ in range(2)
    ]
    assert [one.status_code for one in (*jobs, *runs, *submits, *scopes)] == [201] * 4 + [202] * 4
    assert (Job.objects.count(), Run.objects.count(), RepairScope.objects.count()) == (1, 1, 1)
