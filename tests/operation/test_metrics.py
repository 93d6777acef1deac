"""Numbers for monitoring: by route, never by path; what waits, and since when; closed unless a token is set."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families
from pytest_django.fixtures import Settings

from inspections.models import Calculation, Delivery
from tests import people
from tests.api.answers import job_of, refused
from tests.client import Api
from tests.services.test_deliveries import happened, subscribed

TOKEN = "scrape-token-of-alder-falls"


@pytest.fixture
def scraped(settings: Settings) -> Any:
    """Return a function that reads the value of one number."""
    settings.METRICS_TOKEN = TOKEN

    def value(name: str, **labels: str) -> float:
        answer = Client().get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"})
        assert answer.status_code == 200
        samples = [
            sample
            for family in text_string_to_metric_families(answer.content.decode())
            for sample in family.samples
            if sample.name == name and labels.items() <= sample.labels.items()
        ]
        return sum(sample.value for sample in samples)

    return value


@pytest.mark.django_db
@pytest.mark.parametrize("sent", ["", "Bearer ", "Bearer wrong", f"Basic {TOKEN}", TOKEN])
def test_without_the_token_there_is_nothing_there(settings: Settings, sent: str) -> None:
    settings.METRICS_TOKEN = TOKEN
    refused(Client().get("/metrics", headers={"Authorization": sent}), 404, "not_found")


@pytest.mark.django_db
def test_with_no_token_set_nobody_reads_them(settings: Settings) -> None:
    settings.METRICS_TOKEN = ""
    for sent in ("", "Bearer "):
        refused(Client().get("/metrics", headers={"Authorization": sent}), 404, "not_found")


def test_requests_are_counted_and_timed_by_route_and_status(api: Api, scraped: Any) -> None:
    job = job_of(api)
    found = {"method": "GET", "route": "/api/v1/jobs/<str:id>"}
    before, timed = (
        scraped("pullback_requests_total", status="200", **found),
        scraped("pullback_request_seconds_count", **found),
    )
    missing = scraped("pullback_requests_total", status="404", **found)
    for _ in range(3):
        api.get(f"/jobs/{job['id']}")
    refused(api.get(f"/jobs/{uuid.uuid4()}"), 404, "not_found")
    assert scraped("pullback_requests_total", status="200", **found) - before == 3
    assert scraped("pullback_requests_total", status="404", **found) - missing == 1
    assert scraped("pullback_request_seconds_count", **found) - timed == 4


def test_what_clients_choose_makes_no_new_series(api: Api, scraped: Any, settings: Settings) -> None:
    job = job_of(api)
    for path in (f"/jobs/{job['id']}", "/nothing/at/all", "/jobs?external_ref=AF-1001"):
        api.get(path)
    api.http.generic("BREW", "/api/v1/jobs")
    text = Client().get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"}).content.decode()
    for chosen in (job["id"], "nothing/at/all", "AF-1001", "BREW"):
        assert chosen not in text


def test_what_waits_is_counted_with_its_age_and_the_lag_of_webhooks(firm: people.Firm, scraped: Any) -> None:
    row = Calculation.objects.create(
        organisation=firm.organisation, kind="grade_run", subject=uuid.uuid4(), subject_revision=1, rules_version=1
    )
    Calculation.objects.filter(pk=row.pk).update(created_at=timezone.now() - timedelta(seconds=120))
    subscribed(firm)
    happened(firm)
    happened(firm)
    late = Delivery.objects.order_by("created_at").first()
    assert late
    Delivery.objects.filter(pk=late.pk).update(next_attempt_at=timezone.now() - timedelta(seconds=45))
    of_work, of_hooks = {"queue": "calculations", "state": "queued"}, {"queue": "deliveries", "state": "queued"}
    assert scraped("pullback_queue_rows", **of_work) == 1
    assert 120 <= scraped("pullback_queue_oldest_seconds", **of_work) < 130
    assert scraped("pullback_queue_rows", **of_hooks) == 2
    assert 45 <= scraped("pullback_queue_oldest_seconds", **of_hooks) < 55
    Delivery.objects.update(next_attempt_at=timezone.now() + timedelta(hours=2))  # put off: no lag
    assert scraped("pullback_queue_oldest_seconds", **of_hooks) == 0
