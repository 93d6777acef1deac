"""A scope closed after the work, over HTTP: judged by later runs and pressure tests, and shown by the scope."""

from __future__ import annotations

from typing import Any

import pytest

from inspections import exact_json
from inspections.models import Closing, Event
from inspections.services import closing_inputs
from scoring import RULES_VERSION
from tests import people
from tests.api.answers import fault_codes, nothing_changes, read, refused, sealed_of
from tests.api.bidding import scope_of
from tests.api.closing import air_test, closed, inspected, met, outcomes, report
from tests.client import Api

pytestmark = pytest.mark.usefixtures("works")


@pytest.fixture
def scope(api: Api) -> dict[str, Any]:
    """A computed scope: cleaning 3.7 to 13.7 ft, open cut 25.4 to 51.5 ft."""
    return scope_of(api)


def test_work_that_was_seen_whole_and_tested_is_done_and_the_scope_shows_it(api: Api, scope: dict[str, Any]) -> None:
    assert read(api.get(f"/repair-scopes/{scope['id']}"))["closing"] is None
    found = closed(api, scope, report(inspected(api)))
    assert outcomes(found) == ["done", "done", "done"]
    assert met(found, 2) == dict.fromkeys(
        ("built_as_planned", "wholly_seen", "no_defect_left", "material_seen", "tight"), True
    )
    assert met(found, 1) == dict.fromkeys(("built_as_planned", "wholly_seen", "no_defect_left"), True)
    assert [one["became"] for one in found["sections"][1]["cured"]] == ["repaired"] * 3
    assert found["is_current"] and found["alarms"] == []
    shown = read(api.get(f"/repair-scopes/{scope['id']}"))
    assert shown["closing"] == {
        "id": found["id"],
        "url": f"/api/v1/closings/{found['id']}",
        "plan": "least_cost",
        "outcome": "done",
        "closed_on": "2027-06-02",
    }
    assert shown["revision"] == scope["revision"] + 1
    assert read(api.get(f"/calculations/{found['calculation']['id']}"))["result"] == f"/api/v1/closings/{found['id']}"


def test_without_a_reading_it_is_partly_done_and_says_which_is_missing(api: Api, scope: dict[str, Any]) -> None:
    found = closed(api, scope, report(inspected(api), tests=[]))
    assert outcomes(found) == ["partly_done", "done", "partly_done"]
    tight = found["sections"][1]["criteria"][-1]
    assert (tight["criterion"], tight["met"]) == ("tight", None)
    assert "air test by ASTM F1417 (113 s for 0.5 psi)" in tight["detail"]
    assert "A recording is not a pressure test." in tight["detail"]
    unread = closed(api, scope, report(inspected(api, job_ref="AF-3"), tests=[air_test(reading={"measured_s": None})]))
    assert outcomes(unread) == ["partly_done", "done", "partly_done"]
    assert unread["sections"][1]["tests"][0]["missing"] == "measured_s"
    assert "measured_s is missing" in unread["sections"][1]["criteria"][-1]["detail"]


def test_a_defect_of_the_policys_grade_that_is_still_there_fails_its_section(api: Api, scope: dict[str, Any]) -> None:
    sag = {"ref": "s", "kind": "sag", "at": 44, "to": 49, "percent": 40}
    found = closed(api, scope, report(inspected(api, defects=[sag])))
    assert outcomes(found) == ["failed", "done", "failed"]
    (left,) = found["sections"][1]["left"]
    assert (left["kind"], left["grade"], left["from"], left["to"], left["inside"]) == ("sag", 3, 44, 49, True)
    assert read(api.get(f"/repair-scopes/{scope['id']}"))["closing"]["outcome"] == "failed"


def test_a_stretch_that_was_not_seen_keeps_its_section_from_being_done(api: Api, scope: dict[str, Any]) -> None:
    hidden = [{"from": 30, "to": 30.5, "reason": "lens_fouled"}]
    found = closed(api, scope, report(inspected(api, unseen=hidden)))
    assert outcomes(found) == ["partly_done", "done", "partly_done"]
    assert met(found, 2)["wholly_seen"] is False and met(found, 2)["no_defect_left"] is None
    assert found["sections"][1]["unseen"] == [{"from": 30, "to": 30.5, "reason": "lens_fouled"}]


def test_a_run_made_before_the_work_of_a_section_says_nothing_of_it(api: Api, scope: dict[str, Any]) -> None:
    between = inspected(api, started_at="2027-05-19T08:00:00-05:00")
    found = closed(api, scope, report(between))
    assert outcomes(found) == ["partly_done", "done", "not_seen"]
    later = inspected(api, job_ref="AF-4", started_at="2027-05-20T18:00:00-05:00")  # the day of the work counts
    again = closed(api, scope, report(between, later))
    assert outcomes(again) == ["done", "done", "done"]
    assert [one["runs"] for one in again["sections"]] == [[between["id"], later["id"]], [later["id"]]]


