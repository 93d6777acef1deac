"""The check that every answer is as described finds what is not: it can fail."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.http import HttpResponse

from tests.conformance import event_faults, faults_of

SAID = {"service": "Pullback", "version": "1", "docs": "http://a/", "openapi": "http://a/", "addresses": {}}
_LISTS = (
    "resources",
    "limits",
    "event_types",
    "problems",
    "fault_codes",
    "values",
    "degrees_of_kind",
    "measures_of_kind",
)
START = {**SAID, **{name: {} for name in _LISTS}, "exports": []}
PROBLEM = {
    "type": "a",
    "title": "a",
    "status": 404,
    "code": "not_found",
    "detail": "a",
    "errors": [],
    "request_id": "a",
}


def answer(body: Any, status: int = 200, media: str = "application/json", **headers: str) -> HttpResponse:
    return HttpResponse(json.dumps(body), status=status, content_type=media, headers={"X-Request-Id": "a"} | headers)


def refusal(**changes: Any) -> HttpResponse:
    return answer(PROBLEM | changes, 404, "application/problem+json")


def test_what_is_described_has_no_fault() -> None:
    assert list(faults_of("GET", "/api/v1/", answer(START))) == []
    assert list(faults_of("GET", "/api/v1/problems/x", refusal())) == []
    assert list(faults_of("GET", "/api/v1/nowhere", refusal())) == []


@pytest.mark.parametrize(
    ("path", "given", "sentence"),
    [
        ("/api/v1/", answer(START, 418), "no such status"),
        ("/api/v1/", answer(START | {"more": 1}), "more"),
        ("/api/v1/", answer(SAID), "required property"),
        ("/api/v1/", answer(START | {"version": 1}), "not of type"),
        ("/api/v1/", answer(START | {"values": {"a": {"b": 1}}}), "$.values.a.b"),
        ("/api/v1/", answer(START, media="text/plain"), "no text/plain"),
        ("/api/v1/", answer(START, ETag='"1"'), "no header ETag"),
        ("/api/v1/", HttpResponse(json.dumps(START), content_type="application/json"), "X-Request-Id is missing"),
        ("/api/v1/problems/x", refusal(code="gone"), "names no code gone"),
        ("/api/v1/problems/x", refusal(errors=[{"pointer": ""}]), "$.errors[0]"),
        ("/api/v1/nowhere", answer({}), "no such operation"),
    ],
)
def test_what_is_not_described_is_named(path: str, given: HttpResponse, sentence: str) -> None:
    assert any(sentence in fault for fault in faults_of("GET", path, given))


def test_an_event_is_held_against_its_webhook() -> None:
    data = {"id": "0b5e7a52-1d6c-4c1e-9a51-5a3f0c6d2e11", "external_ref": None, "revision": 1}
    assert list(event_faults("customer.made", data)) == []
    assert list(event_faults("customer.made", data | {"name": "Rowan Ashby"}))
    assert list(event_faults("customer.made", {"id": data["id"]}))
    assert list(event_faults("customer.painted", data))
