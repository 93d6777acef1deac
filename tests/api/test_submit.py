"""From draft to sealed record: submit, amendments, review, and the grading that follows."""

from __future__ import annotations

import json

import pytest

from inspections.models import Calculation, ReconciledLateral
from inspections.services import work
from tests import builders
from tests.api.answers import as_sent, draft_of, fault_codes, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api


def test_a_submit_seals_the_run_and_rings_for_one_calculation(
    api: Api, rung: list[str], django_capture_on_commit_callbacks: object
) -> None:
    draft = draft_of(api)
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        answer = read(api.post(f"/runs/{draft['id']}/submit"), 202)
    assert rung == [answer["calculation"]["id"]]
    run = read(api.get(f"/runs/{draft['id']}"))
    assert (run["state"], run["problems"]) == ("submitted", [])
    assert run["submitted_at"] is not None


def test_submitting_twice_is_refused(api: Api) -> None:
    run = sealed_of(api)
    with nothing_changes():
        refused(api.post(f"/runs/{run['id']}/submit"), 409, "run_already_submitted")


def test_a_run_that_cannot_be_graded_is_not_sealed_and_hears_all_that_is_missing(api: Api) -> None:
    job = job_of(api)
    bare = {"job": job["id"], "units": "us", "direction": "downstream", "counter_start": 0}
    draft = read(api.post("/runs", bare), 201)
    with nothing_changes():
        problem = refused(api.post(f"/runs/{draft['id']}/submit"), 422, "run_incomplete", "/counter_end", "/reached")
    assert set(fault_codes(problem).values()) == {"missing"}


def test_a_submit_takes_no_content(api: Api) -> None:
    draft = draft_of(api)
    with nothing_changes():
        refused(api.post(f"/runs/{draft['id']}/submit", {"state": "accepted"}), 400, "malformed", "/state")
    read(api.post(f"/runs/{draft['id']}/submit", {}), 202)


def test_a_grading_does_not_exist_before_the_run_is_graded(api: Api, rung: list[str]) -> None:
    draft = draft_of(api)
    refused(api.get(f"/runs/{draft['id']}/grading"), 404, "not_graded_yet")
    calculation = read(api.post(f"/runs/{draft['id']}/submit"), 202)["calculation"]["id"]
    refused(api.get(f"/runs/{draft['id']}/grading"), 404, "not_graded_yet")
    work.perform(calculation)
    assert read(api.get(f"/runs/{draft['id']}/grading"))["run"] == draft["id"]


@pytest.mark.usefixtures("works")
def test_a_grading_under_a_scheme_nobody_asked_for_does_not_exist(api: Api) -> None:
    run = sealed_of(api)
    assert read(api.get(f"/runs/{run['id']}/grading?scheme=open-five"))["scheme"]["id"] == "open-five"
    refused(api.get(f"/runs/{run['id']}/grading?scheme=nowhere"), 404, "not_graded_yet")
    refused(api.get(f"/runs/{run['id']}/grading?scheme=%00"), 404, "not_graded_yet")


def test_a_sealed_run_answers_200_to_equal_content_and_409_to_other(api: Api) -> None:
    run = sealed_of(api)
    raw = json.dumps(as_sent(json.loads(api.get(f"/runs/{run['id']}").content)))
    path = f"/runs/{run['id']}"
    with nothing_changes():
        assert read(api.put(path, raw)) == run
        assert read(api.put(path, builders.run(run["job"]))) == run
        for headers in ({}, {"If-Match": "*"}, {"If-Match": f'"{run["revision"]}"'}):
            refused(api.put(path, builders.run(run["job"], inspector="X"), **headers), 409, "run_is_sealed")
        refused(api.patch(path, {"inspector": "X"}, **{"If-Match": "*"}), 409, "run_is_sealed")
        refused(api.delete(path, **{"If-Match": "*"}), 409, "run_is_sealed")


