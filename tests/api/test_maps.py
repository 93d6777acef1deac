"""Properties and access points on the map: GeoJSON by RFC 7946, longitude first, boxes also across 180 degrees."""

from __future__ import annotations

from typing import Any

import pytest

from tests import people
from tests.api.answers import fault_codes, job_of, plain, read, refused
from tests.client import Api

PLACES = {
    "Millrace": (41.5, -72.2),
    "Sluice": (41.6, -72.1),
    "West Isle": (-16.8, 179.9),
    "East Isle": (-16.9, -179.9),
}


def place(api: Api, name: str, location: dict[str, Any] | None) -> str:
    """Have a property made somewhere."""
    body = {"external_ref": name, "address": {"line1": f"1 {name} Lane"}, "location": location}
    return str(read(api.post("/properties", body), 201)["id"])


@pytest.fixture
def town(api: Api) -> dict[str, str]:
    """Four places, two of them on either side of the antimeridian, and one nobody has measured."""
    place(api, "Nowhere", None)
    return {name: place(api, name, {"lat": lat, "lon": lon}) for name, (lat, lon) in PLACES.items()}


def seen(api: Api, box: str) -> list[str]:
    """Return what lies in a box, by reference."""
    found = read(api.get(f"/properties.geojson?bbox={box}"))
    return [one["properties"]["external_ref"] for one in found["features"]]


def test_a_property_is_a_feature_with_its_longitude_first_as_it_was_written(api: Api) -> None:
    body = plain({"address": {"line1": "12 Millrace Lane"}}).replace("{", '{"location":{"lat":41.50,"lon":-72.2},', 1)
    made = read(api.post("/properties", body), 201)
    response = api.get("/properties.geojson")
    assert response.headers["Content-Type"] == "application/geo+json"
    assert b'"coordinates":[-72.2,41.50]' in response.content
    collection = read(response)
    (feature,) = collection["features"]
    assert (collection["type"], feature["type"], feature["geometry"]["type"]) == (
        "FeatureCollection",
        "Feature",
        "Point",
    )
    assert feature["id"] == made["id"]
    assert feature["properties"] == {name: value for name, value in made.items() if name != "location"}


def test_what_nobody_has_measured_is_not_on_the_map(api: Api, town: dict[str, str]) -> None:
    features = read(api.get("/properties.geojson"))["features"]
    assert {one["id"] for one in features} == set(town.values())


@pytest.mark.parametrize(
    ("box", "wanted"),
    [
        ("-72.3,41.4,-72.0,41.7", ["Millrace", "Sluice"]),
        ("-72.2,41.5,-72.2,41.5", ["Millrace"]),
        ("-72.1999,41.4,-72.0,41.7", ["Sluice"]),
        ("-180,-90,180,90", list(PLACES)),
        ("179,-17,-179,-16", ["West Isle", "East Isle"]),
        ("179.95,-17,-179.0,-16", ["East Isle"]),
        ("-179,-17,179,-16", []),
    ],
)
def test_a_box_holds_what_lies_in_it_and_on_its_edge(
    api: Api, town: dict[str, str], box: str, wanted: list[str]
) -> None:
    assert seen(api, box) == wanted


def test_pages_of_a_box_go_on_inside_it(api: Api, town: dict[str, str]) -> None:
    first = read(api.get("/properties.geojson?bbox=-73,41,-72,42&limit=1"))
    second = read(api.get(first["next"].replace("http://testserver/api/v1", "")))
    assert [one["id"] for one in first["features"] + second["features"]] == [town["Millrace"], town["Sluice"]]
    assert second["next"] is None


