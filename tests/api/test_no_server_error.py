"""No bytes a client can send are an error of the service: every answer is a document or a problem."""

from __future__ import annotations

import json
import os
import string
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests import builders
from tests.api.answers import draft_of, job_of, sealed_of
from tests.client import Api

quick = settings(
    derandomize=True,
    deadline=None,
    max_examples=int(os.environ.get("PULLBACK_FUZZ_EXAMPLES", "25")),
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)

ODD: list[Any] = [
    None,
    True,
    0,
    -1,
    1e-20,
    2**53,
    -(2**53),
    0.1 + 0.2,
    "",
    " ",
    "x" * 5000,
    "\x00",
    "\ud800",
    "\U0001f6b0",
    "2027-03-01T08:00:00+23:59",
    "0001-01-01T00:00:00Z",
    "00000000-0000-0000-0000-000000000000",
    [],
    {},
    [[]],
    [None],
    [{}],
    {"": None},
]
values = st.recursive(
    st.sampled_from(ODD) | st.floats() | st.integers() | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


def places(document: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the path of every value in a document."""
    inner = (
        document.items() if isinstance(document, dict) else enumerate(document) if isinstance(document, list) else ()
    )
    return [path, *(place for name, member in inner for place in places(member, (*path, name)))]


def changed(document: Any, path: tuple[Any, ...], value: Any) -> Any:
    """Return the document with another value at that path."""
    if not path:
        return value
    copy = dict(document) if isinstance(document, dict) else list(document)
    copy[path[0]] = changed(copy[path[0]], path[1:], value)
    return copy


def is_no_server_error(response: Any) -> None:
    """Hold an answer to what every answer promises."""
    assert response.status_code < 500, response.content
    if response.status_code >= 400:
        assert response.headers["Content-Type"] == "application/problem+json"
        problem = json.loads(response.content)
        assert problem["status"] == response.status_code and problem["code"] and problem["detail"]


RUN = builders.run("00000000-0000-4000-8000-000000000000")
BODIES: dict[str, Any] = {
    "/jobs": builders.job(),
    "/runs": RUN,
    "/customers": {"external_ref": "C", "name": "X", "kind": "household", "email": None, "phone": "1"},
    "/properties": {"address": {"line1": "X"}, "year_built": 1948, "location": {"lat": 44.1, "lon": -71}},
    "site": builders.site(),
    "amendments": {"reason": "x", "changes": RUN},
    "repair-scopes": {"units": "us", "policy": {"fix_from_grade": 4, "margin": 1}, "rate_book": None},
}


@pytest.mark.parametrize("kind", sorted(BODIES))
def test_any_value_at_any_place_of_a_body(api: Api, kind: str) -> None:
    run = sealed_of(api)
    job = run["job"]
    whole = json.loads(json.dumps(BODIES[kind]).replace(RUN["job"], job))
    where = places(whole)

    @quick
    @given(path=st.sampled_from(where), value=values)
    def any_value(path: tuple[Any, ...], value: Any) -> None:
        body = json.dumps(changed(whole, path, value))
        if kind == "site":
            response = api.put(f"/laterals/{run['lateral']}/site", body, **{"If-Match": "*"})
        elif kind == "amendments":
            response = api.post(f"/runs/{run['id']}/amendments", body)
        elif kind == "repair-scopes":
            response = api.post(f"/laterals/{run['lateral']}/repair-scopes", body)
        else:
            response = api.post(kind, body)
        is_no_server_error(response)

    any_value()


@quick
@given(patch=st.dictionaries(st.sampled_from(sorted(RUN)) | st.text(max_size=9), values, max_size=3))
def test_any_merge_patch_of_a_draft(draft: str, api: Api, patch: dict[str, Any]) -> None:
    is_no_server_error(api.patch(draft, json.dumps(patch), **{"If-Match": "*"}))


@pytest.fixture
def draft(api: Api) -> str:
    """The path of a draft."""
    return f"/runs/{draft_of(api)['id']}"


@quick
@given(raw=st.binary(max_size=60) | st.text(max_size=60).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_any_bytes_as_a_body(api: Api, raw: bytes) -> None:
    for path in ("/jobs", "/runs", "/checks/trench"):
        is_no_server_error(api.post(path, raw))


NAMES = ["limit", "cursor", "units", "state", "job", "lateral", "external_ref", "after", "scheme", "record_id", "page"]
LISTS = ["/jobs", "/runs", "/laterals", "/calculations", "/events", "/audit-entries", "/rate-books", "/access-points"]
TEXTS = st.text(max_size=12) | st.sampled_from(["%00", "\x00", "²", "-1", "1", "si", "draft", "é", "0" * 400])


@quick
@given(path=st.sampled_from(LISTS), query=st.dictionaries(st.sampled_from(NAMES), TEXTS, max_size=3))
def test_any_parameter_of_any_list(api: Api, path: str, query: dict[str, str]) -> None:
    assume(not any("\ud800" <= sign <= "\udfff" for text in query.values() for sign in text))
    is_no_server_error(api.http.get(f"/api/v1{path}", query))


SAFE = string.ascii_letters + string.digits + string.punctuation + " "


@quick
@given(
    path=st.text(SAFE, max_size=20),
    tail=st.sampled_from(["", "/submit", "/grading", "/site", "/report", "/again"]),
    verb=st.sampled_from(["GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"]),
)
def test_any_path_and_method(api: Api, path: str, tail: str, verb: str) -> None:
    for kind in ("runs", "laterals", "calculations", "nowhere"):
        response = api.http.generic(verb, f"/api/v1/{kind}/{path}{tail}", "{}", content_type="application/json")
        assert response.status_code < 500, response.content


@quick
@given(
    headers=st.dictionaries(
        st.sampled_from(
            [
                "If-Match",
                "If-None-Match",
                "Idempotency-Key",
                "Accept",
                "Content-Type",
                "X-Request-Id",
                "Authorization",
                "Accept-Language",
                "X-Forwarded-For",
                "Range",
                "Origin",
            ]
        ),
        st.text(SAFE + "é²", max_size=30),
        max_size=4,
    )
)
def test_any_header(api: Api, job: dict[str, Any], headers: dict[str, str]) -> None:
    path = f"/jobs/{job['id']}"
    is_no_server_error(api.http.get(f"/api/v1{path}", headers=headers))
    raw, media = json.dumps(builders.job()), headers.pop("Content-Type", "application/json")
    for verb, where in (("POST", "/jobs"), ("PUT", path), ("PATCH", path)):
        is_no_server_error(api.http.generic(verb, f"/api/v1{where}", raw, content_type=media, headers=headers))


@pytest.fixture
def job(api: Api) -> dict[str, Any]:
    """A job."""
    return job_of(api)