def test_an_amendment_changes_a_sealed_run_and_keeps_what_stood_before(api: Api) -> None:
    run = sealed_of(api)
    asked = {"reason": "The head slipped.", "changes": {"counter_end": 60.50}}
    response = api.post(f"/runs/{run['id']}/amendments", asked)
    amendment = read(response, 201)
    assert (amendment["reason"], amendment["before"]) == ("The head slipped.", as_sent(run))
    now = read(api.get(f"/runs/{run['id']}"))
    assert (now["counter_end"], now["state"], now["revision"]) == (60.5, "submitted", run["revision"] + 1)
    assert amendment["run_revision"] == now["revision"]
    assert amendment["calculation"]["id"]
    assert [one["id"] for one in read(api.get(f"/runs/{run['id']}/amendments"))["items"]] == [amendment["id"]]


def test_what_an_amendment_says_wrong_is_named_in_its_changes(api: Api) -> None:
    run = sealed_of(api)
    path = f"/runs/{run['id']}/amendments"
    with nothing_changes():
        refused(api.post(path, {"changes": {"inspector": "X"}}), 422, "invalid", "/reason")
        wrong = {"reason": "x", "changes": {"counter_end": 10, "colour": "red"}}
        problem = refused(api.post(path, wrong), 400, "malformed", "/changes/colour", "/changes/segments/0/to")
        assert fault_codes(problem)["/changes/segments/0/to"] == "beyond_counter_end"
        refused(api.post(path, {"reason": "x", "changes": {}}), 422, "invalid", "/changes")
        bare = {"reason": "x", "changes": {"reached": None}}
        refused(api.post(path, bare), 422, "run_incomplete", "/changes/reached")


def test_a_draft_is_not_amended(api: Api) -> None:
    draft = draft_of(api)
    asked = {"reason": "x", "changes": {"inspector": "X"}}
    with nothing_changes():
        refused(api.post(f"/runs/{draft['id']}/amendments", asked), 409, "run_is_draft")


def test_a_run_is_accepted_once_and_stays_sealed(api: Api) -> None:
    run = sealed_of(api)
    accepted = read(api.post(f"/runs/{run['id']}/accept"))
    assert (accepted["state"], accepted["review_reasons"]) == ("accepted", [])
    with nothing_changes():
        refused(api.post(f"/runs/{run['id']}/accept"), 409, "run_not_submitted")
        refused(api.post(f"/runs/{run['id']}/submit"), 409, "run_already_submitted")


def test_a_run_is_returned_only_with_reasons(api: Api) -> None:
    run = sealed_of(api)
    with nothing_changes():
        refused(api.post(f"/runs/{run['id']}/return", {}), 422, "invalid", "/reasons")
        refused(api.post(f"/runs/{run['id']}/return", {"reasons": []}), 422, "invalid", "/reasons")
    returned = read(api.post(f"/runs/{run['id']}/return", {"reasons": ["No clock at the fracture."]}))
    assert (returned["state"], returned["review_reasons"]) == ("returned", ["No clock at the fracture."])


def test_a_draft_is_neither_accepted_nor_returned(api: Api) -> None:
    draft = draft_of(api)
    with nothing_changes():
        refused(api.post(f"/runs/{draft['id']}/accept"), 409, "run_not_submitted")
        refused(api.post(f"/runs/{draft['id']}/return", {"reasons": ["x"]}), 409, "run_not_submitted")


@pytest.mark.usefixtures("works")
def test_a_returned_run_is_amended_and_submitted_again(api: Api) -> None:
    run = sealed_of(api)
    path = f"/runs/{run['id']}"
    read(api.post(f"{path}/return", {"reasons": ["Wrong inspector."]}))
    with nothing_changes():
        refused(api.post(f"{path}/submit"), 409, "run_already_submitted")
    read(api.post(f"{path}/amendments", {"reason": "Mended.", "changes": {"inspector": "Ash Heath"}}), 201)
    read(api.post(f"{path}/submit"), 202)
    now = read(api.get(path))
    assert (now["state"], now["inspector"]) == ("submitted", "Ash Heath")
    assert read(api.post(f"{path}/accept"))["state"] == "accepted"


@pytest.mark.usefixtures("works")
def test_the_lateral_is_current_after_a_run_was_submitted_again(api: Api) -> None:
    run = sealed_of(api)
    path = f"/runs/{run['id']}"
    read(api.post(f"{path}/return", {"reasons": ["Wrong inspector."]}))
    read(api.post(f"{path}/amendments", {"reason": "Mended.", "changes": {"inspector": "Ash Heath"}}), 201)
    followed = read(api.post(f"{path}/submit"), 202)["calculation"]["url"]
    assert read(api.get(followed.removeprefix("/api/v1")))["state"] == "done"
    assert read(api.get(f"/laterals/{run['lateral']}"))["is_current"] is True