def test_work_in_stages_is_closed_again_and_the_newest_closing_counts(api: Api, scope: dict[str, Any]) -> None:
    run = inspected(api)
    first = closed(api, scope, report(run, sections=[{"section": 1, "done_on": "2027-05-18"}]))
    assert outcomes(first) == ["partly_done", "done", "not_done"]
    second = closed(api, scope, report(run))
    assert second["outcome"] == "done"
    assert read(api.get(f"/repair-scopes/{scope['id']}"))["closing"]["id"] == second["id"]
    listed = read(api.get(f"/repair-scopes/{scope['id']}/closings"))["items"]
    assert [one["outcome"] for one in listed] == ["partly_done", "done"]
    assert [one["id"] for one in read(api.get(f"/repair-scopes/{scope['id']}/closings?outcome=done"))["items"]] == [
        second["id"]
    ]


def test_a_report_without_a_run_is_not_seen(api: Api, scope: dict[str, Any]) -> None:
    assert outcomes(closed(api, scope, report())) == ["not_seen", "not_seen", "not_seen"]


def test_the_answer_is_in_the_units_asked_for_and_the_report_as_it_was_sent(api: Api, scope: dict[str, Any]) -> None:
    us = closed(api, scope, report(inspected(api)))
    si = read(api.get(f"/closings/{us['id']}?units=si"))
    assert (us["units"], si["units"]) == ("us", "si")
    assert abs(float(si["sections"][1]["as_built"]["to"]) - 51.6 * 0.3048) < 0.0001
    assert si["reported"] == us["reported"]
    assert us["reported"]["sections"][1]["to"] == us["sections"][1]["as_built"]["to"]
    refused(api.get(f"/closings/{us['id']}?units=yards"), 422, "invalid", "/units")


def test_the_same_evidence_gives_the_same_bytes_and_a_later_run_makes_it_old(api: Api, scope: dict[str, Any]) -> None:
    found = closed(api, scope, report(inspected(api)))
    row = Closing.objects.get(pk=found["id"])
    again = closing_inputs.judged(row)
    assert (again.document_us, again.document_si) == (row.document_us, row.document_si)
    assert (again.inputs_sha256, row.rules_version) == (found["inputs_sha256"], RULES_VERSION)
    inspected(api, job_ref="AF-9")
    old = read(api.get(f"/closings/{found['id']}"))
    assert (old["is_current"], old["outcome"]) == (False, "done")
    assert closing_inputs.judged(row).inputs_sha256 == found["inputs_sha256"]


def test_the_trail_and_the_feed_say_it_once(api: Api, scope: dict[str, Any]) -> None:
    found = closed(api, scope, report(inspected(api)))
    history = read(api.get(f"/closings/{found['id']}/history"))["items"]
    assert [one["action"] for one in history] == ["requested", "computed"]
    assert read(api.get(f"/repair-scopes/{scope['id']}/history"))["items"][-1]["action"] == "closed"
    (event,) = Event.objects.filter(type="repair_scope.closed")
    assert event.subject == f"repair-scopes/{scope['id']}"
    said = exact_json.load(event.data)
    assert (said["closing"], said["outcome"], said["plan"]) == (found["id"], "done", "least_cost")
    assert said["inputs_sha256"] == found["inputs_sha256"]


def test_a_report_is_kept_once_under_its_key_and_its_reference(api: Api, scope: dict[str, Any]) -> None:
    run = inspected(api)
    path = f"/repair-scopes/{scope['id']}/closings"
    refused(api.http.generic("POST", f"/api/v1{path}", "{}", content_type="application/json"), 400,
            "idempotency_key_required")  # fmt: skip
    first = api.post(path, report(run, external_ref="C-1"), key="closing-1")
    assert api.post(path, report(run, external_ref="C-1"), key="closing-1").content == first.content
    assert read(api.post(path, report(run, external_ref="C-1")), 202)["id"] == first.json()["id"]
    refused(api.post(path, report(run, external_ref="C-1", note="x")), 409, "external_ref_taken")
    assert Closing.objects.count() == 1
    with nothing_changes():
        assert read(api.post(f"{path}?dry_run=true", report(run)), 202)["id"]


