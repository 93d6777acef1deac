"""A scheme version tried on all records and applied: in turns, resumed after a kill, the difference kept."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from inspections import exact_json
from inspections.models import (
    AuditEntry,
    Calculation,
    Event,
    Lateral,
    LateralDifference,
    LateralGrading,
    Recomputation,
    RunGrading,
)
from inspections.services import calculations, recomputing, work
from tests import people
from tests.api.answers import fault_codes, job_of, nothing_changes, plain, read, refused, sealed_of
from tests.api.test_gradings import next_version
from tests.client import Api


@pytest.fixture
def keeper(firm: people.Firm) -> Api:
    """A client of the firm that may load and recompute."""
    return Api(firm.token("admin", client="keeper"))


@pytest.fixture
def town(api: Api, works: None) -> list[str]:
    """Three inspected laterals, in the order they are gone through: roots, a sag of 40 %, nothing found."""
    found = (
        [{"ref": "a", "kind": "roots", "at": 12, "degree": "bundles"}],
        [{"ref": "d", "kind": "sag", "at": 44, "to": 49, "percent": 40}],
        [],
    )
    laterals = []
    for number, defects in enumerate(found):
        place = {"address": {"line1": f"{number} Weir Row"}}
        job = job_of(api, external_ref=f"AF-{number}", property=place)
        laterals.append(sealed_of(api, job, defects=defects)["lateral"])
    return laterals


def stricter_on_roots() -> dict[str, Any]:
    """The default scheme once more, bundles of roots graded 4 instead of 3 (an invented change)."""
    document = next_version()
    [row] = [one for one in document["rows"] if one["when"].get("degree") == ["bundles"]]
    row["grade"] = 4
    return document


def loaded(keeper: Api, document: dict[str, Any]) -> str:
    return str(read(keeper.post("/grading-schemes", plain({"document": document})), 201)["id"])


def asked(keeper: Api, scheme: str, **changes: Any) -> dict[str, Any]:
    started = read(keeper.post("/recomputations", {"scheme": scheme, **changes}), 202)
    found: dict[str, Any] = read(keeper.get(f"/recomputations/{started['id']}"))
    return found


def test_what_would_change_is_said_for_each_lateral_and_nothing_is_graded(
    api: Api, keeper: Api, town: list[str]
) -> None:
    scheme = loaded(keeper, stricter_on_roots())
    before = (RunGrading.objects.count(), LateralGrading.objects.count())
    found = asked(keeper, scheme)
    assert (found["state"], found["total"], found["done"], found["changed"]) == ("done", 3, 3, 1)
    assert (found["scheme"]["version"], found["against"]["version"], found["apply"]) == (2, 1, False)
    assert (RunGrading.objects.count(), LateralGrading.objects.count()) == before
    items = read(api.get(f"/recomputations/{found['id']}/differences"))["items"]
    assert sorted(one["lateral"] for one in items) == sorted(town)
    [changed] = read(api.get(f"/recomputations/{found['id']}/differences?changed_only=true"))["items"]
    assert (changed["lateral"], changed["before"]["service"], changed["after"]["service"]) == (town[0], 3, 4)
    assert {one["aspect"] for one in changed["differences"] if one["ref"] is None} == {"service", "overall"}
    assert [one["grade"] for one in changed["differences"][-1]["opinions"]] == [3, 4]


def test_a_scheme_is_held_against_what_people_read_now(api: Api, keeper: Api, town: list[str]) -> None:
    """The default recomputed by newer rules: here the older ones are said to have graded the roots 2."""
    kept = LateralGrading.objects.get(reconciled__lateral_id=town[0], scheme__code="open-five")
    document = exact_json.load(kept.document)
    document["defects"][0]["grade"] = document["service"]["grade"] = document["overall"]["grade"] = 2
    LateralGrading.objects.filter(pk=kept.pk).update(document=exact_json.write_text(document))
    found = asked(keeper, "open-five")
    assert (found["scheme"], found["changed"]) == (found["against"], 1)
    [changed] = read(api.get(f"/recomputations/{found['id']}/differences?changed_only=true"))["items"]
    assert (changed["lateral"], changed["before"]["service"], changed["after"]["service"]) == (town[0], 2, 3)


def test_an_applied_scheme_grades_every_run_and_lateral_and_old_gradings_stay(
    api: Api, keeper: Api, town: list[str]
) -> None:
    before = set(LateralGrading.objects.values_list("id", flat=True))
    scheme = loaded(keeper, stricter_on_roots())
    assert asked(keeper, scheme, apply=True)["state"] == "done"
    assert before < set(LateralGrading.objects.values_list("id", flat=True))
    shown = read(api.get(f"/laterals/{town[0]}?scheme={scheme}"))
    assert (shown["grading"]["service"]["grade"], shown["is_current"]) == (4, True)
    assert read(api.get(f"/laterals/{town[0]}"))["grading"]["service"]["grade"] == 3
    both = [
        (one["scheme"]["id"], one["scheme"]["version"])
        for one in read(api.get(f"/laterals/{town[0]}/gradings"))["gradings"]
    ]
    assert both[:2] == [("open-five", 1), ("open-five", 2)]
    assert RunGrading.objects.filter(scheme_id=scheme).count() == 3


def test_a_version_that_was_tried_becomes_the_default_afterwards(api: Api, keeper: Api, town: list[str]) -> None:
    document = stricter_on_roots()
    scheme = loaded(keeper, document)
    asked(keeper, scheme, apply=True)
    body = plain({"document": document, "is_default": True})
    assert read(keeper.post("/grading-schemes", body))["id"] == scheme
    assert read(api.get(f"/laterals/{town[0]}"))["grading"]["service"]["grade"] == 4
    assert [row["id"] for row in read(api.get("/grading-schemes"))["items"] if row["is_default"]] == [scheme]
    assert AuditEntry.objects.filter(record_type="grading_scheme", action="made_default").count() == 1
    with nothing_changes(but=("KeptAnswer",)):
        read(keeper.post("/grading-schemes", body))


def test_long_work_goes_on_in_turns_behind_what_waits(
    keeper: Api, town: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    rung: list[uuid.UUID] = []
    monkeypatch.setattr(calculations, "ring", rung.append)
    monkeypatch.setattr(recomputing, "TURN_SECONDS", -1)  # a turn is over after one lateral
    started = asked(keeper, loaded(keeper, stricter_on_roots()))
    seen = []
    while rung:
        work.perform(rung.pop())
        now = read(keeper.get(f"/recomputations/{started['id']}"))
        seen.append((now["state"], now["done"]))
        if now["done"] < 3:  # so far each took less than the second a pace is counted over at least
            assert now["per_second"] == now["done"]
            assert now["seconds_left"] == -(-(3 - now["done"]) // now["done"])
    assert (now["per_second"], now["seconds_left"]) == (None, None)
    assert seen == [("queued", 1), ("queued", 2), ("done", 3)]
    assert LateralDifference.objects.count() == 3


def test_a_killed_worker_loses_nothing_and_the_next_one_goes_on_where_it_stood(
    keeper: Api, town: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calculations, "ring", lambda id: None)
    started = asked(keeper, loaded(keeper, stricter_on_roots()), apply=True)
    id = uuid.UUID(started["calculation"]["id"])
    whole, done = recomputing._one, []

    def killed_at_the_second(*args: Any) -> None:
        if done:
            raise KeyboardInterrupt  # as a kill: nothing of the worker's own clearing up runs
        done.append(args)
        whole(*args)

    monkeypatch.setattr(recomputing, "_one", killed_at_the_second)
    with pytest.raises(KeyboardInterrupt):
        work.perform(id)
    monkeypatch.setattr(recomputing, "_one", whole)
    halfway = read(keeper.get(f"/recomputations/{started['id']}"))
    assert (halfway["state"], halfway["done"]) == ("running", 1)
    work.perform(id)
    assert Recomputation.objects.get().done == 1  # the lease still runs
    Calculation.objects.filter(pk=id).update(lease_until=timezone.now() - timedelta(seconds=1))
    work.perform(id)
    now = read(keeper.get(f"/recomputations/{started['id']}"))
    assert (now["state"], now["done"]) == ("done", 3)
    assert LateralDifference.objects.count() == 3
    assert Event.objects.filter(type="recomputation.done").count() == 1


def test_a_worker_whose_lease_was_taken_writes_nothing_more(
    keeper: Api, town: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calculations, "ring", lambda id: None)
    started = asked(keeper, loaded(keeper, stricter_on_roots()))
    id = uuid.UUID(started["calculation"]["id"])
    slow = calculations.claim(id)
    assert slow is not None
    Calculation.objects.filter(pk=id).update(lease_until=timezone.now() - timedelta(seconds=1))
    assert calculations.claim(id) is not None
    with pytest.raises(recomputing.LeaseLost):
        recomputing.compute(slow)
    assert LateralDifference.objects.count() == 0


def test_many_kills_with_progress_between_are_no_poison_and_five_without_are(
    keeper: Api, town: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calculations, "ring", lambda id: None)
    started = asked(keeper, loaded(keeper, stricter_on_roots()))
    id = uuid.UUID(started["calculation"]["id"])
    for _ in range(7):
        claimed = calculations.claim(id)
        assert claimed is not None and calculations.extend(claimed)
        Calculation.objects.filter(pk=id).update(lease_until=timezone.now() - timedelta(seconds=1))
    for _ in range(5):
        assert calculations.claim(id) is not None
        Calculation.objects.filter(pk=id).update(lease_until=timezone.now() - timedelta(seconds=1))
    assert calculations.claim(id) is None
    assert [row.pk for row in calculations.poison()] == [id]


def test_a_lateral_that_changes_meanwhile_is_done_from_what_is_there_then(
    keeper: Api, town: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    read_once, changed = recomputing.laterals.read, []

    def read_then_changed(lateral: Lateral) -> Any:
        inputs = read_once(lateral)
        if not changed:
            changed.append(lateral.pk)
            Lateral.objects.filter(pk=lateral.pk).update(inputs_revision=lateral.inputs_revision + 1)
        return inputs

    monkeypatch.setattr(recomputing.laterals, "read", read_then_changed)
    scheme = loaded(keeper, stricter_on_roots())
    assert asked(keeper, scheme, apply=True)["done"] == 3
    graded = LateralGrading.objects.get(scheme_id=scheme, reconciled__lateral_id=changed[0])
    assert graded.reconciled.inputs_revision == Lateral.objects.get(pk=changed[0]).inputs_revision


def test_a_recomputation_is_asked_for_once_and_names_a_scheme_that_is_there(keeper: Api, town: list[str]) -> None:
    first = keeper.post("/recomputations", {"scheme": "five-class"}, key="k")
    again = keeper.post("/recomputations", {"scheme": "five-class"}, key="k")
    assert (first.status_code, again.content) == (202, first.content)
    assert read(keeper.get("/recomputations"))["items"][0]["against"]["code"] == "open-five"
    with nothing_changes():
        problem = refused(keeper.post("/recomputations", {"scheme": "nowhere"}), 422, "invalid", "/scheme")
        assert fault_codes(problem) == {"/scheme": "no_such_record"}
        refused(keeper.post("/recomputations", {}), 422, "invalid", "/scheme")
        refused(keeper.post("/recomputations", {"scheme": "five-class", "apply": "yes"}), 400, "malformed", "/apply")
        id = read(keeper.get("/recomputations"))["items"][0]["id"]
        refused(keeper.get(f"/recomputations/{id}/differences?changed_only=1"), 400, "malformed", "/changed_only")


def test_recomputations_of_another_firm_do_not_exist_and_asking_needs_the_scope(
    api: Api, rival_api: Api, rival: people.Firm, keeper: Api, town: list[str]
) -> None:
    scheme = loaded(keeper, stricter_on_roots())
    mine = asked(keeper, scheme)["id"]
    other = Api(rival.token("admin"))
    with nothing_changes():
        refused(api.post("/recomputations", {"scheme": "open-five"}), 403, "scope_missing")
        refused(other.post("/recomputations", {"scheme": scheme}), 422, "invalid", "/scheme")
        refused(rival_api.get(f"/recomputations/{mine}"), 404, "not_found")
        refused(rival_api.get(f"/recomputations/{mine}/differences"), 404, "not_found")
    theirs = asked(other, "open-five")
    assert (theirs["total"], theirs["done"]) == (0, 0)
