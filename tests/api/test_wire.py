"""What no client may get past the door: bodies, parameters, headers, paths; and how every refusal looks."""

from __future__ import annotations

import base64
import json
import uuid

import pytest
from django.db import DataError, OperationalError, connection
from django.test import Client

from tests import builders
from tests.api.answers import job_of, nothing_changes, read, refused
from tests.client import Api

FORM = "application/x-www-form-urlencoded"


def test_a_body_over_5_mb_is_refused_after_it_was_read(api: Api) -> None:
    body = json.dumps(builders.job(instructions="x" * 5_000_000))
    with nothing_changes():
        assert "5000000 bytes" in refused(api.post("/jobs", body), 413, "body_too_large")["detail"]


def test_a_body_of_just_5_mb_is_judged_by_its_content(api: Api) -> None:
    text = json.dumps(builders.job())
    body = text[:-1] + " " * (5_000_000 - len(text)) + "}"
    assert len(body) == 5_000_000
    assert read(api.post("/jobs", body), 201)["state"] == "requested"


@pytest.mark.parametrize("media", [FORM, "multipart/form-data; boundary=x", "text/plain", "application/xml"])
def test_only_json_is_taken(api: Api, media: str) -> None:
    with nothing_changes():
        response = api._send("POST", "/jobs", "purpose=backup", {"Idempotency-Key": "k"}, media=media)
        problem = refused(response, 415, "media_type_not_supported")
        assert "Send application/json" in problem["detail"]


@pytest.mark.parametrize("body", [b"", b"null", b"[]", b"3", b'"x"', b"\xff\xfe", b"\xef\xbb\xbf{}"])
def test_what_is_no_object_is_refused(api: Api, body: bytes) -> None:
    with nothing_changes():
        response = api.post("/jobs", body)
        assert response.status_code in (400, 422)
        refused(response, response.status_code, "invalid" if response.status_code == 422 else "malformed")


def test_a_chunked_body_needs_its_length(api: Api) -> None:
    with nothing_changes():
        response = api.http.generic("POST", "/api/v1/jobs", headers={"Transfer-Encoding": "chunked"})
        refused(response, 411, "length_required")


@pytest.mark.parametrize("length", ["-1", "1e3", "²"])
def test_a_length_that_is_no_number_is_refused(api: Api, length: str) -> None:
    response = api.http.generic("POST", "/api/v1/jobs", "{}", CONTENT_LENGTH=length)
    refused(response, 400, "malformed")


@pytest.mark.parametrize("path", ["/nowhere", "/jobs/", "/jobs/x/y", "/runs//submit", "/%00"])
def test_an_unknown_path_is_a_problem(api: Api, path: str) -> None:
    refused(api.get(path), 404, "not_found")


@pytest.mark.parametrize("id", ["x", "%00", "1", str(uuid.uuid4()), "../jobs"])
@pytest.mark.parametrize("kind", ["jobs", "runs", "laterals", "calculations", "repair-scopes", "customers"])
def test_what_is_no_id_names_no_record(api: Api, kind: str, id: str) -> None:
    refused(api.get(f"/{kind}/{id}"), 404, "not_found")


@pytest.mark.parametrize("verb", ["PUT", "PATCH", "DELETE", "TRACE", "BREW"])
def test_a_wrong_method_is_a_problem_that_names_the_right_ones(api: Api, verb: str) -> None:
    response = api._send(verb, "/jobs", {}, {})
    assert "Use GET, POST, HEAD here" in refused(response, 405, "method_not_allowed")["detail"]
    assert {"GET", "POST"} <= {name.strip() for name in response.headers["Allow"].split(",")}


def test_an_unknown_parameter_is_named_with_the_near_one(api: Api) -> None:
    problem = refused(api.get("/jobs?stat=requested"), 400, "malformed", "/stat")
    assert "did you mean state?" in problem["errors"][0]["detail"]
    refused(api.get("/jobs?colour=red&size=9"), 400, "malformed", "/colour", "/size")
    refused(api.get("/jobs?format=html"), 400, "malformed", "/format")


def test_more_than_1000_parameters_are_refused(api: Api) -> None:
    query = "&".join(f"a{n}=1" for n in range(1001))
    refused(api.get(f"/jobs?{query}"), 400, "malformed")


@pytest.mark.parametrize("query", ["state=asked", "state=%00", "state="])
def test_a_state_nobody_knows_is_refused(api: Api, query: str) -> None:
    refused(api.get(f"/jobs?{query}"), 422, "invalid", "/state")


@pytest.mark.parametrize("query", ["job=x", "lateral=1", "job=%00"])
def test_a_filter_that_is_no_id_is_refused(api: Api, query: str) -> None:
    refused(api.get(f"/runs?{query}"), 400, "malformed", f"/{query.partition('=')[0]}")


def test_a_nul_in_a_filter_is_refused(api: Api) -> None:
    refused(api.get("/jobs?external_ref=a%00b"), 400, "malformed", "/external_ref")
    refused(api.get("/audit-entries?record_id=a%00b"), 400, "malformed", "/record_id")


@pytest.mark.parametrize("limit", ["0", "201", "-1", "x", "1.5", "", "9" * 30, "²"])
@pytest.mark.parametrize("path", ["/jobs", "/events", "/audit-entries"])
def test_a_limit_is_1_to_200(api: Api, path: str, limit: str) -> None:
    refused(api.get(f"{path}?limit={limit}"), 400, "malformed", "/limit")


def _cursor_of(next_url: str) -> list[str]:
    text = next_url.partition("cursor=")[2].partition("&")[0]
    position: list[str] = json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
    return position


