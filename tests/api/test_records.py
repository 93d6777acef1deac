"""Customers, properties and access points: plain records, all with the same habits."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest

from inspections.models import Lateral, Site
from tests.api.answers import draft_of, fault_codes, job_of, nothing_changes, read, refused
from tests.client import Api

Body = dict[str, Any]


def _customer(api: Api) -> Body:
    return {"external_ref": "C-1", "name": "Rowan Ashby", "email": "rowan@example.org"}


def _property(api: Api) -> Body:
    return {
        "external_ref": "P-1",
        "address": {"line1": "12 Millrace Lane", "locality": "Alder Falls"},
        "year_built": 1948,
    }


def _access_point(api: Api) -> Body:
    property = read(api.post("/properties", {"address": {"line1": f"{uuid.uuid4().hex[:4]} Weir Row"}}), 201)
    return {
        "external_ref": "A-1",
        "property": property["id"],
        "units": "us",
        "kind": "clean_out",
        "label": "front clean-out",
        "size": 4,
        "ties": [{"to": "north-east corner of the house", "distance": 6.5}],
    }


KINDS: list[tuple[str, Callable[[Api], Body], Body]] = [
    ("customers", _customer, {"name": "Aspen Ashby"}),
    ("properties", _property, {"year_built": 1950}),
    ("access-points", _access_point, {"label": "rear clean-out"}),
]
each = pytest.mark.parametrize(("kind", "body", "change"), KINDS, ids=[row[0] for row in KINDS])


@each
def test_a_record_is_made_read_and_listed(api: Api, kind: str, body: Any, change: Body) -> None:
    response = api.post(f"/{kind}", sent := body(api))
    made = read(response, 201)
    assert response.headers["Location"] == f"/api/v1/{kind}/{made['id']}"
    assert response.headers["ETag"] == '"1"'
    assert read(api.get(f"/{kind}/{made['id']}")) == made
    assert [one["id"] for one in read(api.get(f"/{kind}?external_ref={sent['external_ref']}"))["items"]] == [
        made["id"]
    ]


@each
def test_equal_content_again_is_the_same_record(api: Api, kind: str, body: Any, change: Body) -> None:
    sent = body(api)
    made = read(api.post(f"/{kind}", sent), 201)
    with nothing_changes(but=("KeptAnswer",)):
        assert read(api.post(f"/{kind}", sent)) == made
        assert read(api.put(f"/{kind}/{made['id']}", sent)) == made
    with nothing_changes():
        refused(api.post(f"/{kind}", sent | change), 409, "external_ref_taken")
        refused(api.put(f"/{kind}/{uuid.uuid4()}", sent), 409, "external_ref_taken")


@each
def test_a_record_is_changed_by_who_saw_it(api: Api, kind: str, body: Any, change: Body) -> None:
    made = read(api.post(f"/{kind}", sent := body(api)), 201)
    path = f"/{kind}/{made['id']}"
    with nothing_changes():
        refused(api.put(path, sent | change), 428, "revision_required")
        refused(api.patch(path, change, **{"If-Match": '"9"'}), 412, "revision_stale")
        refused(api.delete(path), 428, "revision_required")
    patched = read(api.patch(path, change, **{"If-Match": '"1"'}))
    assert {name: patched[name] for name in change} == change
    assert patched["revision"] == 2
    assert read(api.put(path, sent, **{"If-Match": "*"}))["revision"] == 3


@each
def test_a_record_nothing_depends_on_is_taken_away(api: Api, kind: str, body: Any, change: Body) -> None:
    made = read(api.post(f"/{kind}", body(api)), 201)
    assert api.delete(f"/{kind}/{made['id']}", **{"If-Match": '"1"'}).status_code == 204
    refused(api.get(f"/{kind}/{made['id']}"), 404, "not_found")


@each
def test_another_firms_record_does_not_exist(api: Api, rival_api: Api, kind: str, body: Any, change: Body) -> None:
    made = read(api.post(f"/{kind}", body(api)), 201)
    path, star, rivals = f"/{kind}/{made['id']}", {"If-Match": "*"}, body(rival_api)
    with nothing_changes():
        refused(rival_api.get(path), 404, "not_found")
        refused(rival_api.put(path, rivals, **star), 404, "not_found")
        refused(rival_api.patch(path, change, **star), 404, "not_found")
        refused(rival_api.delete(path, **star), 404, "not_found")
        assert made["id"] not in {one["id"] for one in read(rival_api.get(f"/{kind}"))["items"]}


@each
def test_all_that_is_missing_or_unknown_is_named_at_once(api: Api, kind: str, body: Any, change: Body) -> None:
    needed = {
        "customers": {"/name"},
        "properties": {"/address"},
        "access-points": {"/property", "/units", "/kind"},
    }[kind]
    with nothing_changes():
        assert set(fault_codes(refused(api.post(f"/{kind}", {}), 422, "invalid"))) == needed
        problem = refused(api.post(f"/{kind}", {"colour": "red"}), 400, "malformed", "/colour", *needed)
    assert fault_codes(problem)["/colour"] == "unknown_field"


def test_a_property_starts_with_one_lateral_and_its_empty_site(api: Api) -> None:
    made = read(api.post("/properties", _property(api)), 201)
    assert [one["name"] for one in made["laterals"]] == ["main drain"]
    assert (Lateral.objects.count(), Site.objects.count()) == (1, 1)
    assert made["customer_id"] is None


def test_a_record_that_others_depend_on_stays(api: Api) -> None:
    job = job_of(api)
    draft_of(api, job)
    with nothing_changes():
        for path in (f"/customers/{job['customer']['id']}", f"/properties/{job['property']['id']}"):
            refused(api.delete(path, **{"If-Match": "*"}), 409, "record_in_use")


def test_a_location_is_kept_digit_for_digit_and_lies_on_earth(api: Api) -> None:
    text = '{"address": {"line1": "12 Millrace Lane"}, "location": {"lat": 44.10, "lon": -71.50}}'
    made = api.post("/properties", text)
    assert b'"location":{"lat":44.10,"lon":-71.50}' in made.content
    with nothing_changes():
        for lat, lon, place in ((90.1, 0, "lat"), (0, -180.1, "lon")):
            asked = {"address": {"line1": "x"}, "location": {"lat": lat, "lon": lon}}
            refused(api.post("/properties", asked), 422, "invalid", f"/location/{place}")


def test_a_customer_of_another_firm_cannot_own_a_property(api: Api, rival_api: Api) -> None:
    theirs = read(rival_api.post("/customers", _customer(rival_api)), 201)
    with nothing_changes():
        asked = _property(api) | {"customer_id": theirs["id"]}
        refused(api.post("/properties", asked), 422, "invalid", "/customer_id")


def test_an_access_point_lies_at_its_own_property(api: Api, rival_api: Api) -> None:
    sent, other = _access_point(api), job_of(api)
    theirs = job_of(rival_api)
    with nothing_changes():
        wrong = sent | {"lateral": other["property"]["laterals"][0]["id"]}
        refused(api.post("/access-points", wrong), 422, "invalid", "/lateral")
        foreign = sent | {"property": theirs["property"]["id"], "lateral": theirs["property"]["laterals"][0]["id"]}
        refused(api.post("/access-points", foreign), 422, "invalid", "/property", "/lateral")


def test_an_access_point_keeps_its_measures_as_written(api: Api) -> None:
    made = read(api.post("/access-points", _access_point(api)), 201)
    assert (made["size"], str(made["ties"][0]["distance"]), made["units"]) == (4, "6.5", "us")
