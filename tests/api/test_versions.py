"""Grading schemes, rate books, rule sets: versions that are loaded whole and never change."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from inspections.models import GradingScheme
from scoring.grading import BUILT_IN_SCHEMES
from scoring.scope import DEFAULT_RATE_BOOK, DEFAULT_RULE_SET
from tests import people
from tests.api.answers import nothing_changes, plain, read, refused
from tests.client import Api

KINDS: list[tuple[str, dict[str, Any]]] = [
    ("grading-schemes", dict(BUILT_IN_SCHEMES["open-five"])),
    ("rate-books", dict(DEFAULT_RATE_BOOK)),
    ("rule-sets", dict(DEFAULT_RULE_SET)),
]
each = pytest.mark.parametrize(("kind", "document"), KINDS, ids=[row[0] for row in KINDS])


@pytest.fixture
def admin(firm: people.Firm) -> Api:
    """A client of the firm that may load versions."""
    return Api(firm.token("admin"))


def _next_version(document: dict[str, Any]) -> dict[str, Any]:
    newer = copy.deepcopy(json.loads(json.dumps(document, default=str)))
    number = int(document["version"]) + 1
    return {**newer, "version": number if isinstance(document["version"], int) else str(number)}


@each
def test_a_firm_starts_with_a_default_version(api: Api, kind: str, document: dict[str, Any]) -> None:
    rows = read(api.get(f"/{kind}"))["items"]
    defaults = [row for row in rows if row["is_default"]]
    assert [(row["code"], str(row["version"])) for row in defaults] == [(document["id"], str(document["version"]))]


@each
def test_loading_a_version_again_changes_nothing(admin: Api, kind: str, document: dict[str, Any]) -> None:
    row = next(one for one in read(admin.get(f"/{kind}"))["items"] if one["is_default"])
    raw = admin.get(f"/{kind}/{row['id']}").content
    body = b'{"document": ' + raw[raw.index(b'"document":') + 11 : raw.rindex(b',"created_at"')] + b"}"
    with nothing_changes(but=("KeptAnswer",)):
        assert read(admin.post(f"/{kind}", body))["id"] == row["id"]


@each
def test_other_content_under_the_same_number_is_refused(admin: Api, kind: str, document: dict[str, Any]) -> None:
    row = next(one for one in read(admin.get(f"/{kind}"))["items"] if one["is_default"])
    changed = {**row["document"], "source" if kind == "rate-books" else "title": "Another"}
    with nothing_changes():
        refused(admin.post(f"/{kind}", plain({"document": changed})), 409, "version_exists")


@each
def test_a_document_that_is_not_whole_is_refused_with_its_places(
    admin: Api, kind: str, document: dict[str, Any]
) -> None:
    with nothing_changes():
        problem = read(admin.post(f"/{kind}", {"document": {"id": "x"}}), 400)
        assert problem["errors"] and all(one["pointer"].startswith("/document") for one in problem["errors"])
        refused(admin.post(f"/{kind}", {}), 422, "invalid", "/document")
        refused(admin.post(f"/{kind}", {"document": []}), 400, "malformed", "/document")


@each
@pytest.mark.parametrize("wrong", [{"version": -1}, {"version": "x"}, {"id": "x" * 101}, {"id": ""}, {"id": 5}])
def test_a_name_that_cannot_be_kept_is_refused(
    admin: Api, kind: str, document: dict[str, Any], wrong: dict[str, Any]
) -> None:
    asked = {**json.loads(json.dumps(document, default=float)), **wrong}
    with nothing_changes():
        answer = admin.post(f"/{kind}", {"document": asked})
        refused(answer, answer.status_code, "invalid" if answer.status_code == 422 else "malformed")
        assert answer.status_code in (400, 422)


@each
def test_only_an_administrator_loads_versions(api: Api, kind: str, document: dict[str, Any]) -> None:
    with nothing_changes():
        refused(api.post(f"/{kind}", {"document": {}}), 403, "scope_missing")


def test_a_new_default_takes_the_place_of_the_old_one(admin: Api) -> None:
    raw = next(one for one in read(admin.get("/grading-schemes"))["items"] if one["is_default"])
    newer = _next_version(json.loads(json.dumps(raw["document"], default=float)))
    made = read(admin.post("/grading-schemes", {"document": newer, "is_default": True}), 201)
    defaults = GradingScheme.objects.filter(is_default=True, code=newer["id"])
    assert [str(row.pk) for row in defaults] == [made["id"]]
    assert len(read(admin.get(f"/grading-schemes?code={newer['id']}"))["items"]) == 2


def test_another_firms_versions_do_not_exist(api: Api, rival_api: Api) -> None:
    for kind, _ in KINDS:
        row = read(api.get(f"/{kind}"))["items"][0]
        refused(rival_api.get(f"/{kind}/{row['id']}"), 404, "not_found")
