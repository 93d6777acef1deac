"""The broker only rings: the row is there whatever happens to the message."""

from __future__ import annotations

import threading
import uuid
from typing import Any

import pytest
from celery import current_app
from kombu.exceptions import OperationalError

from inspections import tasks
from inspections.models import Calculation
from inspections.services import calculations
from tests.api.answers import draft_of, nothing_changes, read, sealed_of
from tests.client import Api


def test_the_task_bears_the_name_it_is_rung_by() -> None:
    assert tasks.calculate.name == calculations.TASK
    assert calculations.TASK in current_app.tasks


def test_a_message_carries_the_id_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    sent: list[Any] = []
    monkeypatch.setattr(current_app, "send_task", lambda *args, **options: sent.append((args, options)))
    id = uuid.uuid4()
    calculations.ring(id)
    assert sent == [((calculations.TASK,), {"args": [str(id)], "ignore_result": True})]


def test_a_broker_that_is_away_is_no_error_of_the_client(
    api: Api, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    def away(*_: Any, **__: Any) -> None:
        raise OperationalError("connection refused")

    draft = draft_of(api)
    monkeypatch.setattr(current_app, "send_task", away)
    with django_capture_on_commit_callbacks(execute=True):
        answer = read(api.post(f"/runs/{draft['id']}/submit"), 202)
    assert Calculation.objects.get(pk=answer["calculation"]["id"]).state == "queued"


def test_nothing_is_rung_before_the_commit(api: Api, rung: list[str]) -> None:
    sealed_of(api)
    assert rung == []


def test_the_task_does_the_work_and_a_second_message_nothing(api: Api, rung: list[str]) -> None:
    sealed_of(api)
    row = Calculation.objects.get(kind="grade_run")
    tasks.calculate(str(row.pk))
    row.refresh_from_db()
    assert row.state == "done"
    with nothing_changes():
        tasks.calculate(str(row.pk))


@pytest.mark.django_db
def test_a_message_for_what_is_not_there_does_nothing() -> None:
    with nothing_changes():
        tasks.calculate(str(uuid.uuid4()))


def test_the_sweep_outlives_an_outage(monkeypatch: pytest.MonkeyPatch, settings: Any) -> None:
    settings.SWEEP_SECONDS = 0.001
    stopping, calls = threading.Event(), []

    def failing() -> int:
        calls.append(1)
        if len(calls) == 3:
            stopping.set()
        raise RuntimeError("the database is away")

    monkeypatch.setattr("inspections.services.work.sweep", failing)
    monkeypatch.setattr(tasks, "close_old_connections", lambda: None)
    monkeypatch.setattr(tasks.connection, "close", lambda: None)
    tasks.sweep_until(stopping)
    assert len(calls) == 3