def _text(*position: object) -> str:
    return base64.urlsafe_b64encode(json.dumps(position).encode()).decode().rstrip("=")


@pytest.mark.parametrize("cursor", ["x", "", "%00", "é", _text(), _text(1, 2, 3), "W" * 5000])
def test_a_cursor_not_of_this_service_is_refused(api: Api, cursor: str) -> None:
    refused(api.get(f"/jobs?cursor={cursor}"), 400, "malformed")


@pytest.mark.parametrize(
    "at",
    [
        "2027-03-01T08:00:00",
        "2027-03-01",
        "2027-03-01T08:00:00+22:47",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-14:00",
        "2027-02-30T08:00:00+00:00",
        7,
        None,
    ],
)
def test_a_well_formed_cursor_with_a_bad_position_is_refused(api: Api, at: object) -> None:
    job_of(api), job_of(api, external_ref="AF-2")
    good = _cursor_of(read(api.get("/jobs?limit=1"))["next"])
    assert len(read(api.get(f"/jobs?cursor={_text(*good)}"))["items"]) == 1
    refused(api.get(f"/jobs?cursor={_text(at, *good[1:])}"), 400, "malformed")
    refused(api.get(f"/jobs?cursor={_text(good[0], at, good[2])}"), 400, "malformed")


def test_who_is_not_signed_in_hears_how(api: Api) -> None:
    for text in ("", "Basic eA==", "Bearer", "Bearer pbk_x"):
        response = Client(headers={"Authorization": text}).get("/api/v1/jobs")
        refused(response, 401, "not_signed_in")
        assert response.headers["WWW-Authenticate"].startswith("Bearer")


def test_a_token_without_the_scope_is_refused_by_name(firm) -> None:  # type: ignore[no-untyped-def]
    reader = Api(firm.token("records:read"))
    with nothing_changes():
        problem = refused(reader.post("/jobs", builders.job()), 403, "scope_missing")
    assert "jobs:write" in problem["detail"]
    writer = Api(firm.token("jobs:write"))
    refused(writer.get("/jobs"), 403, "scope_missing")


def test_a_head_request_needs_what_a_get_needs(firm) -> None:  # type: ignore[no-untyped-def]
    reader = Api(firm.token("records:read"))
    assert reader.http.head("/api/v1/jobs").status_code == 200
    assert reader.http.head("/api/v1/audit-entries").status_code == 403


@pytest.mark.parametrize(
    "accept", ["text/html", "application/xml", "*/*", "", "nonsense;;q=x", "application/json;q=0"]
)
def test_json_is_answered_whatever_is_accepted(api: Api, accept: str) -> None:
    job_of(api)
    response = api.get("/jobs", Accept=accept)
    assert len(read(response)["items"]) == 1
    assert response.headers["Content-Type"].startswith("application/json")
    refused(api.get("/jobs/x", Accept=accept), 404, "not_found")


@pytest.mark.parametrize("etag", ['"x"', '"-1"', '""', '"' + "9" * 30 + '"', '"²"', 'W/"1"', '"2", "3"'])
def test_an_if_match_that_names_another_revision_is_stale(api: Api, etag: str) -> None:
    job = job_of(api)
    with nothing_changes():
        answer = api.patch(f"/jobs/{job['id']}", {"state": "done"}, **{"If-Match": etag})
        refused(answer, 412, "revision_stale")


@pytest.mark.parametrize("etag", ['"1', "1", "W/", ","])
def test_an_if_match_that_is_no_etag_is_refused(api: Api, etag: str) -> None:
    job = job_of(api)
    with nothing_changes():
        answer = api.patch(f"/jobs/{job['id']}", {"state": "done"}, **{"If-Match": etag})
        refused(answer, 400, "malformed")


def test_an_unknown_host_is_a_problem(api: Api) -> None:
    refused(api.get("/jobs", Host="elsewhere.example"), 400, "malformed")


def test_a_request_keeps_the_clients_id_where_it_is_usable(api: Api) -> None:
    assert api.get("/jobs", **{"X-Request-Id": "abc-1"}).headers["X-Request-Id"] == "abc-1"
    assert api.get("/jobs", **{"X-Request-Id": "a b"}).headers["X-Request-Id"] != "a b"
    assert api.get("/jobs", **{"X-Request-Id": "x" * 65}).headers["X-Request-Id"] != "x" * 65


def test_a_database_that_is_away_is_503_with_a_time_to_come_back(api: Api) -> None:
    def away(*_: object) -> None:
        raise OperationalError("connection refused")

    with connection.execute_wrapper(away):
        answers = [api.get("/jobs"), api.post("/jobs", builders.job())]
        ready = Client().get("/readyz")
    for response in answers:
        refused(response, 503, "not_available")
    for response in [*answers, ready]:
        assert response.status_code == 503
        assert response.headers["Content-Type"] == "application/problem+json"
        assert response.headers["Retry-After"] == "2"
    assert ready.json()["code"] == "not_available"


def test_an_error_of_the_service_says_nothing_of_its_inside(api: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("secret")

    monkeypatch.setattr("inspections.services.jobs.job_request", broken)
    with nothing_changes():
        problem = refused(api.post("/jobs", builders.job()), 500, "service_error")
    assert "secret" not in json.dumps(problem)


def test_a_value_no_column_holds_is_a_fault_of_the_request_not_of_the_service(
    api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    def beyond(*_: object, **__: object) -> None:
        raise DataError("numeric field overflow")

    monkeypatch.setattr("inspections.services.jobs.job_request", beyond)
    with nothing_changes():
        refused(api.post("/jobs", builders.job()), 422, "invalid")
