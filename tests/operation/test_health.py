"""Readiness says no where a write would fail, and which part is to blame; what work survives is only said."""

from __future__ import annotations

import shutil
import uuid
from datetime import timedelta
from typing import Any, NamedTuple

import pytest
from django.db import connection
from django.db.utils import OperationalError
from django.test import Client
from django.utils import timezone
from pytest_django.fixtures import Settings

from inspections.api import health
from inspections.models import Calculation, Organisation
from tests import people
from tests.api.answers import read
from tests.processes import spare_port


class Usage(NamedTuple):
    total: int
    used: int
    free: int


def asked() -> Any:
    return Client().get("/readyz")


@pytest.mark.django_db
def test_a_service_that_can_work_says_so_part_by_part() -> None:
    said = read(asked())
    assert said["status"] == "ok"
    assert set(said) == {"status", "database", "migrations", "disk", "broker", "queue"}
    assert read(Client().get("/healthz")) == {"status": "ok"}


@pytest.mark.django_db
def test_asking_writes_nothing(firm: people.Firm) -> None:
    count = Organisation.objects.count()
    asked()
    assert Organisation.objects.count() == count
    assert not connection.needs_rollback


def not_ready(part: str, says: str) -> None:
    answer = asked()
    problem = read(answer, 503)
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.headers["Retry-After"] == "2"
    assert says in problem[part]
    assert says in problem["detail"]
    assert problem["code"] == "not_available"


def test_a_database_that_does_not_answer_is_not_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    def away(*args: Any, **options: Any) -> Any:
        raise OperationalError("connection refused")

    monkeypatch.setattr(health.transaction, "atomic", away)
    monkeypatch.setitem(health._known, "migrated", True)
    not_ready("database", "does not take a write")
    assert read(Client().get("/healthz")) == {"status": "ok"}  # the process lives all the same


@pytest.mark.postgresql  # SQLite has no session that only reads without another file
@pytest.mark.django_db(transaction=True)
def test_a_database_that_only_reads_is_not_ready() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SET default_transaction_read_only = on")
        try:
            not_ready("database", "does not take a write")
        finally:
            cursor.execute("SET default_transaction_read_only = off")


@pytest.mark.django_db
def test_migrations_that_are_not_applied_are_not_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(health._known, "migrated", False)
    with connection.cursor() as cursor:
        newest = "SELECT max(name) FROM django_migrations WHERE app = 'inspections'"
        cursor.execute(f"DELETE FROM django_migrations WHERE app = 'inspections' AND name = ({newest})")
    not_ready("migrations", "not applied; run manage.py migrate")


@pytest.mark.django_db
def test_a_full_disk_is_not_ready(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda path: Usage(10**12, 10**12 - 9_000_000, 9_000_000))
    not_ready("disk", "9 MB left")


@pytest.mark.django_db
def test_a_broker_that_is_away_degrades_and_takes_nobody_out(settings: Settings) -> None:
    settings.BROKER_URL = f"redis://127.0.0.1:{spare_port()}/0"
    said = read(asked())
    assert (said["status"], said["database"]) == ("degraded", "ok")
    assert said["broker"].startswith("away")


def test_work_that_waits_long_degrades_and_work_put_off_does_not(firm: people.Firm) -> None:
    row = Calculation.objects.create(
        organisation=firm.organisation, kind="grade_run", subject=uuid.uuid4(), subject_revision=1, rules_version=1
    )
    assert read(asked())["queue"] == "ok"
    Calculation.objects.filter(pk=row.pk).update(created_at=timezone.now() - timedelta(seconds=300))
    said = read(asked())
    assert said["status"] == "degraded"
    assert said["queue"] in ("the oldest calculation waits for 300 s", "the oldest calculation waits for 301 s")
    Calculation.objects.filter(pk=row.pk).update(run_after=timezone.now() + timedelta(hours=1))
    assert read(asked())["queue"] == "ok"
