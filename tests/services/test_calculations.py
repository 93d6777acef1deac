"""Calculations as rows: one worker claims, a lost one is taken over, nothing is written late or twice."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from celery import current_app
from django.db import OperationalError
from django.utils import timezone

from inspections.models import AuditEntry, Calculation, Event, Lateral, ReconciledLateral, RunGrading
from inspections.services import calculations, doorbell, grading, work
from tests import builders
from tests.api.answers import draft_of, nothing_changes, read, sealed_of
from tests.client import Api

pytestmark = pytest.mark.usefixtures("rung")


@pytest.fixture
def queued(api: Api) -> Calculation:
    """The calculation of a run that was just submitted."""
    sealed_of(api)
    return Calculation.objects.get(kind="grade_run")


def _lease_ran_out(row: Calculation) -> None:
    Calculation.objects.filter(pk=row.pk).update(lease_until=timezone.now() - timedelta(seconds=1))


def _due(row: Calculation) -> None:
    Calculation.objects.filter(pk=row.pk).update(run_after=timezone.now() - timedelta(seconds=1))


def test_a_calculation_is_claimed_once(queued: Calculation) -> None:
    first = calculations.claim(queued.pk)
    assert first is not None and (first.state, first.attempts) == ("running", 1)
    assert first.lease_until is not None and first.lease_until > timezone.now()
    assert calculations.claim(queued.pk) is None


def test_what_is_done_is_not_claimed_again(queued: Calculation) -> None:
    work.perform(queued.pk)
    with nothing_changes():
        work.perform(queued.pk)
        assert calculations.claim(queued.pk) is None


def test_a_worker_whose_lease_ran_out_is_replaced_and_writes_nothing_late(queued: Calculation) -> None:
    late = calculations.claim(queued.pk)
    assert late is not None
    _lease_ran_out(queued)
    with nothing_changes(but=("Calculation", "Event")):
        successor = calculations.claim(queued.pk)
    assert successor is not None and successor.attempts == 2
    with nothing_changes():
        assert calculations.finish(late, state="done") is False
        assert calculations.put_back(late, "too late", is_final=True) is False
        with pytest.raises(work.LeaseLost):
            work._compute_and_write(work.worker(late.organisation, ""), late)
    work._compute_and_write(work.worker(successor.organisation, ""), successor)
    assert RunGrading.objects.filter(scheme__is_default=True).count() == 1


def test_a_worker_that_loses_its_lease_while_computing_writes_nothing(
    queued: Calculation, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = grading.compute

    def slow(claimed: Calculation) -> Any:
        result = real(claimed)
        _lease_ran_out(queued)
        monkeypatch.setitem(work.KINDS, "grade_run", usual)  # type: ignore[arg-type]
        work.perform(queued.pk)  # the other worker comes and finishes
        return result

    usual = work.KINDS["grade_run"]
    monkeypatch.setitem(work.KINDS, "grade_run", work.Kind(slow, usual.write, usual.failed))  # type: ignore[arg-type]
    work.perform(queued.pk)
    queued.refresh_from_db()
    assert (queued.state, queued.attempts) == ("done", 2)
    assert Event.objects.filter(type="run.graded").count() == 1
    assert ReconciledLateral.objects.count() == 1


def test_a_failing_attempt_is_put_back_for_later_and_given_up_after_five(
    queued: Calculation, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: Calculation) -> None:
        raise ArithmeticError("no such pipe")

    usual = work.KINDS["grade_run"]
    monkeypatch.setitem(work.KINDS, "grade_run", work.Kind(broken, usual.write, usual.failed))  # type: ignore[arg-type]
    for attempt in range(1, 6):
        work.perform(queued.pk)
        queued.refresh_from_db()
        assert queued.attempts == attempt
        if attempt < 5:
            assert (queued.state, queued.lease_until) == ("queued", None)
            assert queued.run_after is not None and queued.run_after > timezone.now()
            assert calculations.claim(queued.pk) is None  # not before its time
            _due(queued)
    assert (queued.state, queued.error) == ("failed", "ArithmeticError: no such pipe")
    assert Event.objects.filter(type="run.grading_failed").count() == 1
    assert AuditEntry.objects.filter(action="grading_failed").count() == 1
    with nothing_changes():
        work.perform(queued.pk)


def test_a_calculation_that_failed_is_run_again_with_all_its_attempts(
    api: Api, queued: Calculation, rung: list[str], django_capture_on_commit_callbacks: Any
) -> None:
    Calculation.objects.filter(pk=queued.pk).update(
        state="failed",
        attempts=5,
        error="x",
        finished_at=timezone.now(),
        run_after=timezone.now() + timedelta(hours=1),
    )
    rung.clear()
    with django_capture_on_commit_callbacks(execute=True):
        again = read(api.post(f"/calculations/{queued.pk}/again"), 202)
    assert (again["state"], again["attempts"], again["error"], again["finished_at"]) == ("queued", 0, None, None)
    assert rung == [str(queued.pk)]
    entry = AuditEntry.objects.get(record_type="calculation", record_id=str(queued.pk))
    assert entry.action == "run_again"
    work.perform(queued.pk)
    queued.refresh_from_db()
    assert queued.state == "done"


def test_a_calculation_that_did_not_fail_is_not_run_again(api: Api, queued: Calculation) -> None:
    with nothing_changes(but=("KeptAnswer",)):
        assert read(api.post(f"/calculations/{queued.pk}/again"), 202)["state"] == "queued"


def test_the_sweep_rings_for_work_whose_message_was_lost(queued: Calculation, rung: list[str]) -> None:
    rung.clear()
    assert calculations.sweep() == 0  # it was queued just now: its own message is on its way
    Calculation.objects.filter(pk=queued.pk).update(updated_at=timezone.now() - timedelta(seconds=5))
    assert calculations.sweep() == 1
    assert rung == [str(queued.pk)]


def test_a_backlog_is_not_rung_for_again_while_its_bells_are_unheard(
    queued: Calculation, rung: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for n in range(19):
        queued.pk, queued.subject_revision = uuid.uuid4(), 1000 + n
        queued.save(force_insert=True)
    Calculation.objects.update(updated_at=timezone.now() - timedelta(seconds=5))
    for unheard, expected in ((0, 20), (8, 12), (16, 5), (5000, 5)):
        rung.clear()
        monkeypatch.setattr(doorbell, "_unheard", lambda queue, unheard=unheard: unheard)
        assert (calculations.sweep(), len(rung)) == (20, expected)


def test_bells_are_counted_by_the_broker_itself() -> None:
    """Asked of the broker in memory and, in the second run of the suite, of Redis."""
    queue = f"bells-{uuid.uuid4()}"
    assert doorbell._unheard(queue) == 0
    with current_app.pool.acquire(block=True) as connection:
        there = connection.SimpleQueue(queue)
        for _ in range(3):
            there.put("ring")
        assert doorbell._unheard(queue) == 3
        there.clear()
        there.queue.delete()
        there.close()


def test_the_sweep_rings_for_work_whose_worker_was_killed(queued: Calculation, rung: list[str]) -> None:
    rung.clear()
    calculations.claim(queued.pk)
    assert calculations.sweep() == 0  # its worker still has its lease
    _lease_ran_out(queued)
    assert calculations.sweep() == 1
    work.perform(queued.pk)
    queued.refresh_from_db()
    assert (queued.state, queued.attempts) == ("done", 2)


def test_the_sweep_leaves_alone_what_is_not_due(queued: Calculation, rung: list[str]) -> None:
    rung.clear()
    later, before = timezone.now() + timedelta(seconds=60), timezone.now() - timedelta(seconds=5)
    Calculation.objects.filter(pk=queued.pk).update(run_after=later, updated_at=before)
    assert (calculations.sweep(), rung) == (0, [])


def test_work_that_killed_five_workers_is_given_up_and_said_to_be(queued: Calculation) -> None:
    for _ in range(5):
        assert calculations.claim(queued.pk) is not None
        _lease_ran_out(queued)
    assert calculations.claim(queued.pk) is None
    work.sweep()
    queued.refresh_from_db()
    assert queued.state == "failed"
    assert queued.error is not None and queued.error.startswith("Given up")
    assert Event.objects.filter(type="run.grading_failed").count() == 1
    assert AuditEntry.objects.filter(action="grading_failed").count() == 1


def test_a_database_that_goes_away_leaves_the_work_for_the_next_worker(
    queued: Calculation, monkeypatch: pytest.MonkeyPatch
) -> None:
    def away(_: Calculation) -> None:
        raise OperationalError("terminating connection")

    usual = work.KINDS["grade_run"]
    with monkeypatch.context() as patch:
        patch.setitem(work.KINDS, "grade_run", work.Kind(away, usual.write, usual.failed))  # type: ignore[arg-type]
        with pytest.raises(OperationalError):
            work.perform(queued.pk)
    queued.refresh_from_db()
    assert (queued.state, queued.error) == ("running", None)
    _lease_ran_out(queued)
    work.perform(queued.pk)
    queued.refresh_from_db()
    assert queued.state == "done"


def test_inputs_that_change_while_computing_are_computed_anew(
    api: Api, queued: Calculation, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = read(api.get(f"/runs/{queued.subject}"))
    second = read(api.post("/runs", builders.upstream_run(run["job"])), 201)
    usual, seen = work.KINDS["grade_run"], []

    def with_a_submit_between(claimed: Calculation) -> Any:
        result = usual.compute(claimed)
        if not seen:
            read(api.post(f"/runs/{second['id']}/submit"), 202)
        seen.append(Lateral.objects.get().inputs_revision)
        return result

    monkeypatch.setitem(work.KINDS, "grade_run", work.Kind(with_a_submit_between, usual.write, usual.failed))  # type: ignore[arg-type]
    work.perform(queued.pk)
    assert seen == [2, 2]  # computed once before and once after the second run was sealed
    reconciled = ReconciledLateral.objects.get()
    assert reconciled.inputs_revision == Lateral.objects.get().inputs_revision == 2
    assert len(read(api.get(f"/laterals/{run['lateral']}"))["runs"]) == 2


def test_an_amendment_while_computing_supersedes_the_calculation(
    api: Api, queued: Calculation, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = work.KINDS["grade_run"]

    def with_an_amendment_between(claimed: Calculation) -> Any:
        result = usual.compute(claimed)
        asked = {"reason": "x", "changes": {"counter_end": 61}}
        read(api.post(f"/runs/{queued.subject}/amendments", asked), 201)
        return result

    with monkeypatch.context() as patch:
        changed = work.Kind(with_an_amendment_between, usual.write, usual.failed)
        patch.setitem(work.KINDS, "grade_run", changed)  # type: ignore[arg-type]
        work.perform(queued.pk)
    queued.refresh_from_db()
    assert queued.state == "superseded"
    assert not RunGrading.objects.exists() and not ReconciledLateral.objects.exists()
    assert queued.superseded_by_id is not None
    work.perform(queued.superseded_by_id)
    assert {row.run_revision for row in RunGrading.objects.all()} == {3}


def test_recomputing_gives_the_same_bytes(api: Api, queued: Calculation) -> None:
    claimed = calculations.claim(queued.pk)
    assert claimed is not None
    first, second = grading.compute(claimed), grading.compute(claimed)
    assert first == second
    draft = draft_of(api, read(api.get(f"/jobs/{read(api.get(f'/runs/{queued.subject}'))['job']}")))
    assert draft["state"] == "draft"
    assert grading.compute(claimed).inputs_sha256 == first.inputs_sha256  # a draft is no input
