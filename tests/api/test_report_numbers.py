"""The numbers of a report are those of the API: the same documents, read at the same moment, say the same."""

from __future__ import annotations

import io
import re
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

import pytest
from pypdf import PdfReader

from tests import builders
from tests.api.answers import job_of, read, sealed_of
from tests.client import Api


@pytest.fixture
def lateral(api: Api, works: None) -> str:
    """A lateral of two runs, feet and metres, with its ground and its plans."""
    job = job_of(api)
    run = sealed_of(api, job)
    draft = read(api.post("/runs", builders.upstream_run(job["id"])), 201)
    read(api.post(f"/runs/{draft['id']}/submit"), 202)
    read(api.put(f"/laterals/{run['lateral']}/site", builders.site(), **{"If-Match": "*"}))
    read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 3}}), 202)
    return str(run["lateral"])


def words_of(api: Api, lateral: str, form: str, units: str) -> str:
    """Return the words of a report in a form, as a reader's program sees them."""
    body = api.get(f"/laterals/{lateral}/report?units={units}", Accept=form).content
    if form == "application/pdf":
        pages = PdfReader(io.BytesIO(body)).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())
    text = re.sub(r"<style>.*?</style>|<svg.*?</svg>", " ", body.decode(), flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", text.replace("<wbr>", "")).split())


def shown(value: Any, places: int = 2) -> str:
    """Write a number as a reader would round it: to so many places, no trailing zeros, thousands apart."""
    rounded = Decimal(str(value)).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)
    text = f"{rounded:,f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("form", ["text/html", "application/pdf"])
def test_stations_grades_shares_and_digests_are_those_of_the_api(
    api: Api, lateral: str, form: str, units: str
) -> None:
    said = words_of(api, lateral, form, units)
    pipe = read(api.get(f"/laterals/{lateral}?units={units}"))
    unit = "ft" if units == "us" else "m"
    for defect in pipe["defects"]:
        if defect["to_station"] is None:
            assert f"{shown(defect['station'])} {unit}" in said, defect
        else:
            assert f"{shown(defect['station'])} to {shown(defect['to_station'])} {unit}" in said, defect
    overall = pipe["grading"]["overall"]
    assert f"Grade {overall['grade']} of 5 (5 worst)" in said
    assert f"on {shown(pipe['grading']['coverage']['length_share'] * 100, 0)} % seen" in said
    for aspect in ("structural", "service", "overall"):
        summary = pipe["grading"][aspect]
        row = said[said.index("Mean grade") :]
        row = row[row.index(f"{aspect} grade") :]
        assert shown(summary["weighted_count"]) in row[:200] and shown(summary["mean_grade"]) in row[:200], aspect
    assert pipe["inputs_sha256"] in said.replace(" ", "")


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("form", ["text/html", "application/pdf"])
def test_sections_and_costs_of_every_plan_are_those_of_the_api(api: Api, lateral: str, form: str, units: str) -> None:
    said = words_of(api, lateral, form, units)
    (scope,) = read(api.get(f"/laterals/{lateral}/repair-scopes?units={units}"))["items"]
    unit = "ft" if units == "us" else "m"
    assert {plan["name"] for plan in scope["plans"]} == {"least_cost", "least_digging", "whole_line"}
    for plan in scope["plans"]:
        total = plan["total"]
        cost = f"{shown(total['low'], 0)} to {shown(total['high'], 0)}, likely {shown(total['likely'], 0)}"
        assert f"{scope['currency']} {cost}" in said, plan["name"]
        for section in plan["sections"]:
            assert f"{shown(section['from'])} to {shown(section['to'])} {unit}" in said, section
    assert scope["inputs_sha256"] in said.replace(" ", "")
