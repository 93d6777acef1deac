"""Repair scopes: what may be asked, what is refused, and that each keeps what it was computed with."""

from __future__ import annotations

from typing import Any

import pytest

from inspections.models import RepairScope
from inspections.services import work
from scoring.scope import DEFAULT_RATE_BOOK
from tests import builders, people
from tests.api.answers import fault_codes, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api


def _ask(api: Api, run: dict[str, Any], **changes: Any) -> dict[str, Any]:
    asked = {"policy": {"fix_from_grade": 4}, **changes}
    answer = read(api.post(f"/laterals/{run['lateral']}/repair-scopes", asked), 202)
    return dict(read(api.get(f"/repair-scopes/{answer['id']}")))


def test_a_scope_is_accepted_before_it_is_computed(api: Api, rung: list[str]) -> None:
    run = sealed_of(api)
    response = api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}})
    answer = read(response, 202)
    assert response.headers["Location"] == f"/api/v1/repair-scopes/{answer['id']}"
    scope = read(api.get(f"/repair-scopes/{answer['id']}"))
    assert (scope["state"], scope["plans"], scope["is_current"]) == ("queued", [], False)
    work.perform(answer["calculation"]["id"])
    assert read(api.get(f"/repair-scopes/{answer['id']}"))["state"] == "done"


def test_a_lateral_nobody_inspected_gets_no_scope(api: Api) -> None:
    lateral = job_of(api)["property"]["laterals"][0]["id"]
    with nothing_changes():
        answer = api.post(f"/laterals/{lateral}/repair-scopes", {"policy": {"fix_from_grade": 4}})
        refused(answer, 409, "nothing_inspected")


def paid(*rows: dict[str, str]) -> dict[str, Any]:
    """Return the part of a request that says which programmes paid here before."""
    return {"policy": {"fix_from_grade": 4, "programmes_paid": list(rows)}}


FAULTS: list[tuple[dict[str, Any], int, str, str]] = [
    ({"policy": None}, 422, "/policy", "null"),
    ({"policy": {}}, 422, "/policy/fix_from_grade", "required"),
    ({"policy": {"fix_from_grade": 6}}, 422, "/policy/fix_from_grade", "grade_not_in_scheme"),
    ({"policy": {"fix_from_grade": 3.5}}, 400, "/policy/fix_from_grade", "not_a_whole_number"),
    ({"policy": {"fix_from_grade": 4, "methods": ["prayer"]}}, 422, "/policy/methods/0", "unknown_value"),
    ({"policy": {"fix_from_grade": 4, "dig_allowed_in": ["moon"]}}, 422, "/policy/dig_allowed_in/0", "unknown_value"),
    ({"policy": {"fix_from_grade": 4, "margin": -1}}, 422, "/policy/margin", "too_small"),
    ({"policy": {"fix_from_grade": 4, "scheme": "nowhere"}}, 422, "/policy/scheme", "no_such_record"),
    ({"policy": {"fix_from_grade": 4, "colour": "red"}}, 400, "/policy/colour", "unknown_field"),
    (
        paid({"programme": "nobody", "paid_on": "2025-03-04"}),
        422,
        "/policy/programmes_paid/0/programme",
        "no_such_programme",
    ),
    (
        paid({"programme": "repair_programme", "paid_on": "yesterday"}),
        400,
        "/policy/programmes_paid/0/paid_on",
        "not_a_day",
    ),
    (
        paid(*[{"programme": "a", "paid_on": "2025-03-04"}] * 2),
        422,
        "/policy/programmes_paid/1/programme",
        "stands_twice",
    ),
    ({"rate_book": "nowhere"}, 422, "/rate_book", "no_such_record"),
    ({"rule_set": "nowhere"}, 422, "/rule_set", "no_such_record"),
]


@pytest.mark.parametrize(("changes", "status", "place", "code"), FAULTS, ids=[row[2] + row[3] for row in FAULTS])
def test_what_is_wrong_in_a_request_is_refused(
    api: Api, changes: dict[str, Any], status: int, place: str, code: str
) -> None:
    run = sealed_of(api)
    asked = {"policy": {"fix_from_grade": 4}, **changes}
    with nothing_changes():
        answer = api.post(f"/laterals/{run['lateral']}/repair-scopes", asked)
        problem = refused(answer, status, "invalid" if status == 422 else "malformed", place)
    assert fault_codes(problem)[place] == code


def test_all_that_is_named_and_not_there_is_said_at_once(api: Api) -> None:
    run = sealed_of(api)
    asked = {"policy": {"fix_from_grade": 4, "scheme": "x"}, "rate_book": "y", "rule_set": "z"}
    answer = api.post(f"/laterals/{run['lateral']}/repair-scopes", asked)
    refused(answer, 422, "invalid", "/policy/scheme", "/rate_book", "/rule_set")


