"""The start page, the pages of problems, liveness and readiness, and the description of the whole."""

from __future__ import annotations

import pytest
from django.test import Client

from inspections.api import problems
from inspections.vocabulary import LISTS
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
                    assert "application/problem+json" in answer["content"], (path, verb, status)
