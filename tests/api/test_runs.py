"""Runs as drafts: stored as written, with what they lack; changed only by those who saw them."""

from __future__ import annotations

import json
import uuid
from decimal import Decimal
from typing import Any

from tests import builders
from tests.api.answers import as_sent, draft_of, fault_codes, job_of, nothing_changes, read, refused
from tests.client import Api


def test_a_run_becomes_a_draft_without_problems(api: Api) -> None:
    job = job_of(api)
    response = api.post("/runs", builders.run(job["id"]))
    run = read(response, 201)
    assert response.headers["Location"] == f"/api/v1/runs/{run['id']}"
    assert response.headers["ETag"] == '"1"'
    assert (run["state"], run["problems"], run["alarms"]) == ("draft", [], [])
    assert run["lateral"] == job["property"]["laterals"][0]["id"]


def test_the_only_lateral_of_the_property_need_not_be_named(api: Api) -> None:
    job = job_of(api)
    lateral = job["property"]["laterals"][0]["id"]
    assert draft_of(api, job)["lateral"] == draft_of(api, job, lateral=lateral)["lateral"] == lateral


def test_everything_comes_back_as_it_was_sent(api: Api) -> None:
    job = job_of(api)
    sent = builders.run(job["id"], camera={"head_diameter": 1.5, "skid": "brush"}, external_ref="R-1")
    run = read(api.post("/runs", sent), 201)
    for name, value in sent.items():
        assert _without_absent(run[name]) == _without_absent(json.loads(json.dumps(value), parse_float=Decimal)), name


def _without_absent(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _without_absent(member) for name, member in value.items() if member not in (None, False, [])}
    return [_without_absent(member) for member in value] if isinstance(value, list) else value


def test_numbers_come_back_digit_for_digit(api: Api) -> None:
    job = job_of(api)
    raw = builders.run(job["id"], counter_start=0, counter_end=60, features=[], unseen=[], segments=[], defects=[])
    text = json.dumps(raw).replace('"features": []', '"features": [{"kind": "joint", "at": 12.50}]')
    response = api.post("/runs", text)
    run = read(response, 201)
    assert b'"at":12.50,' in response.content
    assert b'"at":12.50,' in api.get(f"/runs/{run['id']}").content
    assert b'"counter_end":60,' in response.content


def test_a_run_in_feet_is_read_in_metres_exactly(api: Api) -> None:
    draft = draft_of(api)
    run = read(api.get(f"/runs/{draft['id']}?units=si"))
    assert run["units"] == "si"
    assert run["counter_end"] == Decimal("18.288")  # 60 ft x 0.3048
    assert run["defects"][1]["at"] == Decimal("8.382")  # 27.5 ft
    assert run["defects"][2]["offset"] == Decimal("25.4")  # 1 in
    assert run["segments"][0]["diameter"] == Decimal("101.6")  # 4 in
    assert run["defects"][3]["percent"] == 40


def test_reading_in_other_units_changes_nothing_of_what_is_kept(api: Api) -> None:
    draft = draft_of(api)
    read(api.get(f"/runs/{draft['id']}?units=si"))
    assert read(api.get(f"/runs/{draft['id']}")) == draft


def test_unknown_units_are_refused(api: Api) -> None:
    draft = draft_of(api)
    refused(api.get(f"/runs/{draft['id']}?units=metric"), 422, "invalid", "/units")


def test_a_bare_draft_is_stored_and_says_what_it_lacks(api: Api) -> None:
    job = job_of(api)
    bare = {"job": job["id"], "units": "us", "direction": "downstream", "counter_start": 0}
    run = read(api.post("/runs", bare), 201)
    stopping = {one["pointer"] for one in run["problems"] if one["stops_submit"]}
    others = {one["pointer"] for one in run["problems"] if not one["stops_submit"]}
    assert stopping == {"/counter_end", "/reached"}
    assert others == {"/start_access", "/started_at", "/inspector", "/segments"}


def test_gaps_between_segments_are_problems_of_a_draft(api: Api) -> None:
    segments = [
        {"from": 5, "to": 20, "material": "vitrified_clay", "diameter": 4},
        {"from": 30, "to": 50, "material": "pvc"},
    ]
    run = draft_of(api, segments=segments)
    problems = {one["pointer"]: (one["code"], one["detail"]) for one in run["problems"]}
    assert problems["/segments/0/from"] == ("gap", "No segment from 0 to 5.")
    assert problems["/segments/1/from"] == ("gap", "No segment from 20 to 30.")
    assert problems["/segments"] == ("gap", "No segment from 50 to 60.")
    assert problems["/segments/1/diameter"][0] == "missing"
    assert not any(one["stops_submit"] for one in run["problems"])


def test_a_stop_short_asks_what_stopped_it(api: Api) -> None:
    run = draft_of(api, reached="stopped")
    assert [one["pointer"] for one in run["problems"]] == ["/stopped_by"]


def test_a_run_for_another_firms_job_is_refused_by_its_place(api: Api, rival_api: Api) -> None:
    job = job_of(api)
    with nothing_changes():
        problem = refused(rival_api.post("/runs", builders.run(job["id"])), 422, "invalid", "/job")
        assert fault_codes(problem)["/job"] == "no_such_record"
        refused(rival_api.put(f"/runs/{uuid.uuid4()}", builders.run(job["id"])), 422, "invalid", "/job")


