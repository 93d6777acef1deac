"""Calculations followed over the API, from queued to their result."""

from __future__ import annotations

import pytest

from inspections.models import Calculation
from inspections.services import calculations, work
from tests.api.answers import draft_of, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api

pytestmark = pytest.mark.usefixtures("rung")


def _submitted(api: Api) -> str:
    return str(read(api.post(f"/runs/{draft_of(api)['id']}/submit"), 202)["calculation"]["id"])


def test_a_calculation_is_followed_from_queued_over_running_to_done(api: Api) -> None:
    id = _submitted(api)
    queued = read(api.get(f"/calculations/{id}"))
    assert (queued["state"], queued["attempts"], queued["result"], queued["kind"]) == ("queued", 0, None, "grade_run")
    claimed = calculations.claim(id)  # type: ignore[arg-type]
    assert claimed is not None
    running = read(api.get(f"/calculations/{id}"))
    assert (running["state"], running["attempts"], running["finished_at"]) == ("running", 1, None)
    work._compute_and_write(work.worker(claimed.organisation, ""), claimed)
    done = read(api.get(f"/calculations/{id}"))
    assert (done["state"], done["error"], done["superseded_by"]) == ("done", None, None)
    assert done["finished_at"] is not None and len(done["inputs_sha256"]) == 64
    assert done["result"] == f"/api/v1/runs/{done['subject']}/grading"


def test_a_follower_that_has_the_state_gets_304_until_it_changes(api: Api) -> None:
    id = _submitted(api)
    etag = api.get(f"/calculations/{id}").headers["ETag"]
    assert api.get(f"/calculations/{id}", **{"If-None-Match": etag}).status_code == 304
    work.perform(id)  # type: ignore[arg-type]
    assert read(api.get(f"/calculations/{id}", **{"If-None-Match": etag}))["state"] == "done"


def test_a_failed_calculation_says_why_and_has_no_result(api: Api) -> None:
    id = _submitted(api)
    Calculation.objects.filter(pk=id).update(state="failed", attempts=5, error="no such pipe")
    failed = read(api.get(f"/calculations/{id}"))
    assert (failed["state"], failed["error"], failed["result"]) == ("failed", "no such pipe", None)


def test_calculations_are_listed_by_state_and_kind(api: Api) -> None:
    first = _submitted(api)
    work.perform(first)  # type: ignore[arg-type]
    run = sealed_of(api, job_of(api, external_ref="AF-2"))
    read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}), 202)
    assert [one["id"] for one in read(api.get("/calculations?state=done"))["items"]] == [first]
    assert len(read(api.get("/calculations?state=queued"))["items"]) == 2
    kinds = {one["kind"] for one in read(api.get("/calculations?kind=repair_scope"))["items"]}
    assert kinds == {"repair_scope"}
    refused(api.get("/calculations?kind=magic"), 422, "invalid", "/kind")


def test_a_scope_is_the_result_of_its_calculation(api: Api) -> None:
    run = sealed_of(api)
    asked = read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}), 202)
    assert asked["calculation"]["url"] == f"/api/v1/calculations/{asked['calculation']['id']}"
    work.perform(asked["calculation"]["id"])
    done = read(api.get(f"/calculations/{asked['calculation']['id']}"))
    assert (done["state"], done["error"]) == ("done", None)
    assert done["result"] == f"/api/v1/repair-scopes/{asked['id']}"


def test_another_firms_calculation_does_not_exist(api: Api, rival_api: Api) -> None:
    id = _submitted(api)
    with nothing_changes():
        refused(rival_api.get(f"/calculations/{id}"), 404, "not_found")
        refused(rival_api.post(f"/calculations/{id}/again"), 404, "not_found")
        assert read(rival_api.get("/calculations"))["items"] == []


def test_running_again_needs_the_scope_to_write_runs(api: Api, firm) -> None:  # type: ignore[no-untyped-def]
    id = _submitted(api)
    refused(Api(firm.token("records:read")).post(f"/calculations/{id}/again"), 403, "scope_missing")


def test_a_run_without_any_finding_is_graded_nothing_found(api: Api) -> None:
    run = sealed_of(api, defects=[])
    work.perform(Calculation.objects.get(subject=run["id"]).pk)
    graded = read(api.get(f"/runs/{run['id']}/grading"))
    # 0: nothing found; never no grade (house rule of the default scheme).
    assert (graded["overall"]["grade"], graded["defects"], graded["overall"]["worst_two"]) == (0, [], [])
    assert graded["overall"]["mean_grade"] is None


def test_a_run_of_no_length_is_not_sealed(api: Api) -> None:
    nothing = {"segments": [], "features": [], "defects": [], "unseen": []}
    draft = draft_of(api, counter_end=0, reached="stopped", stopped_by="trap", **nothing)
    with nothing_changes():
        refused(api.post(f"/runs/{draft['id']}/submit"), 422, "run_incomplete", "/counter_end")
