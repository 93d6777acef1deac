"""The examples on the human page work as shown, in the order they stand there."""

from __future__ import annotations

import json

import pytest

from inspections.api.shapes import examples
from tests.client import Api
from tests.processes import ROOT

pytestmark = pytest.mark.django_db


def test_every_example_is_accepted_as_shown(api: Api, works: None) -> None:
    job = api.put(f"/jobs/{examples.JOB_ID}", examples.JOB)
    assert job.status_code == 201, job.content
    lateral = job.json()["property"]["laterals"][0]["id"]
    assert api.post("/jobs", examples.JOB).status_code == 200, "the same reference is the same job"
    assert api.put(f"/runs/{examples.RUN_ID}", examples.RUN).status_code == 201
    assert api.post(f"/runs/{examples.RUN_ID}/submit").status_code == 202
    assert api.post(f"/runs/{examples.RUN_ID}/return", examples.REASONS).status_code == 200
    assert api.post(f"/runs/{examples.RUN_ID}/amendments", examples.AMENDMENT).status_code == 201
    assert api.put(f"/laterals/{lateral}/site", examples.SITE).status_code == 200
    asked = api.post(f"/laterals/{lateral}/repair-scopes", examples.SCOPE)
    assert asked.status_code == 202
    assert api.get(f"/repair-scopes/{asked.json()['id']}").json()["state"] == "done"
    assert api.post(f"/repair-scopes/{asked.json()['id']}/bids", examples.BID).status_code == 201
    closing = api.post(f"/repair-scopes/{asked.json()['id']}/closings", examples.CLOSING)
    assert closing.status_code == 202
    assert api.get(f"/closings/{closing.json()['id']}").json()["outcome"] == "not_seen"


def test_the_document_shows_these_examples() -> None:
    document = json.loads((ROOT / "inspections" / "api" / "openapi.json").read_text())
    body = document["paths"]["/api/v1/runs/{id}"]["put"]["requestBody"]["content"]["application/json"]
    assert [one["value"] for one in body["examples"].values()] == [examples.RUN]