def test_the_plain_list_is_a_map_for_whoever_accepts_one(api: Api, town: dict[str, str]) -> None:
    for query in ("", "?bbox=-73,41,-72,42", "?fields=external_ref&limit=1", "?expand=customer,laterals"):
        asked = api.get(f"/properties{query}", Accept="application/geo+json")
        assert asked.headers["Content-Type"] == "application/geo+json"
        assert read(asked)["features"] == read(api.get(f"/properties.geojson{query}"))["features"]
    first = api.get("/properties?limit=2", Accept="application/geo+json")
    rest = api.http.get(read(first)["next"], headers={"Accept": "application/geo+json"})
    assert [one["id"] for one in read(first)["features"] + read(rest)["features"]] == list(town.values())
    assert api.get("/properties?bbox=1", Accept="application/geo+json").headers["Content-Type"] == (
        "application/problem+json"
    )
    for accept in ("application/json", "*/*", "text/html"):
        assert "items" in read(api.get("/properties", Accept=accept))
    points = api.get("/access-points", Accept="application/geo+json")
    assert (points.headers["Content-Type"], read(points)["features"]) == ("application/geo+json", [])
    assert "items" in read(api.get("/customers", Accept="application/geo+json"))


def test_a_box_narrows_the_plain_list_too(api: Api, town: dict[str, str]) -> None:
    found = read(api.get("/properties?bbox=-72.3,41.4,-72.15,41.7"))["items"]
    assert [one["id"] for one in found] == [town["Millrace"]]


@pytest.mark.parametrize(
    ("box", "wanted"), [("170,-1,180,1", 2), ("-180,-1,-170,1", 2), ("180,-1,-180,1", 2), ("170,-1,179,1", 0)]
)
def test_180_and_minus_180_are_one_meridian(api: Api, box: str, wanted: int) -> None:
    for lon in (180, -180):
        place(api, f"Line {lon}", {"lat": 0, "lon": lon})
    assert len(seen(api, box)) == wanted


@pytest.mark.parametrize(
    ("box", "said"),
    [
        ("41.4,-172.3,41.6,-172.1", "latitude and longitude are swapped"),
        ("0,2,1,1", "The south (2) lies north of the north (1)"),
        ("-181,0,0,1", "The west (-181) lies beyond 180"),
        ("1,2,3", "west,south,east,north"),
    ],
)
def test_a_wrong_order_is_told(api: Api, box: str, said: str) -> None:
    problem = refused(api.get(f"/properties.geojson?bbox={box}"), 422, "invalid")
    assert said in problem["errors"][0]["detail"]


@pytest.mark.parametrize(
    "box", ["", "1,2,3", "1,2,3,4,5", "a,b,c,d", "-181,0,0,1", "0,-91,0,1", "0,2,1,1", "NaN,0,1,1", "1e2,0,1,1", "%00"]
)
def test_a_box_that_is_none_is_refused(api: Api, box: str) -> None:
    problem = refused(api.get(f"/properties.geojson?bbox={box}"), 422, "invalid")
    assert fault_codes(problem) == {"/bbox": "not_a_box"}


def test_an_access_point_has_a_place_of_its_own(api: Api) -> None:
    property = job_of(api)["property"]["id"]
    body = {"property": property, "units": "us", "kind": "clean_out", "location": {"lat": 41.5001, "lon": -72.2}}
    point = read(api.post("/access-points", body), 201)
    assert plain(point["location"]) == '{"lat":41.5001,"lon":-72.2}'
    assert [one["id"] for one in read(api.get("/access-points.geojson?bbox=-73,41,-72,42"))["features"]] == [
        point["id"]
    ]
    path = f"/access-points/{point['id']}"
    assert read(api.patch(path, {"location": None}, **{"If-Match": "*"}))["location"] is None
    assert read(api.get("/access-points.geojson"))["features"] == []
    problem = refused(api.post("/access-points", {**body, "location": {"lat": 91}}), 422, "invalid")
    assert set(fault_codes(problem)) == {"/location/lat", "/location/lon"}


def test_a_map_shows_its_own_firm_only_and_needs_to_read(
    api: Api, rival_api: Api, firm: people.Firm, town: dict[str, str]
) -> None:
    assert read(rival_api.get("/properties.geojson"))["features"] == []
    refused(Api(firm.token("jobs:write")).get("/properties.geojson"), 403, "scope_missing")
    response = Api("pbk_none").get("/properties.geojson")
    refused(response, 401, "not_signed_in")
