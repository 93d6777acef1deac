"""What a read may ask for: fields, expansions, sorts and filters; never more queries for more records."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from urllib.parse import quote

import pytest

from tests import people
from tests.api.answers import draft_of, fault_codes, job_of, read, refused, sealed_of
from tests.client import Api

ANY = {"If-Match": "*"}


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


@pytest.mark.usefixtures("works")
def test_places_and_scopes_show_what_belongs_to_them_in_full(api: Api) -> None:
    run = sealed_of(api)
    lateral = read(api.get(f"/laterals/{run['lateral']}"))
    property = read(api.get(f"/properties/{lateral['property']}"))
    customer = read(api.get(f"/customers/{property['customer_id']}"))
    full = read(api.get(f"/properties/{property['id']}?expand=laterals,customer"))
    assert full == {**property, "laterals": [lateral], "customer": customer}
    assert read(api.get("/properties?expand=laterals,customer"))["items"] == [full]
    assert read(api.get(f"/laterals/{lateral['id']}?expand=property")) == {**lateral, "property": property}
    point = {"property": property["id"], "lateral": lateral["id"], "units": "us", "kind": "clean_out"}
    made = read(api.post("/access-points", point), 201)
    shown = read(api.get(f"/access-points/{made['id']}?expand=property,lateral"))
    assert shown == {**made, "property": property, "lateral": lateral}
    bare = read(api.post("/access-points", {**point, "lateral": None}), 201)
    assert read(api.get(f"/access-points/{bare['id']}?expand=lateral"))["lateral"] is None
    scope = read(api.post(f"/laterals/{lateral['id']}/repair-scopes", {"policy": {"fix_from_grade": 3}}), 202)
    found = read(api.get(f"/repair-scopes/{scope['id']}?expand=lateral&fields=state"))
    assert found == {"id": scope["id"], "state": "done", "lateral": lateral}


@pytest.mark.usefixtures("works")
def test_repair_scopes_are_found_by_lateral_property_state_and_time(api: Api, rival_api: Api) -> None:
    run = sealed_of(api)
    path = f"/laterals/{run['lateral']}/repair-scopes"
    first, second = (read(api.post(path, {"policy": {"fix_from_grade": 3}}), 202)["id"] for _ in range(2))
    property = read(api.get(f"/laterals/{run['lateral']}"))["property"]
    made = quote(read(api.get(f"/repair-scopes/{first}"))["created_at"])

    def ids(query: str, api: Api = api) -> list[str]:
        return [one["id"] for one in read(api.get(f"/repair-scopes{query}"))["items"]]

    assert ids("") == ids(f"?lateral={run['lateral']}") == ids(f"?property={property}") == [first, second]
    assert ids("?state=done&sort=-created_at") == [second, first]
    assert ids("?state=failed") == ids(f"?lateral={property}") == []
    assert ids(f"?created_after={made}") == [second]
    assert ids("", rival_api) == ids(f"?lateral={run['lateral']}", rival_api) == []


def test_an_access_point_is_read_in_either_unit(api: Api) -> None:
    point = {"property": job_of(api)["property"]["id"], "units": "us", "kind": "clean_out", "size": 4}
    tied = {**point, "ties": [{"to": "house corner", "distance": 10}]}
    made = read(api.post("/access-points", tied), 201)
    shown = read(api.get(f"/access-points/{made['id']}?units=si"))
    # 1 ft = 0.3048 m and 1 in = 25.4 mm exactly (NIST Special Publication 811, 2008, appendix B.8).
    assert (shown["units"], shown["size"], shown["ties"][0]["distance"]) == ("si", Decimal("101.6"), Decimal("3.048"))
    assert read(api.get("/access-points?units=si"))["items"] == [shown]


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
        ("/customers?fields=nam", 422, {"/fields": "unknown_value"}),
        ("/customers?expand=jobs", 400, {"/expand": "unknown_parameter"}),
        ("/events?fields=id", 400, {"/fields": "unknown_parameter"}),
        ("/repair-scopes?state=don", 422, {"/state": "unknown_value"}),
        ("/repair-scopes?lateral=1", 400, {"/lateral": "not_a_uuid"}),
        ("/calculations?subject=x", 400, {"/subject": "not_a_uuid"}),
        ("/rate-books?is_default=yes", 400, {"/is_default": "not_yes_or_no"}),
        ("/jobs?starts_after=today", 400, {"/starts_after": "not_a_time"}),
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
