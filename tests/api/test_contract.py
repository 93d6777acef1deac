"""What counts as a break of the contract, and what does not."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError

from inspections.api.contract import breaks
from inspections.management.commands import contract

DOCUMENT: dict[str, Any] = {
    "paths": {
        "/jobs": {
            "get": {
                "parameters": [{"in": "query", "name": "state"}],
                "responses": {
                    "200": {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Job"}}}}
                },
            },
            "post": {
                "requestBody": {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Asked"}}}},
                "responses": {"201": {"description": "made"}},
            },
        }
    },
    "components": {
        "schemas": {
            "Job": {
                "type": "object",
                "required": ["id"],
                "properties": {"id": {"type": "string"}, "runs": {"type": "array", "items": {"type": "string"}}},
            },
            "Window": {"type": "object", "properties": {"start": {"type": "string"}, "end": {"type": "string"}}},
            "Asked": {
                "type": "object",
                "required": ["purpose"],
                "properties": {
                    "purpose": {"type": "string", "enum": ["backup", "routine"]},
                    "note": {"type": ["string", "null"], "maxLength": 100},
                    "window": {"oneOf": [{"$ref": "#/components/schemas/Window"}, {"type": "null"}]},
                },
            },
        }
    },
}


def schema(document: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = document["components"]["schemas"][name]
    return found


def get(document: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = document["paths"]["/jobs"]["get"]
    return found


BREAKS: list[tuple[Callable[[dict[str, Any]], Any], str]] = [
    (lambda d: d["paths"].pop("/jobs"), "GET /jobs: is gone"),
    (lambda d: d["paths"]["/jobs"].pop("post"), "POST /jobs: is gone"),
    (lambda d: get(d)["parameters"].clear(), "GET /jobs: the parameter state is gone"),
    (lambda d: get(d)["parameters"][0].update(required=True), "GET /jobs: the parameter state is required now"),
    (lambda d: get(d)["responses"].pop("200"), "GET /jobs: does not answer 200 any more"),
    (lambda d: schema(d, "Job")["properties"].pop("runs"), "GET /jobs: what is answered: /runs is gone"),
    (lambda d: schema(d, "Job")["required"].clear(), "GET /jobs: what is answered: /id may be missing now"),
    (
        lambda d: schema(d, "Job")["properties"]["runs"]["items"].update(type="object"),
        "GET /jobs: what is answered: /runs/* may be object, was string",
    ),
    (
        lambda d: schema(d, "Job")["properties"]["id"].update(type=["string", "null"]),
        "GET /jobs: what is answered: /id may be null or string, was string",
    ),
    (lambda d: schema(d, "Asked")["properties"].pop("note"), "POST /jobs: what is sent: /note is gone"),
    (lambda d: schema(d, "Asked")["required"].append("note"), "POST /jobs: what is sent: /note is required now"),
    (
        lambda d: schema(d, "Asked")["properties"]["note"].update(type="string"),
        "POST /jobs: what is sent: /note must be string, could be null or string",
    ),
    (
        lambda d: schema(d, "Asked")["properties"]["purpose"]["enum"].remove("routine"),
        "POST /jobs: what is sent: /purpose does not take routine any more",
    ),
]


def _window(document: dict[str, Any]) -> dict[str, Any]:
    return schema(document, "Window")


BREAKS += [
    (lambda d: _window(d)["properties"].pop("end"), "POST /jobs: what is sent: /window/end is gone"),
    (lambda d: _window(d).update(required=["start"]), "POST /jobs: what is sent: /window/start is required now"),
    (
        lambda d: _window(d)["properties"]["start"].update(type="integer"),
        "POST /jobs: what is sent: /window/start must be integer or number, could be string",
    ),
    (
        lambda d: schema(d, "Asked")["properties"].update(window={"$ref": "#/components/schemas/Window"}),
        "POST /jobs: what is sent: /window must be object, could be null or object",
    ),
    (
        lambda d: schema(d, "Asked")["properties"]["note"].update(maxLength=50),
        "POST /jobs: what is sent: /note: maxLength is 50 now, was 100",
    ),
    (
        lambda d: schema(d, "Asked")["properties"]["note"].update(minLength=1),
        "POST /jobs: what is sent: /note: minLength is 1 now, was not said",
    ),
    (
        lambda d: schema(d, "Asked")["properties"]["note"].update(pattern="^A"),
        "POST /jobs: what is sent: /note must be written as ^A now",
    ),
    (
        lambda d: schema(d, "Asked").update(additionalProperties=False),
        "POST /jobs: what is sent: the whole takes no other fields any more",
    ),
    (lambda d: d["paths"]["/jobs"]["post"]["responses"].pop("201"), "POST /jobs: does not answer 201 any more"),
]

COMPATIBLE: list[Callable[[dict[str, Any]], Any]] = [
    lambda d: d["paths"].update({"/runs": get(d)}),
    lambda d: get(d)["parameters"].append({"in": "query", "name": "sort"}),
    lambda d: schema(d, "Job")["properties"].update(purpose={"type": "string"}),
    lambda d: schema(d, "Job")["required"].append("runs"),
    lambda d: schema(d, "Asked")["properties"].update(place={"type": "object"}),
    lambda d: _window(d)["properties"].update(zone={"type": "string"}),
    lambda d: schema(d, "Asked")["properties"]["note"].update(maxLength=200),
    lambda d: schema(d, "Asked")["properties"]["purpose"]["enum"].append("purchase"),
    lambda d: schema(d, "Asked")["required"].clear(),
]


@pytest.mark.parametrize(("change", "sentence"), BREAKS)
def test_a_break_is_named_by_its_place(change: Callable[[dict[str, Any]], Any], sentence: str) -> None:
    after = copy.deepcopy(DOCUMENT)
    change(after)
    assert sentence in breaks(DOCUMENT, after)


@pytest.mark.parametrize("change", COMPATIBLE)
def test_what_only_adds_is_no_break(change: Callable[[dict[str, Any]], Any]) -> None:
    after = copy.deepcopy(DOCUMENT)
    change(after)
    assert breaks(DOCUMENT, after) == []


def test_what_was_deprecated_may_end() -> None:
    before, after = copy.deepcopy(DOCUMENT), copy.deepcopy(DOCUMENT)
    get(before)["deprecated"] = True
    del after["paths"]["/jobs"]["get"]
    assert breaks(before, after) == []


def test_the_committed_document_breaks_nothing_of_itself() -> None:
    document = json.loads((settings.BASE_DIR / "inspections/api/openapi.json").read_text())
    assert breaks(document, document) == []


def test_without_a_tag_the_command_says_so_and_passes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(contract, "_git", lambda *words: "")
    said = StringIO()
    call_command("contract", stdout=said)
    assert said.getvalue() == "No version is tagged yet, so nobody relies on one.\n"


def test_against_a_tag_that_promised_more_the_command_fails_and_says_what(monkeypatch: pytest.MonkeyPatch) -> None:
    document = json.loads((settings.BASE_DIR / "inspections/api/openapi.json").read_text())
    document["paths"]["/api/v1/gone"] = {"get": {"responses": {}}}
    answers = {"describe": "v1", "show": json.dumps(document)}
    monkeypatch.setattr(contract, "_git", lambda *words: answers[words[0]])
    with pytest.raises(CommandError, match="GET /api/v1/gone: is gone"):
        call_command("contract")