def test_a_calculation_whose_run_was_amended_first_is_superseded(api: Api, rung: list[str]) -> None:
    draft = draft_of(api)
    first = read(api.post(f"/runs/{draft['id']}/submit"), 202)["calculation"]["id"]
    asked = {"reason": "x", "changes": {"inspector": "Ash Heath"}}
    second = read(api.post(f"/runs/{draft['id']}/amendments", asked), 201)["calculation"]["id"]
    work.perform(first)
    followed = read(api.get(f"/calculations/{first}"))
    assert (followed["state"], followed["superseded_by"], followed["result"]) == ("superseded", second, None)
    refused(api.get(f"/runs/{draft['id']}/grading"), 404, "not_graded_yet")
    work.perform(second)
    assert read(api.get(f"/runs/{draft['id']}/grading"))["run_revision"] == 3
    assert (Calculation.objects.count(), ReconciledLateral.objects.count()) == (2, 1)


def test_reviewing_needs_the_auditors_scope(api: Api, firm) -> None:  # type: ignore[no-untyped-def]
    run = sealed_of(api)
    field = Api(firm.token("runs:write", "records:read"))
    with nothing_changes():
        for act, body in (("accept", None), ("return", {"reasons": ["x"]})):
            problem = refused(field.post(f"/runs/{run['id']}/{act}", body), 403, "scope_missing")
            assert "audit:read" in problem["detail"]


def test_a_submit_an_amendment_and_a_review_of_a_revision_that_is_gone_are_refused(api: Api) -> None:
    draft = draft_of(api)
    path, stale = f"/runs/{draft['id']}", {"If-Match": '"7"'}
    amendment = {"reason": "Read the counter again.", "changes": {"counter_end": 61}}
    with nothing_changes():
        refused(api.post(f"{path}/submit", **stale), 412, "revision_stale")
    read(api.post(f"{path}/submit", **{"If-Match": '"1"'}), 202)
    with nothing_changes():
        refused(api.post(f"{path}/amendments", amendment, **stale), 412, "revision_stale")
        refused(api.post(f"{path}/accept", **stale), 412, "revision_stale")
        refused(api.post(f"{path}/return", {"reasons": ["The lens was fouled."]}, **stale), 412, "revision_stale")
    assert read(api.post(f"{path}/accept", **{"If-Match": '"2"'}))["state"] == "accepted"


@pytest.mark.usefixtures("works")
def test_a_run_moved_to_another_job_leaves_its_lateral_as_if_it_had_never_been_there(api: Api) -> None:
    run = sealed_of(api)
    stays = sealed_of(api, read(api.get(f"/jobs/{run['job']}")), defects=[{"ref": "h", "kind": "hole", "at": 20}])
    other = job_of(api, external_ref="AF-2", property={"address": {"line1": "3 Weir Row"}})
    moved = {"reason": "Wrong house.", "changes": {"job": other["id"], "lateral": None}}
    read(api.post(f"/runs/{run['id']}/amendments", moved), 201)
    for lateral, alone in (
        (run["lateral"], stays["id"]),
        (other["property"]["laterals"][0]["id"], run["id"]),
    ):
        shown = read(api.get(f"/laterals/{lateral}"))
        assert ([one["run"] for one in shown["runs"]], shown["is_current"]) == ([alone], True)


@pytest.mark.usefixtures("works")
def test_a_lateral_whose_only_run_was_moved_away_is_empty(api: Api) -> None:
    run = sealed_of(api)
    other = job_of(api, external_ref="AF-2", property={"address": {"line1": "3 Weir Row"}})
    moved = {"reason": "Wrong house.", "changes": {"job": other["id"], "lateral": None}}
    read(api.post(f"/runs/{run['id']}/amendments", moved), 201)
    shown = read(api.get(f"/laterals/{run['lateral']}"))
    assert (shown["runs"], shown["defects"], shown["is_current"]) == ([], [], True)
