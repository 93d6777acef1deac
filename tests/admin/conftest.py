"""The desk's cast: one person a role, and a firm with one record of every kind."""

from __future__ import annotations

import json
import secrets
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inspections.api.shapes import examples
from inspections.models import (
    Calculation,
    CodeMap,
    Delivery,
    Event,
    GradingScheme,
    Import,
    Job,
    Lateral,
    MatchDecision,
    Recomputation,
    Run,
    Subscription,
    User,
)
from tests import builders, people
from tests.client import Api

PASSWORD = "gravel-otter-lantern-41"


def person(firm: people.Firm | None, role: str, username: str | None = None, **columns: Any) -> User:
    """Make somebody who signs in at the desk."""
    organisation = firm.organisation if firm else None
    return User.objects.create_user(
        username or role, password=PASSWORD, role=role, organisation=organisation, is_staff=True, **columns
    )


def desk(user: User) -> Client:
    """Return a browser in which the user is signed in."""
    client = Client()
    client.force_login(user)
    return client


def made(response: Any) -> dict[str, Any]:
    """Return the document of an answer that must have gone well."""
    assert response.status_code in (200, 201, 202), response.content
    return dict(json.loads(response.content))


@pytest.fixture
def dispatcher(firm: people.Firm) -> Client:
    """Plans the work."""
    return desk(person(firm, "dispatcher"))


@pytest.fixture
def inspector(firm: people.Firm) -> User:
    """Does the runs."""
    return person(firm, "inspector", first_name="Linden", last_name="Marsh")


@pytest.fixture
def auditor(firm: people.Firm) -> Client:
    """Reviews runs and reads the trail."""
    return desk(person(firm, "auditor"))


@pytest.fixture
def administrator(firm: people.Firm) -> Client:
    """Also keeps users, rates, rules and schemes."""
    return desk(person(firm, "administrator"))


@pytest.fixture
def job(api: Api) -> Job:
    """A job as scheduling software asked for it."""
    return Job.objects.get(pk=made(api.post("/jobs", builders.job()))["id"])


@pytest.fixture
def run(api: Api, job: Job, rung: list[str]) -> Run:
    """A submitted run whose grading nobody computed yet."""
    made_run = made(api.post("/runs", builders.run(str(job.pk), external_ref="R-1")))
    made(api.post(f"/runs/{made_run['id']}/submit"))
    return Run.objects.get(pk=made_run["id"])


@pytest.fixture
def failed(run: Run) -> Calculation:
    """The run's calculation, given up."""
    row = Calculation.objects.get(subject=run.pk)
    row.state, row.attempts, row.error = "failed", 5, "ValueError: <b>the pipe</b> is longer than the run"
    row.save()
    return row


def everything(api: Api) -> Lateral:
    """Put one record of every kind into the service, through its API; needs the `works` fixture."""
    job = made(api.post("/jobs", builders.job()))
    run = made(api.post("/runs", builders.run(job["id"], clips=[{"uri": "file:///clips/a.mp4", "duration_s": 61.5}])))
    made(api.post(f"/runs/{run['id']}/submit"))
    amendment = {"reason": "The offset was read again.", "changes": {"inspector": "Sorrel Quay"}}
    made(api.post(f"/runs/{run['id']}/amendments", amendment))
    draft = builders.run(
        job["id"], external_ref="R-draft", counter_end=None, segments=[], features=[], defects=[], unseen=[]
    )
    made(api.post("/runs", draft))
    lateral = run["lateral"]
    made(api.put(f"/laterals/{lateral}/site", builders.site()))
    scope = made(api.post(f"/laterals/{lateral}/repair-scopes", {"policy": {"fix_from_grade": 3}}))
    made(api.post(f"/repair-scopes/{scope['id']}/bids", examples.BID))
    made(api.post(f"/repair-scopes/{scope['id']}/closings", examples.CLOSING))
    access = {
        "property": job["property"]["id"],
        "units": "us",
        "kind": "clean_out",
        "label": "front clean-out",
        "size": 4,
    }
    made(api.post("/access-points", access))
    row = Lateral.objects.get(pk=lateral)
    _decided(row)
    _subscribed(row)
    _in_bulk(row)
    made(api.post(f"/laterals/{lateral}/report-links", {"note": "the owner"}))
    return row


def _in_bulk(lateral: Lateral) -> None:
    """Make a code map, an import and a recomputation."""
    firm = lateral.organisation
    CodeMap.objects.create(organisation=firm, code="alder-codes", title="Codes of the road office", document="{}")
    scheme = GradingScheme.objects.get(organisation=firm, is_default=True)
    Import.objects.create(organisation=firm, source="scheduling", lines=3, taken=1, flagged=1, refused=1)
    Recomputation.objects.create(organisation=firm, scheme=scheme, against=scheme, apply=False, total=1, done=1)


def _decided(lateral: Lateral) -> None:
    """Make a decision on a match; it needs no more than two runs that are there."""
    one, other = Run.objects.filter(lateral=lateral).order_by("created_at")
    MatchDecision.objects.create(
        organisation=lateral.organisation,
        lateral=lateral,
        action="reject",
        run_a=one,
        ref_a="b",
        run_b=other,
        ref_b="u2",
        reason="One is in the clay, the other in the plastic.",
        by="Hazel Brook",
    )


def _subscribed(lateral: Lateral) -> None:
    """Make a receiver and a delivery that did not arrive."""
    receiver = Subscription.objects.create(
        organisation=lateral.organisation,
        url="https://receiver.alder-falls.example/hook",
        event_types=["run.*"],
        salt=secrets.token_hex(16),
        secret_sha256="0" * 64,
    )
    Delivery.objects.create(
        organisation=lateral.organisation,
        subscription=receiver,
        event=Event.objects.filter(organisation=lateral.organisation).latest("number"),
        state="queued",
        next_attempt_at=timezone.now(),
        last_error="no answer",
    )