@pytest.mark.usefixtures("works")
def test_digging_only_where_it_is_allowed_never_digs_elsewhere(api: Api) -> None:
    run = sealed_of(api)
    read(api.put(f"/laterals/{run['lateral']}/site", builders.site(), **{"If-Match": "*"}))
    anywhere = _ask(api, run)
    nowhere = _ask(api, run, policy={"fix_from_grade": 4, "dig_allowed_in": []})
    digs = {section["method"] for plan in nowhere["plans"] for section in plan["sections"]}
    assert not {method for method in digs if "open_cut" in method or "burst" in method}
    assert _likely(nowhere) >= _likely(anywhere) or nowhere["not_curable"]


@pytest.mark.usefixtures("works")
def test_only_the_methods_named_are_used(api: Api) -> None:
    run = sealed_of(api)
    scope = _ask(api, run, policy={"fix_from_grade": 4, "methods": ["open_cut_replacement"]})
    used = {section["method"] for plan in scope["plans"] for section in plan["sections"]}
    assert used <= {"open_cut_replacement"}


@pytest.mark.usefixtures("works")
def test_a_stricter_policy_never_costs_less(api: Api) -> None:
    run = sealed_of(api)
    read(api.put(f"/laterals/{run['lateral']}/site", builders.site(), **{"If-Match": "*"}))
    all_of_it = _ask(api, run, policy={"fix_from_grade": 3})
    assert not all_of_it["not_curable"]
    assert _likely(all_of_it) >= _likely(_ask(api, run))


@pytest.mark.usefixtures("works")
def test_nothing_from_the_policys_grade_on_is_nothing_to_do(api: Api) -> None:
    scope = _ask(api, sealed_of(api), policy={"fix_from_grade": 5})
    least = scope["plans"][0]
    assert (least["sections"], least["total"]) == ([], {"low": 0, "likely": 0, "high": 0})


def _likely(scope: dict[str, Any]) -> Any:
    return next(plan for plan in scope["plans"] if plan["name"] == "least_cost")["total"]["likely"]


@pytest.mark.usefixtures("works")
def test_a_scope_keeps_the_version_of_the_rate_book_it_used(api: Api, firm: people.Firm) -> None:
    run = sealed_of(api)
    scope = _ask(api, run)
    admin = Api(firm.token("admin"))
    newer = {**DEFAULT_RATE_BOOK, "version": str(int(DEFAULT_RATE_BOOK["version"]) + 1)}
    loaded = read(admin.post("/rate-books", {"document": newer, "is_default": True}), 201)
    assert read(api.get(f"/repair-scopes/{scope['id']}"))["rate_book"] == scope["rate_book"]
    later = _ask(api, run)
    assert (later["rate_book"]["id"], later["rate_book"]["version"]) == (loaded["id"], loaded["version"])
    earlier = _ask(api, run, rate_book=scope["rate_book"]["id"])
    assert earlier["rate_book"] == scope["rate_book"]
    assert _likely(earlier) == _likely(scope)


@pytest.mark.usefixtures("works")
def test_a_scope_is_read_in_either_unit_at_one_price(api: Api) -> None:
    scope = _ask(api, sealed_of(api))
    other = read(api.get(f"/repair-scopes/{scope['id']}?units=si"))
    assert (scope["units"], other["units"]) == ("us", "si")
    assert [plan["total"] for plan in scope["plans"]] == [plan["total"] for plan in other["plans"]]
    for us, si in zip(scope["plans"][0]["sections"], other["plans"][0]["sections"], strict=True):
        assert abs(float(si["to"]) - float(us["to"]) * 0.3048) < 0.0002  # four decimals in each


@pytest.mark.usefixtures("works")
def test_the_same_request_again_is_another_scope_with_the_same_plans(api: Api) -> None:
    run = sealed_of(api)
    first, second = _ask(api, run), _ask(api, run)
    assert first["id"] != second["id"]
    assert (first["plans"], first["inputs_sha256"]) == (second["plans"], second["inputs_sha256"])
    listed = read(api.get(f"/laterals/{run['lateral']}/repair-scopes"))["items"]
    assert [one["id"] for one in listed] == [first["id"], second["id"]]


@pytest.mark.usefixtures("works")
def test_another_firms_scope_and_versions_do_not_exist(api: Api, rival_api: Api) -> None:
    scope = _ask(api, sealed_of(api))
    rivals = sealed_of(rival_api)
    with nothing_changes():
        refused(rival_api.get(f"/repair-scopes/{scope['id']}"), 404, "not_found")
        refused(rival_api.get(f"/calculations/{scope['calculation']['id']}"), 404, "not_found")
        refused(rival_api.get(f"/rate-books/{scope['rate_book']['id']}"), 404, "not_found")
        named = {"policy": {"fix_from_grade": 4}, "rate_book": scope["rate_book"]["id"]}
        answer = rival_api.post(f"/laterals/{rivals['lateral']}/repair-scopes", named)
        refused(answer, 422, "invalid", "/rate_book")
    assert RepairScope.objects.count() == 1