def test_a_lateral_of_another_property_is_refused(api: Api) -> None:
    job = job_of(api)
    other = job_of(api, external_ref="AF-2", property={"address": {"line1": "3 Weir Row"}})
    lateral = other["property"]["laterals"][0]["id"]
    with nothing_changes():
        refused(api.post("/runs", builders.run(job["id"], lateral=lateral)), 422, "invalid", "/lateral")


def test_another_firms_run_does_not_exist(api: Api, rival_api: Api) -> None:
    draft = draft_of(api)
    path, star = f"/runs/{draft['id']}", {"If-Match": "*"}
    rivals_job = job_of(rival_api)
    with nothing_changes():
        refused(rival_api.get(path), 404, "not_found")
        refused(rival_api.put(path, builders.run(rivals_job["id"]), **star), 404, "not_found")
        refused(rival_api.patch(path, {"inspector": "X"}, **star), 404, "not_found")
        refused(rival_api.delete(path, **star), 404, "not_found")
        for act in ("submit", "accept", "amendments", "return"):
            body = {"reasons": ["x"]} if act == "return" else {"reason": "x", "changes": {}}
            answer = rival_api.post(f"{path}/{act}", body if act in ("return", "amendments") else None)
            refused(answer, 404, "not_found")
        for part in ("grading", "amendments"):
            refused(rival_api.get(f"{path}/{part}"), 404, "not_found")
        assert read(rival_api.get("/runs"))["items"] == []


def test_put_makes_a_run_and_equal_content_again_changes_nothing(api: Api) -> None:
    job, id = job_of(api), str(uuid.uuid4())
    first = read(api.put(f"/runs/{id}", builders.run(job["id"])), 201)
    with nothing_changes():
        assert read(api.put(f"/runs/{id}", builders.run(job["id"]))) == first


def test_put_of_the_document_that_was_read_changes_nothing(api: Api) -> None:
    draft = draft_of(api)
    raw = json.dumps(as_sent(json.loads(api.get(f"/runs/{draft['id']}").content)))
    with nothing_changes():
        assert read(api.put(f"/runs/{draft['id']}", raw)) == draft


def test_other_content_needs_the_revision_that_was_read(api: Api) -> None:
    draft = draft_of(api)
    path, other = f"/runs/{draft['id']}", builders.run(draft["job"], inspector="Ash Heath")
    with nothing_changes():
        refused(api.put(path, other), 428, "revision_required")
        refused(api.put(path, other, **{"If-Match": '"2"'}), 412, "revision_stale")
    assert read(api.put(path, other, **{"If-Match": '"1"'}))["revision"] == 2
    assert read(api.put(path, builders.run(draft["job"]), **{"If-Match": "*"}))["revision"] == 3


def test_a_merge_patch_replaces_lists_and_removes_nulls(api: Api) -> None:
    draft = draft_of(api)
    patch = {"unseen": [], "inspector": None, "start_access": {"size": 6}}
    changed = read(api.patch(f"/runs/{draft['id']}", patch, **{"If-Match": '"1"'}))
    assert (changed["unseen"], changed["inspector"]) == ([], None)
    assert (changed["start_access"]["size"], changed["start_access"]["label"]) == (6, "front clean-out")
    assert changed["defects"] == draft["defects"]


def test_a_draft_is_taken_away_by_who_saw_it(api: Api) -> None:
    draft = draft_of(api)
    with nothing_changes():
        refused(api.delete(f"/runs/{draft['id']}"), 428, "revision_required")
    assert api.delete(f"/runs/{draft['id']}", **{"If-Match": '"1"'}).status_code == 204
    refused(api.get(f"/runs/{draft['id']}"), 404, "not_found")


def test_a_reference_names_one_run_of_its_source(api: Api) -> None:
    first = draft_of(api, external_ref="R-1")
    second = draft_of(api, job_of(api, external_ref="AF-2"), external_ref="R-2")
    with nothing_changes():
        again = builders.run(first["job"], external_ref="R-1", inspector="Ash Heath")
        refused(api.post("/runs", again), 409, "external_ref_taken")
        patched = api.patch(f"/runs/{second['id']}", {"external_ref": "R-1"}, **{"If-Match": "*"})
        refused(patched, 409, "external_ref_taken")


def test_the_same_reference_with_equal_content_is_the_same_run(api: Api) -> None:
    first = draft_of(api, external_ref="R-1")
    with nothing_changes(but=("KeptAnswer",)):
        assert read(api.post("/runs", builders.run(first["job"], external_ref="R-1")))["id"] == first["id"]


def test_runs_are_listed_by_job_lateral_and_state(api: Api) -> None:
    first = draft_of(api)
    other = draft_of(api, job_of(api, external_ref="AF-2", property={"address": {"line1": "3 Weir Row"}}))
    for query in (f"job={first['job']}", f"lateral={first['lateral']}"):
        assert [run["id"] for run in read(api.get(f"/runs?{query}"))["items"]] == [first["id"]]
    assert [run["id"] for run in read(api.get("/runs?state=draft"))["items"]] == [first["id"], other["id"]]
    assert read(api.get("/runs?state=submitted"))["items"] == []
