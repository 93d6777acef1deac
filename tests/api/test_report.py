"""The report of a lateral over the API: three forms, one content, and refusals that stay problems."""

from __future__ import annotations

import io
import uuid

import pytest
from pypdf import PdfReader

from tests import builders
from tests.api.answers import job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api

FORMS = {"text/html": b"<!doctype html>", "application/pdf": b"%PDF-", "image/svg+xml": b"<?xml"}


@pytest.fixture
def lateral(api: Api, works: None) -> str:
    run = sealed_of(api)
    read(api.put(f"/laterals/{run['lateral']}/site", builders.site(), **{"If-Match": "*"}))
    read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}), 202)
    return str(run["lateral"])


@pytest.mark.parametrize("form", sorted(FORMS))
def test_the_report_comes_in_the_form_that_is_accepted(api: Api, lateral: str, form: str) -> None:
    response = api.get(f"/laterals/{lateral}/report", Accept=form)
    assert response.status_code == 200
    assert response.headers["Content-Type"].startswith(form)
    assert response.content.lower().startswith(FORMS[form].lower())


def test_two_reports_of_the_same_inputs_are_the_same_bytes(api: Api, lateral: str) -> None:
    for form in FORMS:
        first, second = (api.get(f"/laterals/{lateral}/report", Accept=form).content for _ in range(2))
        assert first == second, form


@pytest.mark.parametrize(("page", "width"), [("letter", 612), ("a4", 595)])
def test_the_paper_is_letter_or_a4(api: Api, lateral: str, page: str, width: int) -> None:
    # 8.5 in x 72 = 612 pt; 210 mm / 25.4 x 72 = 595.3 pt (ISO 216).
    pdf = PdfReader(io.BytesIO(api.get(f"/laterals/{lateral}/report?page={page}", Accept="application/pdf").content))
    assert int(pdf.pages[0].mediabox.width) == width


def test_what_is_wrong_in_the_address_is_a_problem_whatever_is_accepted(api: Api, lateral: str) -> None:
    path = f"/laterals/{lateral}/report"
    for form in (*FORMS, "application/json"):
        refused(api.get(f"{path}?page=a5", Accept=form), 422, "invalid", "/page")
        refused(api.get(f"{path}?units=metric", Accept=form), 422, "invalid", "/units")
        refused(api.get(f"{path}?scope={uuid.uuid4()}", Accept=form), 404, "not_found")
        refused(api.get(f"{path}?scope=x", Accept=form), 404, "not_found")
        refused(api.get(f"{path}?colour=red", Accept=form), 400, "malformed", "/colour")
        refused(api.get(f"/laterals/{uuid.uuid4()}/report", Accept=form), 404, "not_found")


def test_another_firms_scope_is_not_shown(api: Api, rival_api: Api, lateral: str) -> None:
    run = sealed_of(rival_api)
    scope = read(rival_api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}), 202)
    refused(api.get(f"/laterals/{lateral}/report?scope={scope['id']}", Accept="text/html"), 404, "not_found")


def test_a_lateral_nobody_inspected_still_has_a_report_that_says_so(api: Api) -> None:
    lateral = job_of(api)["property"]["laterals"][0]["id"]
    for form in FORMS:
        assert api.get(f"/laterals/{lateral}/report", Accept=form).status_code == 200


def test_reading_the_report_changes_nothing(api: Api, lateral: str) -> None:
    with nothing_changes(but=("AuditEntry", "AuditHead", "Event")):
        api.get(f"/laterals/{lateral}/report", Accept="text/html")
