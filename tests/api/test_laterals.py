"""The reconciled pipe and its site: several runs, either end, either unit, one list of stations."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest

from tests import builders
from tests.api.answers import draft_of, fault_codes, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api

EMPTY_SITE = {
    "units": "us",
    "boundaries": [],
    "depths": [],
    "surfaces": [],
    "soil": None,
    "groundwater_depth": None,
    "drainage_fixture_units": None,
}


def _upstream(api: Api, run: dict[str, Any]) -> dict[str, Any]:
    draft = read(api.post("/runs", builders.upstream_run(run["job"])), 201)
    read(api.post(f"/runs/{draft['id']}/submit"), 202)
    return dict(draft)


def test_a_lateral_nobody_inspected_is_empty_and_says_so(api: Api) -> None:
    lateral = job_of(api)["property"]["laterals"][0]["id"]
    shown = read(api.get(f"/laterals/{lateral}"))
    assert (shown["datum"], shown["defects"], shown["grading"], shown["is_current"]) == (None, [], None, False)


def test_a_draft_says_nothing_about_its_lateral(api: Api) -> None:
    draft = draft_of(api)
    assert read(api.get(f"/laterals/{draft['lateral']}"))["defects"] == []


@pytest.mark.usefixtures("works")
def test_one_run_gives_stations_from_its_start_access(api: Api) -> None:
    run = sealed_of(api)
    shown = read(api.get(f"/laterals/{run['lateral']}"))
    assert (shown["datum"]["label"], shown["from"], shown["to"]) == ("front clean-out", 0, 60)
    assert {one["ref"]: one["station"] for one in shown["defects"]} == {
        "a": 12,
        "b": Decimal("27.5"),
        "c": 36,
        "d": 44,
    }
    assert (shown["reaches_main"], shown["is_current"], shown["units"]) == (True, True, "us")


@pytest.mark.usefixtures("works")
def test_a_run_from_the_other_end_in_metres_joins_the_same_list(api: Api) -> None:
    run = sealed_of(api)
    other = _upstream(api, run)
    shown = read(api.get(f"/laterals/{run['lateral']}"))
    assert [one["tied"] for one in shown["runs"]] == [True, True]
    assert shown["datum"]["label"] == "front clean-out"  # the most upstream access point of both
    seen_by = {one["kind"]: {source["run"] for source in one["sources"]} for one in shown["defects"]}
    assert seen_by["displaced_joint"] == seen_by["fracture"] == {run["id"], other["id"]}
    assert seen_by["roots"] == seen_by["sag"] == {run["id"]}
    fracture = next(one for one in shown["defects"] if one["kind"] == "fracture")
    # 27.5 ft by the first run; 18.288 - 9.91 = 8.378 m = 27.4869 ft by the second.
    assert abs(fracture["station"] - Decimal("27.5")) < Decimal("0.1")


@pytest.mark.usefixtures("works")
def test_clocks_are_given_facing_downstream(api: Api) -> None:
    job = job_of(api)
    defects = [{"ref": "u", "kind": "hole", "at": 9, "clock_from": 1, "clock_to": 4}]
    draft = read(api.post("/runs", builders.upstream_run(job["id"], defects=defects)), 201)
    read(api.post(f"/runs/{draft['id']}/submit"), 202)
    hole = read(api.get(f"/laterals/{draft['lateral']}"))["defects"][0]
    # An upstream run's clock h becomes 12 - h; from and to swap: 1 to 4 is 8 to 11.
    assert (hole["clock_from"], hole["clock_to"]) == (8, 11)


@pytest.mark.usefixtures("works")
def test_a_stop_short_leaves_the_rest_unseen_with_an_open_end(api: Api) -> None:
    run = sealed_of(api, reached="stopped", stopped_by="defect", features=[{"kind": "joint", "at": 3}], unseen=[])
    graded = read(api.get(f"/runs/{run['id']}/grading"))
    assert graded["coverage"]["unseen"] == [{"from": 60, "to": None, "reason": "not_reached"}]
    assert graded["coverage"]["length_share"] == 1  # of what was passed
    assert {"from": 60, "to": None, "reason": "not_reached"} in read(api.get(f"/laterals/{run['lateral']}"))["unseen"]


@pytest.mark.usefixtures("works")
def test_a_lateral_is_read_in_either_unit(api: Api) -> None:
    run = sealed_of(api)
    shown = read(api.get(f"/laterals/{run['lateral']}?units=si"))
    assert (shown["units"], shown["to"]) == ("si", Decimal("18.288"))
    assert next(one for one in shown["defects"] if one["ref"] == "c")["offset"] == Decimal("25.4")


def test_a_lateral_waits_for_its_worker_and_says_so(api: Api, rung: list[str]) -> None:
    run = sealed_of(api)
    assert read(api.get(f"/laterals/{run['lateral']}"))["is_current"] is False


def test_a_site_exists_from_the_start_empty_at_revision_0(api: Api) -> None:
    lateral = job_of(api)["property"]["laterals"][0]["id"]
    response = api.get(f"/laterals/{lateral}/site")
    site = read(response)
    assert {name: site[name] for name in EMPTY_SITE} == EMPTY_SITE
    assert (site["lateral"], site["revision"], response.headers["ETag"]) == (lateral, 0, '"0"')


def test_a_site_is_kept_digit_for_digit_and_changed_by_who_saw_it(api: Api) -> None:
    path = f"/laterals/{job_of(api)['property']['laterals'][0]['id']}/site"
    text = json.dumps(builders.site()).replace('"groundwater_depth": 12', '"groundwater_depth": 12.50')
    first = api.put(path, text, **{"If-Match": '"0"'})
    assert read(first)["revision"] == 1
    assert b'"groundwater_depth":12.50' in first.content and b'"groundwater_depth":12.50' in api.get(path).content
    with nothing_changes():
        assert api.put(path, text).content == first.content
        refused(api.put(path, builders.site(soil="C")), 428, "revision_required")
        refused(api.put(path, builders.site(soil="C"), **{"If-Match": '"0"'}), 412, "revision_stale")
        refused(api.patch(path, {"soil": "C"}), 428, "revision_required")
    changed = read(api.patch(path, {"soil": "C"}, **{"If-Match": '"1"'}))
    assert (changed["soil"], changed["revision"], len(changed["depths"])) == ("C", 2, 2)


def test_a_site_is_read_in_metres(api: Api) -> None:
    path = f"/laterals/{job_of(api)['property']['laterals'][0]['id']}/site"
    read(api.put(path, builders.site(), **{"If-Match": "*"}))
    site = read(api.get(f"{path}?units=si"))
    assert site["boundaries"][1] == {"kind": "property_line", "station": Decimal("12.192")}  # 40 ft
    assert site["depths"][0]["depth"] == Decimal("1.2192")  # 4 ft
    assert site["surfaces"][1]["to"] == Decimal("18.288")


SITE_FAULTS: list[tuple[dict[str, Any], int, str, str]] = [
    ({"units": None}, 422, "/units", "null"),
    ({"soil": "D"}, 422, "/soil", "unknown_value"),
    ({"boundaries": [{"kind": "main", "station": 1}] * 2}, 422, "/boundaries/1/kind", "stands_twice"),
    ({"boundaries": [{"kind": "fence", "station": 1}]}, 422, "/boundaries/0/kind", "unknown_value"),
    ({"depths": [{"station": 1, "depth": 2, "to": "invert"}] * 2}, 422, "/depths/1/station", "stands_twice"),
    ({"depths": [{"station": 1, "depth": -0.1, "to": "crown"}]}, 422, "/depths/0/depth", "too_small"),
    ({"surfaces": [{"from": 5, "to": 5, "kind": "lawn"}]}, 422, "/surfaces/0/to", "to_before_from"),
    ({"surfaces": [{"from": 5, "to": 5.00000000001, "kind": "lawn"}]}, 422, "/surfaces/0/to", "to_before_from"),
    (
        {"surfaces": [{"from": 0, "to": 9, "kind": "lawn"}, {"from": 8, "to": 10, "kind": "lawn"}]},
        422,
        "/surfaces/1/from",
        "surfaces_overlap",
    ),
    ({"groundwater_depth": "12"}, 400, "/groundwater_depth", "not_a_number"),
    ({"colour": "red"}, 400, "/colour", "unknown_field"),
]


@pytest.mark.parametrize(("changes", "status", "place", "code"), SITE_FAULTS, ids=[row[3] for row in SITE_FAULTS])
def test_what_is_wrong_in_a_site_is_refused(
    api: Api, changes: dict[str, Any], status: int, place: str, code: str
) -> None:
    path = f"/laterals/{job_of(api)['property']['laterals'][0]['id']}/site"
    with nothing_changes():
        answer = api.put(path, builders.site(**changes), **{"If-Match": "*"})
        problem = refused(answer, status, "invalid" if status == 422 else "malformed", place)
    assert fault_codes(problem)[place] == code


def test_another_firms_lateral_and_site_do_not_exist(api: Api, rival_api: Api) -> None:
    path = f"/laterals/{job_of(api)['property']['laterals'][0]['id']}"
    with nothing_changes():
        for part in ("", "/site", "/repair-scopes"):
            refused(rival_api.get(f"{path}{part}"), 404, "not_found")
        refused(rival_api.get(f"{path}/report", Accept="application/pdf"), 404, "not_found")
        refused(rival_api.put(f"{path}/site", builders.site(), **{"If-Match": "*"}), 404, "not_found")
        refused(rival_api.post(f"{path}/repair-scopes", {"policy": {"fix_from_grade": 4}}), 404, "not_found")
        assert read(rival_api.get("/laterals"))["items"] == []


def test_laterals_are_listed_by_property(api: Api) -> None:
    job, other = job_of(api), job_of(api, external_ref="AF-2", property={"address": {"line1": "3 Weir Row"}})
    assert len(read(api.get("/laterals"))["items"]) == 2
    listed = read(api.get(f"/laterals?property={other['property']['id']}"))["items"]
    assert [one["id"] for one in listed] == [other["property"]["laterals"][0]["id"]]
    assert job["property"]["laterals"][0]["id"] not in {one["id"] for one in listed}