_OUT: dict[str, Any] = {"section": 3, "done_on": "2027-05-18"}
_ONE: dict[str, Any] = {"section": 1, "done_on": "2027-05-18"}
WRONG: list[tuple[dict[str, Any], int, str, str]] = [
    ({"units": None}, 422, "/units", "null"),
    ({"plan": "cheapest"}, 422, "/plan", "unknown_value"),
    ({"closed_on": "June"}, 400, "/closed_on", "not_a_day"),
    ({"closed_on": "2027-05-19"}, 422, "/sections/1/done_on", "after_closed"),
    ({"sections": []}, 422, "/sections", "too_few"),
    ({"sections": [_OUT]}, 422, "/sections/0/section", "no_such_section"),
    ({"sections": [_ONE, _ONE]}, 422, "/sections/1/section", "stands_twice"),
    ({"sections": [{"section": 1}]}, 422, "/sections/0/done_on", "required"),
    ({"sections": [{**_ONE, "from": 14, "to": 4}]}, 422, "/sections/0/to", "to_before_from"),
    ({"sections": [{**_ONE, "from": 14}]}, 422, "/sections/0/from", "to_before_from"),
    ({"sections": [{**_ONE, "method": "magic"}]}, 422, "/sections/0/method", "unknown_value"),
    ({"sections": [{**_ONE, "warranty_until": "2027-05-17"}]}, 422, "/sections/0/warranty_until", "before_done"),
    ({"sections": [{**_ONE, "test_demanded": False}]}, 422, "/sections/0/note", "required"),
    ({"runs": ["one"]}, 400, "/runs/0", "not_a_uuid"),
    ({"runs": ["0b5e7a52-1d6c-4c1e-9a51-5a3f0c6d2e11"]}, 422, "/runs/0", "no_such_record"),
    ({"tests": [air_test(to=25.4)]}, 422, "/tests/0/to", "to_before_from"),
    ({"tests": [air_test(made_at="2027-05-20")]}, 400, "/tests/0/made_at", "not_a_time"),
    ({"tests": [air_test(air_test=None)]}, 422, "/tests/0/air_test", "one_of_three"),
    ({"tests": [air_test(water_head={"code": "ipc"})]}, 422, "/tests/0/water_head", "one_of_three"),
    ({"tests": [air_test(reading={"standard": "X1"})]}, 422, "/tests/0/air_test/standard", "unknown_value"),
    ({"tests": [air_test(reading={"pressure_drop_psi": None})]}, 422,
     "/tests/0/air_test/pressure_drop_psi", "required"),
    ({"tests": [air_test(reading={"sections": [{"diameter": 2, "length": 26.2}]})]}, 422,
     "/tests/0/air_test/sections/0/diameter", "out_of_range"),
    ({"tests": [air_test(reading={"sections": [{"diameter": 4, "length": 28}]})]}, 422,
     "/tests/0/air_test/sections", "length_does_not_fit"),
    ({"tests": [{**air_test(), "drop": 1}]}, 400, "/tests/0/drop", "unknown_field"),
]  # fmt: skip


def test_what_is_wrong_in_a_report_is_named_with_its_place(api: Api, scope: dict[str, Any]) -> None:
    for changes, status, place, code in WRONG:
        with nothing_changes():
            answer = api.post(f"/repair-scopes/{scope['id']}/closings", report(**changes))
            problem = refused(answer, status, "invalid" if status == 422 else "malformed", place)
        assert fault_codes(problem)[place] == code, (changes, problem["errors"])


def test_only_runs_of_this_lateral_made_after_the_scope_close_it(api: Api, scope: dict[str, Any]) -> None:
    inspected_then = read(api.get(f"/runs?lateral={scope['lateral']}"))["items"][0]
    place = {"external_ref": "P-99", "address": {"line1": "1 Weir Row", "locality": "Alder Falls", "country": "US"}}
    elsewhere = inspected(api, job_ref="AF-77")
    other = sealed_of(api, external_ref=None, job=read(api.post("/jobs", _job("AF-78", place)), 201))
    for run, code in ((inspected_then, "run_before_scope"), (other, "run_of_other_lateral")):
        problem = refused(
            api.post(f"/repair-scopes/{scope['id']}/closings", report(elsewhere, run)), 422, "invalid", "/runs/1"
        )
        assert fault_codes(problem) == {"/runs/1": code}
    twice = refused(api.post(f"/repair-scopes/{scope['id']}/closings", report(elsewhere, elsewhere)), 422, "invalid")
    assert fault_codes(twice) == {"/runs/1": "stands_twice"}


def _job(ref: str, place: dict[str, Any]) -> dict[str, Any]:
    return {"external_ref": ref, "purpose": "post_repair", "property": place,
            "customer": {"external_ref": "C-9", "name": "Ivy Lark", "kind": "household"}}  # fmt: skip


def test_another_firms_closings_do_not_exist(api: Api, rival_api: Api, scope: dict[str, Any]) -> None:
    found = closed(api, scope, report(inspected(api)))
    theirs = scope_of(rival_api)
    run = read(api.get(f"/runs?lateral={scope['lateral']}"))["items"][1]
    with nothing_changes():
        refused(rival_api.get(f"/closings/{found['id']}"), 404, "not_found")
        refused(rival_api.get(f"/closings/{found['id']}/history"), 404, "not_found")
        refused(rival_api.get(f"/repair-scopes/{scope['id']}/closings"), 404, "not_found")
        refused(rival_api.post(f"/repair-scopes/{scope['id']}/closings", report()), 404, "not_found")
        refused(rival_api.post(f"/repair-scopes/{theirs['id']}/closings", report(run)), 422, "invalid", "/runs/0")


def test_who_may_only_read_closes_nothing(api: Api, firm: people.Firm, scope: dict[str, Any]) -> None:
    found = closed(api, scope, report(inspected(api)))
    reader = Api(firm.token("records:read"))
    assert read(reader.get(f"/closings/{found['id']}"))["outcome"] == "done"
    with nothing_changes():
        refused(reader.post(f"/repair-scopes/{scope['id']}/closings", report()), 403, "scope_missing")
