"""How tests of the API read answers: documents with exact numbers, problems, and the state of every table."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.http import HttpResponse

from inspections import exact_json
from inspections.models import ApiToken
from tests import builders
from tests.client import Api


def read(response: HttpResponse, status: int = 200) -> Any:
    """Return the document of an answer that must have this status, its decimals exact."""
    assert response.status_code == status, (response.status_code, response.content[:2000])
    return json.loads(response.content, parse_float=Decimal)


def refused(response: HttpResponse, status: int, code: str, *places: str) -> dict[str, Any]:
    """Check that an answer is a problem of this status and code that names these places; return it."""
    problem: dict[str, Any] = read(response, status)
    assert response.headers["Content-Type"] == "application/problem+json"
    assert sorted(problem) == ["code", "detail", "errors", "request_id", "status", "title", "type"]
    assert (problem["status"], problem["code"]) == (status, code), problem
    assert problem["type"] == f"/api/v1/problems/{code}"
    assert response.headers["X-Request-Id"] == problem["request_id"]
    named = {fault["pointer"] for fault in problem["errors"]}
    assert set(places) <= named, problem["errors"]
    return problem


def fault_codes(problem: dict[str, Any]) -> dict[str, str]:
    """Return the code of each fault by its place."""
    return {fault["pointer"]: fault["code"] for fault in problem["errors"]}


def every_row() -> dict[str, list[dict[str, Any]]]:
    """Return all rows of all tables of the service; of tokens not the time of their last use."""
    tables = {}
    for model in apps.get_app_config("inspections").get_models():
        rows = model._default_manager.order_by("pk").values()
        hidden = {"last_used_at"} if model is ApiToken else set()
        tables[model.__name__] = [{name: row[name] for name in row if name not in hidden} for row in rows]
    return tables


@contextmanager
def nothing_changes(but: tuple[str, ...] = ()) -> Iterator[None]:
    """Hold that no row of any table but these is made, changed or removed inside the block."""
    before = every_row()
    yield
    after = every_row()
    assert [name for name in before if before[name] != after[name] and name not in but] == []


def job_of(api: Api, **changes: Any) -> dict[str, Any]:
    """Have a job made and return it."""
    job: dict[str, Any] = read(api.post("/jobs", builders.job(**changes)), 201)
    return job


def draft_of(api: Api, job: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    """Have a draft made and return it."""
    job = job or job_of(api)
    draft: dict[str, Any] = read(api.post("/runs", builders.run(job["id"], **changes)), 201)
    return draft


def sealed_of(api: Api, job: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    """Have a run made and submitted, and return it as it then stands."""
    draft = draft_of(api, job, **changes)
    read(api.post(f"/runs/{draft['id']}/submit"), 202)
    run: dict[str, Any] = read(api.get(f"/runs/{draft['id']}"))
    return run


def as_sent(run: dict[str, Any]) -> dict[str, Any]:
    """Return the part of a run's document that a client sends."""
    said = ("id", "state", "submitted_at", "reviewed_at", "review_reasons", "problems", "alarms")
    stamps = ("created_at", "updated_at", "revision")
    return {name: value for name, value in run.items() if name not in said + stamps}


def plain(document: Any) -> str:
    """Return a document read with exact decimals as JSON again."""
    return exact_json.write_text(document)
