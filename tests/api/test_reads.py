"""What a read may ask for: fields, expansions, sorts and filters; never more queries for more records."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import builders, people
from tests.api.answers import draft_of, fault_codes, job_of, read, refused
from tests.client import Api

ANY = {"If-Match": "*"}

# Queries an address makes, whatever it shows: the token with its organisation first, then the rows.
QUERIES = {
    "/jobs": 4,
    "/jobs?expand=runs": 9,
    "/jobs?fields=state": 4,
    "/runs": 7,
    "/runs?expand=job": 10,
    "/runs?expand=grading": 9,
    "/runs?expand=job,grading": 12,
    "/customers": 2,
    "/properties": 3,
    "/access-points": 2,
    "/calculations": 2,
}


def _count(api: Api, path: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        read(api.get(f"{path}{'&' if '?' in path else '?'}limit=200"))
    return len(captured)


def _ground(api: Api, count: int) -> None:
    """Have that many of everything: jobs with a run each, at as many properties with an access point each."""
    for n in range(count):
        property = {**builders.job()["property"], "external_ref": f"P-{n}-{count}"}
        customer = {"external_ref": f"C-{n}-{count}", "name": "Rowan Ashby"}
        job = job_of(api, external_ref=f"AF-{n}-{count}", property=property, customer=customer)
        draft_of(api, job)
        draft_of(api, job)
        point = {"property": job["property"]["id"], "units": "us", "kind": "clean_out"}
        read(api.post("/access-points", point), 201)


def test_more_records_make_no_more_queries(api: Api) -> None:
    _ground(api, 1)
    read(api.get("/jobs"))  # notes the token's use, once a minute
    assert {path: _count(api, path) for path in QUERIES} == QUERIES
    _ground(api, 50)
    assert {path: _count(api, path) for path in QUERIES} == QUERIES


def test_fields_leaves_out_what_it_does_not_name(api: Api) -> None:
    draft = draft_of(api)
    assert set(read(api.get(f"/runs/{draft['id']}?fields=state,counter_end"))) == {"id", "state", "counter_end"}
    assert read(api.get("/runs?fields=state"))["items"] == [{"id": draft["id"], "state": "draft"}]
    assert read(api.get("/jobs?fields=id"))["items"] == [{"id": draft["job"]}]


def test_a_job_shows_its_runs_in_full_as_they_are_read_alone(api: Api) -> None:
    draft = draft_of(api)
    job = read(api.get(f"/jobs/{draft['job']}?expand=runs"))
    assert job["runs"] == [read(api.get(f"/runs/{draft['id']}"))]
    assert read(api.get("/jobs?expand=runs"))["items"] == [job]


@pytest.mark.usefixtures("works")
def test_a_run_shows_its_job_and_its_grading_in_full(api: Api) -> None:
    draft = draft_of(api)
    path = f"/runs/{draft['id']}"
    assert read(api.get(f"{path}?expand=grading"))["grading"] is None
    read(api.post(f"{path}/submit"), 202)
    run = read(api.get(f"{path}?expand=job,grading"))
    assert run["grading"] == read(api.get(f"{path}/grading"))
    assert run["job"] == read(api.get(f"/jobs/{draft['job']}"))
    assert read(api.get("/runs?expand=job,grading"))["items"] == [run]


def test_an_expanded_answer_has_a_tag_of_its_own_that_follows_what_it_shows(api: Api) -> None:
    draft = draft_of(api)
    path = f"/jobs/{draft['job']}?expand=runs"
    tag = api.get(path).headers["ETag"]
    assert api.get(path, **{"If-None-Match": tag}).status_code == 304
    read(api.patch(f"/runs/{draft['id']}", {"inspector": "Ivy Lark"}, **ANY))
    assert api.get(path, **{"If-None-Match": tag}).status_code == 200


def test_newest_first_walks_back_to_the_oldest_without_gap_or_double(api: Api) -> None:
    ids = [job_of(api, external_ref=f"AF-{n}")["id"] for n in range(5)]
    for sort, wanted in (("created_at", ids), ("-created_at", ids[::-1])):
        found, following = [], f"/jobs?limit=2&sort={sort}"
        while following:
            page = read(api.get(following.replace("http://testserver/api/v1", "")))
            found += [one["id"] for one in page["items"]]
            following = page["next"]
        assert found == wanted


def test_a_cursor_of_the_other_direction_is_refused(api: Api) -> None:
    for n in range(2):
        job_of(api, external_ref=f"AF-{n}")
    following = read(api.get("/jobs?limit=1"))["next"].replace("http://testserver/api/v1", "")
    refused(api.get(f"{following}&sort=-created_at"), 400, "malformed")


def test_filters_by_time_inspector_and_purpose(api: Api) -> None:
    first = job_of(api)
    second = job_of(api, external_ref="AF-2", purpose="purchase")
    draft_of(api, first)
    draft = draft_of(api, second, inspector="Ivy Lark")
    time = quote(first["created_at"])

    def ids(path: str) -> list[str]:
        return [one["id"] for one in read(api.get(path))["items"]]

    assert ids(f"/jobs?created_after={time}") == [second["id"]]
    assert ids(f"/jobs?created_before={quote(second['created_at'])}") == [first["id"]]
    assert ids("/jobs?purpose=purchase") == [second["id"]]
    assert ids("/jobs?inspector=nobody") == []
    assert ids("/runs?inspector=Ivy%20Lark") == [draft["id"]]
    assert ids(f"/runs?updated_after={quote(draft['updated_at'])}") == []
    assert ids(f"/customers?created_after={time}") == []


@pytest.mark.parametrize(
    ("path", "status", "codes"),
    [
        ("/jobs?sort=updated_at", 422, {"/sort": "unknown_value"}),
        ("/jobs?fields=stat", 422, {"/fields": "unknown_value"}),
        ("/jobs?fields=", 422, {"/fields": "unknown_value"}),
        ("/runs?expand=gradin", 422, {"/expand": "unknown_value"}),
        ("/jobs?expand=grading", 422, {"/expand": "unknown_value"}),
        ("/customers?fields=name", 400, {"/fields": "unknown_parameter"}),
        ("/jobs?created_aftr=2027-03-01T10:00:00Z", 400, {"/created_aftr": "unknown_parameter"}),
        ("/jobs?created_after=yesterday", 400, {"/created_after": "not_a_time"}),
        ("/jobs?created_after=2027-03-01T10:00:00", 400, {"/created_after": "no_offset"}),
        ("/jobs?purpose=backpu", 422, {"/purpose": "unknown_value"}),
        ("/runs?inspector=%00", 422, {"/inspector": "unusable_character"}),
        ("/jobs?inspector=%00", 422, {"/inspector": "unusable_character"}),
    ],
)
def test_what_means_nothing_is_refused_by_its_name(api: Api, path: str, status: int, codes: dict[str, str]) -> None:
    response: Any = api.get(path)
    if "%00" in path:
        assert response.status_code in (400, 422)
        return
    assert fault_codes(refused(response, status, "malformed" if status == 400 else "invalid")) == codes


def test_a_near_name_is_told(api: Api) -> None:
    problem = refused(api.get("/runs?expand=gradin"), 422, "invalid")
    assert "did you mean grading?" in problem["errors"][0]["detail"]


def test_an_expansion_and_an_earlier_time_exclude_each_other(api: Api) -> None:
    job = job_of(api)
    path = f"/jobs/{job['id']}?expand=runs&at={quote(job['updated_at'])}"
    assert fault_codes(refused(api.get(path), 422, "invalid")) == {"/expand": "one_of_two"}


def test_expanding_shows_nothing_of_another_firm_and_needs_to_read(
    api: Api, rival_api: Api, firm: people.Firm
) -> None:
    draft = draft_of(api)
    assert read(rival_api.get("/runs?expand=job,grading"))["items"] == []
    refused(rival_api.get(f"/runs/{draft['id']}?expand=job"), 404, "not_found")
    refused(Api(firm.token("runs:write")).get("/runs?expand=job"), 403, "scope_missing")
