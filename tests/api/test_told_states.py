"""Whoever follows the feed hears of every state of jobs, runs, calculations, gradings and scopes, once each."""

from __future__ import annotations

from typing import Any

import pytest

from inspections.models import Calculation, Event
from inspections.services import calculations, trail, work
from inspections.vocabulary import CALCULATION_STATES, EVENT_TYPES, JOB_STATES, RUN_STATES
from tests import people
from tests.api.answers import draft_of, fault_codes, job_of, read, refused, sealed_of
from tests.client import Api

ANY = {"If-Match": "*"}
pytestmark = pytest.mark.usefixtures("rung")


def told(subject: str) -> list[str]:
    """Return the types of the events about one record, in order."""
    rows = Event.objects.filter(subject=subject).order_by("number")
    return [type.partition(".")[2] for type in rows.values_list("type", flat=True)]


def test_a_job_tells_of_each_state_and_of_other_changes(api: Api) -> None:
    job = job_of(api)
    path, states = f"/jobs/{job['id']}", ["scheduled", "under_way", "done", "under_way", "called_off", "requested"]
    read(api.patch(path, {"instructions": "Ring twice."}, **ANY))
    for state in states:
        read(api.patch(path, {"state": state}, **ANY))
    assert told(f"jobs/{job['id']}") == ["requested", "changed", *states]
    states_told = Event.objects.filter(type="job.done").values_list("data", flat=True)
    assert ['"state":"done"' in data for data in states_told] == [True]
    draft_of(api, job)
    assert told(f"jobs/{job['id']}")[-1] == "under_way"


def test_a_run_tells_of_each_state(api: Api) -> None:
    run = sealed_of(api)
    path = f"/runs/{run['id']}"
    read(api.post(f"{path}/return", {"reasons": ["Too dark."]}))
    read(api.post(f"{path}/amendments", {"reason": "Read again.", "changes": {"inspector": "Ivy Lark"}}), 201)
    read(api.post(f"{path}/submit"), 202)
    read(api.post(f"{path}/accept"))
    wanted = ["created", "submitted", "returned", "amended", "submitted", "accepted"]
    assert told(f"runs/{run['id']}") == wanted
    draft = draft_of(api, read(api.get(f"/jobs/{run['job']}")))
    read(api.patch(f"/runs/{draft['id']}", {"inspector": "Ivy Lark"}, **ANY))
    assert api.delete(f"/runs/{draft['id']}", **ANY).status_code == 204
    assert told(f"runs/{draft['id']}") == ["created", "changed", "deleted"]


def calculation(subject: str) -> Calculation:
    return Calculation.objects.filter(subject=subject).latest("created_at")


def test_a_calculation_tells_of_each_state_with_its_result(api: Api) -> None:
    run = sealed_of(api)
    first = calculation(run["id"])
    work.perform(first.pk)
    assert told(f"calculations/{first.pk}") == ["queued", "running", "done"]
    assert told(f"runs/{run['id']}")[-1] == "graded"
    assert told(f"laterals/{run['lateral']}") == ["graded"]
    scope = read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 3}}), 202)
    work.perform(scope["calculation"]["id"])
    assert told(f"repair-scopes/{scope['id']}") == ["requested", "computed"]


def test_a_calculation_whose_run_was_amended_tells_what_took_its_place(api: Api) -> None:
    run = sealed_of(api)
    first = calculation(run["id"])
    read(api.post(f"/runs/{run['id']}/amendments", {"reason": "r", "changes": {"inspector": "Ivy Lark"}}), 201)
    second = calculation(run["id"])
    work.perform(first.pk)
    assert told(f"calculations/{first.pk}") == ["queued", "running", "superseded"]
    (data,) = Event.objects.filter(type="calculation.superseded").values_list("data", flat=True)
    assert str(second.pk) in data


def test_a_calculation_that_fails_tells_so_and_when_it_is_tried_again(
    api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: Calculation) -> Any:
        raise ArithmeticError("no such pipe")

    run = sealed_of(api)
    row, usual = calculation(run["id"]), work.KINDS["grade_run"]
    monkeypatch.setattr(calculations, "MOST_ATTEMPTS", 1)
    monkeypatch.setitem(work.KINDS, "grade_run", work.Kind(broken, usual.write, usual.failed))  # type: ignore[arg-type]
    work.perform(row.pk)
    assert told(f"calculations/{row.pk}") == ["queued", "running", "failed"]
    assert told(f"runs/{run['id']}")[-1] == "grading_failed"
    read(api.post(f"/calculations/{row.pk}/again"), 202)
    monkeypatch.setitem(work.KINDS, "grade_run", usual)  # type: ignore[arg-type]
    work.perform(row.pk)
    assert told(f"calculations/{row.pk}")[3:] == ["queued", "running", "done"]


def test_every_state_has_a_type_of_its_own() -> None:
    states = [f"calculation.{state}" for state in CALCULATION_STATES] + [f"job.{state}" for state in JOB_STATES]
    states += [f"run.{state}" for state in RUN_STATES if state != "draft"]  # a draft is created
    assert set(states) <= set(EVENT_TYPES)


def test_what_is_not_listed_is_never_told(firm: people.Firm) -> None:
    with pytest.raises(ValueError, match="is no event type"):
        trail.event(organisation=firm.organisation, type="run.vanished", subject="runs/1", data={})


def test_a_misspelt_type_is_told_its_near_name(firm: people.Firm) -> None:
    wanted = {"url": "https://hooks.example.com/", "event_types": ["run.submited", "lateral.*", "laterals.*", "*"]}
    problem = refused(Api(firm.token("admin")).post("/subscriptions", wanted), 422, "invalid")
    assert fault_codes(problem) == {
        "/event_types/0": "not_an_event_type",
        "/event_types/2": "not_an_event_type",
    }
    assert [one["detail"].partition("; ")[2] for one in problem["errors"]] == [
        "did you mean run.submitted?",
        "did you mean lateral.*?",
    ]
