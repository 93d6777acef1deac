"""Shared by all tests: the cast (tests/people.py), clients, and a worker that runs when a test says so."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings
from django.test import TransactionTestCase
from pytest_django.fixtures import Settings

from inspections.services import calculations, doorbell, trail, work
from tests import conformance, people
from tests.client import Api
from tests.triggers import without_triggers


@pytest.fixture(autouse=True, scope="session")
def _flush_past_the_trail() -> Iterator[None]:
    """Django empties all tables after a test with threads, which the triggers of the audit trail refuse."""
    flush = TransactionTestCase._fixture_teardown

    def past_the_trail(case: TransactionTestCase) -> None:
        with without_triggers():
            flush(case)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", past_the_trail)
        yield


@pytest.fixture(autouse=True)
def _password_alone(settings: Settings) -> None:
    """Most tests of the desk are not about the second factor, which the full stack demands."""
    settings.SECOND_FACTOR = False


@pytest.fixture(autouse=True, scope="session")
def _answers_and_events_are_described() -> Iterator[None]:
    """Hold every answer and every event of every test against the committed OpenAPI document."""
    said = trail.event

    def event(**what: Any) -> Any:
        row = said(**what)
        conformance.note(conformance.event_faults(what["type"], what["data"]))
        return row

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "MIDDLEWARE", ["tests.conformance.AnswersAreDescribed", *settings.MIDDLEWARE])
        patch.setattr(trail, "event", event)
        yield


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    """Fail a test in which something was answered that the document does not say."""
    conformance.taken()
    result = yield
    faults = conformance.taken()
    if faults:
        pytest.fail("not as described in openapi.json:\n" + "\n".join(faults[:20]), pytrace=False)
    return result


@pytest.fixture
def firm(db: None) -> people.Firm:
    """The firm whose people use the service in most tests."""
    return people.firm("Alder Falls Drain Cameras")


@pytest.fixture
def rival(db: None) -> people.Firm:
    """Another firm; none of its records exists for the first one."""
    return people.firm("Birch Hollow Pipe Works")


@pytest.fixture
def api(firm: people.Firm) -> Api:
    """A client of the firm with every scope but admin."""
    return Api(firm.token())


@pytest.fixture
def rival_api(rival: people.Firm) -> Api:
    """A client of the other firm."""
    return Api(rival.token())


@pytest.fixture(autouse=True)
def _broker_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    """A broker that was away in one test is asked again by the next."""
    monkeypatch.setitem(doorbell._broker, "away_until", 0.0)


@pytest.fixture
def rung(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the broker was asked to ring for; no broker is needed."""
    ids: list[str] = []
    monkeypatch.setattr(calculations, "ring", lambda id: ids.append(str(id)))
    return ids


@pytest.fixture
def works(monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: object) -> None:
    """Every calculation is done at once by the worker's own code, in the test's transaction."""
    monkeypatch.setattr(calculations.transaction, "on_commit", lambda callback: callback())
    monkeypatch.setattr(calculations, "ring", lambda id: work.perform(id))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what only PostgreSQL can show where the suite runs on SQLite: it runs in the suite's second run."""
    from django.db import connection

    if connection.vendor == "postgresql":
        return
    out = [item for item in items if item.get_closest_marker("postgresql")]
    if out:
        config.hook.pytest_deselected(items=out)
        items[:] = [item for item in items if item not in out]
