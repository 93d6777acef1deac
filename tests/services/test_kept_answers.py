"""Answers kept for blind retries: for 30 days, then forgotten a few at a time."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from inspections.models import KeptAnswer
from inspections.services import kept_answers
from tests import builders
from tests.api.answers import job_of, read
from tests.client import Api


def _aged(days: float) -> None:
    KeptAnswer.objects.update(created_at=timezone.now() - timedelta(days=days))


def test_an_answer_is_kept_for_30_days_and_then_forgotten(api: Api) -> None:
    first = api.post("/jobs", builders.job(), key="once")
    _aged(29.9)
    assert kept_answers.sweep() == 0
    again = api.post("/jobs", builders.job(), key="once")
    assert (again.content, again.headers["Idempotency-Replayed"]) == (first.content, "true")
    _aged(30.1)
    assert (kept_answers.sweep(), kept_answers.sweep()) == (1, 0)
    # Forgotten, it is judged anew: a job under a known external_ref is the same job.
    assert read(api.post("/jobs", builders.job(), key="once"))["id"] == read(first, 201)["id"]


def test_a_sweep_forgets_the_oldest_first_and_never_too_many(api: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_answers, "_AT_ONCE", 2)
    for n in range(3):
        job_of(api, external_ref=f"AF-{n}")
    _aged(31)
    assert [kept_answers.sweep() for _ in range(3)] == [2, 1, 0]
