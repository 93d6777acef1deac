"""What every answer tells browsers and proxies: load, run, frame and keep nothing that the page does not need."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from tests import people
from tests.admin.conftest import PASSWORD, desk, person
from tests.api.answers import read, sealed_of
from tests.client import Api

OPEN = ["/api/v1/", "/api/v1/openapi.json", "/healthz", "/readyz", "/nothing", "/admin/login/", "/api/v1/docs"]


def policy(answer: Any) -> dict[str, str]:
    parts = [part.strip().partition(" ") for part in answer.headers["Content-Security-Policy"].split(";")]
    return {name: value for name, _, value in parts}


@pytest.mark.django_db
@pytest.mark.parametrize("path", OPEN)
def test_every_answer_is_closed_to_what_its_page_does_not_need(path: str) -> None:
    answer = Client().get(path)
    said = policy(answer)
    assert said["default-src"] == "'none'"
    assert said["frame-ancestors"] == said["base-uri"] == "'none'"
    assert "unsafe" not in said.get("script-src", "")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "camera=()" in answer.headers["Permissions-Policy"]
    assert not {"Server", "X-Powered-By"} & set(answer.headers)


def test_only_the_api_page_and_the_desk_run_scripts_and_only_their_own_files(firm: people.Firm) -> None:
    assert "script-src" not in policy(Client().get("/api/v1/"))
    page = Client().get("/api/v1/docs")
    assert policy(page)["script-src"] == "'self'"
    assert not re.search(r"<script(?![^>]*\bsrc=)", page.content.decode())
    admin = desk(person(firm, "administrator"))
    for path in ("/admin/", "/admin/desk/", "/admin/inspections/job/", "/admin/inspections/customer/add/"):
        shown = admin.get(path)
        assert policy(shown)["script-src"] == policy(shown)["style-src"] == "'self'"
        inside = re.findall(r"<script(?![^>]*\bsrc=)(?![^>]*application/json)[^>]*>", shown.content.decode())
        assert inside == [], path
        assert not re.search(r"\son\w+=|<style|javascript:", shown.content.decode()), path


def test_the_report_runs_nothing_and_sends_nothing(api: Api, works: None, firm: people.Firm) -> None:
    run = sealed_of(api)
    path = f"/laterals/{run['lateral']}/report"
    admin = desk(person(firm, "administrator"))
    for answer in (
        api.get(path, Accept="text/html"),
        api.get(path, Accept="image/svg+xml"),
        admin.get(f"/admin/laterals/{run['lateral']}/report"),
        admin.get(f"/admin/laterals/{run['lateral']}/drawing.svg"),
    ):
        said = policy(answer)
        assert said["default-src"] == said["form-action"] == said["frame-ancestors"] == "'none'"
        assert "script-src" not in said
        assert "<script" not in answer.content.decode()


def test_what_was_read_with_a_token_is_kept_by_no_proxy_and_what_is_made_by_nobody(api: Api) -> None:
    assert api.get("/jobs").headers["Cache-Control"] == "private, no-cache"
    made = api.post("/customers", {"name": "Ivy Calder"})
    read(made, 201)
    assert made.headers["Cache-Control"] == "no-store"


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(firm: people.Firm) -> None:
    person(firm, "dispatcher")
    client = Client()
    client.get("/admin/login/")
    answer = client.post("/admin/login/", {"username": "dispatcher", "password": PASSWORD})
    assert answer.status_code == 302
    for name in ("sessionid", "csrftoken"):
        cookie = client.cookies[name]
        assert cookie["httponly"], name
        assert cookie["samesite"] == "Lax", name
    assert not Client().get("/api/v1/").cookies  # the API sets none
