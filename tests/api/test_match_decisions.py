"""A person pins or rejects a match between two runs: kept, followed, taken back with a reason."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from inspections.models import AuditEntry, Event, Lateral
from inspections.services import work
from tests import builders, people
from tests.api.answers import draft_of, fault_codes, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api

Pair = tuple[dict[str, Any], dict[str, Any]]


@pytest.fixture
def pair(api: Api, works: None) -> Pair:
    """Two sealed runs from both ends of one lateral that see a displaced joint (c, u1) and a fracture (b, u2)."""
    job = job_of(api)
    first = sealed_of(api, job)
    second = read(api.post("/runs", builders.upstream_run(job["id"])), 201)
    read(api.post(f"/runs/{second['id']}/submit"), 202)
    return first, second


def decision(pair: Pair, action: str = "reject", **changes: Any) -> dict[str, Any]:
    """A decision on the fracture that both runs saw."""
    return {
        "action": action,
        "a": {"run": pair[0]["id"], "ref": "b"},
        "b": {"run": pair[1]["id"], "ref": "u2"},
        "reason": "Different clocks on the clip.",
        **changes,
    }


def seen_together(api: Api, lateral: str) -> set[frozenset[str]]:
    """The refs that the reconciled lateral holds for one and the same finding."""
    found = read(api.get(f"/laterals/{lateral}"))
    assert found["is_current"]
    return {frozenset(source["ref"] for source in defect["sources"]) for defect in found["defects"]}


def test_a_rejected_match_becomes_two_findings_and_one_again_when_withdrawn(api: Api, pair: Pair) -> None:
    path = f"/laterals/{pair[0]['lateral']}"
    assert {"b", "u2"} in seen_together(api, pair[0]["lateral"])
    before = read(api.get(path))
    made = read(api.post(f"{path}/match-decisions", decision(pair)), 201)
    together = seen_together(api, pair[0]["lateral"])
    assert {"b"} in together and {"u2"} in together
    assert read(api.get(path))["inputs_sha256"] != before["inputs_sha256"]
    gone = api.delete(f"{path}/match-decisions/{made['id']}?reason=Looked+again.", **{"If-Match": '"1"'})
    assert read(gone)["state"] == "withdrawn"
    assert {"b", "u2"} in seen_together(api, pair[0]["lateral"])
    assert read(api.get(path))["inputs_sha256"] == before["inputs_sha256"]


def test_a_pinned_match_becomes_one_finding(api: Api, works: None) -> None:
    job = job_of(api)
    first = sealed_of(api, job)
    far = {"ref": "u9", "kind": "fracture", "at": 10.6, "pattern": "multiple"}
    body = builders.upstream_run(job["id"], defects=[far])
    second = read(api.post("/runs", body), 201)
    read(api.post(f"/runs/{second['id']}/submit"), 202)
    assert {"b", "u9"} not in seen_together(api, first["lateral"])
    asked = decision((first, second), "pin", b={"run": second["id"], "ref": "u9"})
    read(api.post(f"/laterals/{first['lateral']}/match-decisions", asked), 201)
    assert {"b", "u9"} in seen_together(api, first["lateral"])


def test_of_two_decisions_that_contradict_each_other_the_later_holds(api: Api, pair: Pair) -> None:
    path = f"/laterals/{pair[0]['lateral']}/match-decisions"
    read(api.post(path, decision(pair, "reject")), 201)
    read(api.post(path, decision(pair, "pin")), 201)
    assert {"b", "u2"} in seen_together(api, pair[0]["lateral"])


def test_a_decision_asks_for_a_calculation_that_reconciles_the_lateral(
    api: Api, pair: Pair, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("inspections.services.calculations.ring", lambda id: None)
    lateral = pair[0]["lateral"]
    made = read(api.post(f"/laterals/{lateral}/match-decisions", decision(pair)), 201)
    assert read(api.get(f"/laterals/{lateral}"))["is_current"] is False
    work.perform(uuid.UUID(made["calculation"]["id"]))
    followed = read(api.get(f"/calculations/{made['calculation']['id']}"))
    assert (followed["kind"], followed["state"]) == ("reconcile_lateral", "done")
    assert followed["result"] == f"/api/v1/laterals/{lateral}"
    assert read(api.get(f"/laterals/{lateral}"))["is_current"] is True


def test_a_repair_scope_follows_the_decisions_and_is_no_longer_current_after_one(api: Api, pair: Pair) -> None:
    path = f"/laterals/{pair[0]['lateral']}"
    read(api.put(f"{path}/site", builders.site()))
    asked = {"policy": {"fix_from_grade": 3}}
    first = read(api.post(f"{path}/repair-scopes", asked), 202)["id"]
    assert read(api.get(f"/repair-scopes/{first}"))["is_current"] is True
    read(api.post(f"{path}/match-decisions", decision(pair)), 201)
    assert read(api.get(f"/repair-scopes/{first}"))["is_current"] is False
    second = read(api.post(f"{path}/repair-scopes", asked), 202)["id"]
    shas = [read(api.get(f"/repair-scopes/{id}"))["inputs_sha256"] for id in (first, second)]
    assert len(set(shas)) == 2 and None not in shas


def test_decisions_are_listed_with_who_decided_and_why_also_after_they_were_withdrawn(api: Api, pair: Pair) -> None:
    path = f"/laterals/{pair[0]['lateral']}/match-decisions"
    made = read(api.post(path, decision(pair)), 201)
    read(api.delete(f"{path}/{made['id']}?reason=Looked+again.", **{"If-Match": '"1"'}))
    [kept] = read(api.get(path))["items"]
    assert kept == read(api.get(f"{path}/{made['id']}"))
    assert (kept["state"], kept["reason"], kept["withdrawn_because"]) == (
        "withdrawn",
        "Different clocks on the clip.",
        "Looked again.",
    )
    assert "scheduling" in kept["by"] and kept["withdrawn_at"] is not None
    assert read(api.get(f"{path}?state=standing"))["items"] == []


def test_each_step_has_one_entry_in_the_trail_and_one_event(api: Api, pair: Pair) -> None:
    path = f"/laterals/{pair[0]['lateral']}/match-decisions"
    made = read(api.post(path, decision(pair)), 201)
    read(api.delete(f"{path}/{made['id']}?reason=Looked+again.", **{"If-Match": "*"}))
    entries = AuditEntry.objects.filter(record_type="match_decision", record_id=made["id"]).order_by("number")
    assert [(row.action, row.reason) for row in entries] == [
        ("decided", "Different clocks on the clip."),
        ("withdrawn", "Looked again."),
    ]
    types = Event.objects.filter(type__startswith="match_decision").order_by("number").values_list("type", flat=True)
    assert list(types) == ["match_decision.decided", "match_decision.withdrawn"]


def test_a_decision_repeated_under_its_key_is_made_once(api: Api, pair: Pair) -> None:
    path = f"/laterals/{pair[0]['lateral']}/match-decisions"
    first = api.post(path, decision(pair), key="k1")
    again = api.post(path, decision(pair), key="k1")
    assert (first.status_code, again.status_code, again.content) == (201, 201, first.content)
    assert Lateral.objects.get(pk=pair[0]["lateral"]).inputs_revision == 3
    with nothing_changes():
        refused(api.http.post(f"/api/v1{path}", decision(pair), "application/json"), 400, "idempotency_key_required")


def test_a_decision_names_two_findings_that_are_there(api: Api, pair: Pair) -> None:
    path = f"/laterals/{pair[0]['lateral']}/match-decisions"
    nobody = str(uuid.uuid4())
    draft = draft_of(api, read(api.get(f"/jobs/{pair[0]['job']}")), external_ref="later")
    elsewhere = sealed_of(api, job_of(api, external_ref="AF-9", property={"address": {"line1": "3 Weir Row"}}))
    a = {"run": pair[0]["id"], "ref": "b"}
    cases = [
        ({"a": {"run": nobody, "ref": "b"}}, "/a/run", "no_such_record"),
        ({"a": {"run": pair[0]["id"], "ref": "B"}}, "/a/ref", "no_such_finding"),
        ({"b": {"run": pair[1]["id"], "ref": "#1"}}, "/b/ref", "no_such_finding"),
        ({"b": {"run": pair[0]["id"], "ref": "c"}}, "/b/run", "same_run"),
        ({"b": {"run": draft["id"], "ref": "b"}}, "/b/run", "run_is_draft"),
        ({"b": {"run": elsewhere["id"], "ref": "b"}}, "/b/run", "run_of_other_lateral"),
        ({"reason": None}, "/reason", "null"),
        ({"action": "merge"}, "/action", "unknown_value"),
    ]
    with nothing_changes():
        for changes, pointer, code in cases:
            problem = refused(api.post(path, decision(pair, a=a) | changes), 422, "invalid", pointer)
            assert fault_codes(problem)[pointer] == code
        refused(api.post(path, decision(pair, colour="red")), 400, "malformed", "/colour")
        refused(api.post(path, decision(pair, a={"run": "x", "ref": "b"})), 400, "malformed", "/a/run")
        refused(api.post(path, decision(pair, a={"run": pair[0]["id"], "ref": 1})), 400, "malformed", "/a/ref")


def test_a_decision_is_withdrawn_once_by_who_saw_it_and_with_a_reason(api: Api, pair: Pair) -> None:
    path = f"/laterals/{pair[0]['lateral']}/match-decisions"
    made = read(api.post(path, decision(pair)), 201)
    one = f"{path}/{made['id']}"
    with nothing_changes():
        refused(api.delete(one, **{"If-Match": "*"}), 422, "invalid", "/reason")
        refused(api.delete(f"{one}?reason=x"), 428, "revision_required")
        refused(api.delete(f"{one}?reason=x", **{"If-Match": '"9"'}), 412, "revision_stale")
        refused(api.delete(f"{path}/{uuid.uuid4()}?reason=x", **{"If-Match": "*"}), 404, "not_found")
    read(api.delete(f"{one}?reason=x", **{"If-Match": "*"}))
    with nothing_changes():
        refused(api.delete(f"{one}?reason=x", **{"If-Match": "*"}), 409, "state_not_reachable")


def test_decisions_of_another_firm_do_not_exist_and_deciding_needs_the_scope(
    api: Api, rival_api: Api, firm: people.Firm, pair: Pair
) -> None:
    path = f"/laterals/{pair[0]['lateral']}/match-decisions"
    made = read(api.post(path, decision(pair)), 201)
    reader = Api(firm.token("records:read"))
    with nothing_changes():
        for other, status, code in ((rival_api, 404, "not_found"), (reader, 403, "scope_missing")):
            refused(other.post(path, decision(pair)), status, code)
            refused(other.delete(f"{path}/{made['id']}?reason=x", **{"If-Match": "*"}), status, code)
        refused(rival_api.get(path), 404, "not_found")
        refused(rival_api.get(f"{path}/{made['id']}"), 404, "not_found")
        read(reader.get(path))
