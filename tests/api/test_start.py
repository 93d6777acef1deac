"""The start page, the pages of problems, liveness and readiness, and the description of the whole."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.test import Client
from pytest_django.fixtures import Settings

from inspections.api import problems
from inspections.api.exports import NAMES
from inspections.api.urls import urlpatterns
from inspections.fault_codes import FAULT_CODES
from inspections.vocabulary import EVENT_TYPES, LISTS
from tests.api.answers import read, refused

OPEN = ["/api/v1/", "/api/v1/openapi.json", "/api/v1/docs", "/healthz", "/readyz", "/api/v1/problems/not_found"]


@pytest.mark.django_db
@pytest.mark.parametrize("path", OPEN)
def test_these_need_no_token(path: str) -> None:
    assert Client().get(path).status_code == 200


def test_the_start_page_gives_every_word_its_meaning() -> None:
    start = read(Client().get("/api/v1/"))
    for name, values in LISTS.items():
        assert start["values"][name] == dict(values)
        assert all(meaning for meaning in start["values"][name].values())


def test_the_start_page_says_what_every_event_problem_and_fault_means() -> None:
    start = read(Client().get("/api/v1/"))
    assert start["event_types"] == dict(EVENT_TYPES)
    assert start["fault_codes"] == dict(FAULT_CODES)
    assert set(start["problems"]) == {kind.code for kind in problems.STATUS_OF} | set(problems.CODES.values())
    for told in (start["event_types"], start["fault_codes"], start["resources"]):
        assert all(told.values())
    assert all(one["meaning"] for one in (*start["problems"].values(), *start["limits"].values()))


def test_every_limit_is_the_one_that_holds(settings: Settings) -> None:
    limits = {name: one["value"] for name, one in read(Client().get("/api/v1/"))["limits"].items()}
    # As promised to integrators: 5 MB, 32 levels, 500 entries, pages of 200, five exports, keys kept 30 days.
    promised = {"body_bytes": 5_000_000, "depth": 32, "batch_entries": 500, "page_records": 200}
    promised |= {"exports_at_once": 5, "key_days": 30, "parameters": 1_000, "number": 2**53}
    assert {name: limits[name] for name in promised} == promised
    assert limits["requests_per_second"] == settings.RATE_PER_SECOND >= 100


def test_the_start_page_lists_every_address_that_needs_no_id() -> None:
    start = read(Client().get("/api/v1/"))
    listed = {one.partition("/api/v1/")[2] for one in (*start["addresses"].values(), *start["exports"])}
    listed |= {"", "openapi.json", "docs"}
    there = {str(one.pattern) for one in urlpatterns if "<" not in str(one.pattern)}
    assert there <= listed
    assert {f"exports/{name}" for name in NAMES} <= listed


def codes_in_use() -> set[str]:
    """Return the code of every fault the service names, as it stands in its source."""
    places = {"Fault": 1, "refuse": 0, "_refuse": 1, "Doubt": 0, "doubt": 1, "_refuse_all": 1}
    found = set()
    for path in Path("inspections").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "id", getattr(node.func, "attr", ""))
                said = node.args[places[name] :][:1] if name in places else []
                said += [word.value for word in node.keywords if name == "ValidationError" and word.arg == "code"]
                found |= {one.value for one in said if isinstance(one, ast.Constant) and isinstance(one.value, str)}
    return found


def test_every_code_of_a_fault_is_listed_with_its_meaning() -> None:
    assert len(codes_in_use()) > 60  # the search above finds them
    assert codes_in_use() - set(FAULT_CODES) == set()
    assert problems.FORM_FAULTS - set(FAULT_CODES) == set()


@pytest.mark.django_db
def test_every_address_the_start_page_lists_is_there(api) -> None:  # type: ignore[no-untyped-def]
    start = read(Client().get("/api/v1/"))
    for address in start["addresses"].values():
        # What there is answers, or says which scope or method it needs.
        assert api.http.get(address).status_code in (200, 403, 405), address
    assert Client().get(start["openapi"]).status_code == 200


def test_every_problem_has_a_page_of_its_own() -> None:
    codes = {kind.code: status for kind, status in problems.STATUS_OF.items()}
    for code, status in [*codes.items(), *((code, status) for status, code in problems.CODES.items())]:
        page = read(Client().get(f"/api/v1/problems/{code}"))
        assert (page["code"], page["status"]) == (code, codes.get(code, status))
        assert page["meaning"] and page["title"]
    refused(Client().get("/api/v1/problems/nothing"), 404, "not_found")


def test_liveness_touches_no_database() -> None:
    assert read(Client().get("/healthz")) == {"status": "ok"}


@pytest.mark.django_db
def test_readiness_asks_the_database() -> None:
    assert read(Client().get("/readyz"))["status"] == "ok"


def test_the_description_names_every_problem_as_problem_json() -> None:
    description = Client().get("/api/v1/openapi.json").json()
    assert description["openapi"].startswith("3.1")
    for path, verbs in description["paths"].items():
        for verb, operation in verbs.items():
            for status, answer in operation.get("responses", {}).items():
                if int(status) >= 400:
                    if "$ref" in answer:
                        answer = description["components"]["responses"][answer["$ref"].rpartition("/")[2]]
                    assert "application/problem+json" in answer["content"], (path, verb, status)
