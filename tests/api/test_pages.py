"""Pages: every record once, in order, whatever is added meanwhile."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from inspections.models import Customer
from tests.api.answers import job_of, read, refused, sealed_of
from tests.client import Api


def _customers(api: Api, count: int) -> list[str]:
    return [read(api.post("/customers", {"name": f"Person {n}"}), 201)["id"] for n in range(count)]


def _next(api: Api, page: dict[str, Any]) -> dict[str, Any]:
    return dict(read(api.http.get(page["next"])))


def _walk(api: Api, path: str) -> list[str]:
    page = read(api.get(path))
    ids = [one["id"] for one in page["items"]]
    while page["next"]:
        page = _next(api, page)
        ids += [one["id"] for one in page["items"]]
    return ids


@pytest.mark.parametrize("limit", [1, 2, 3, 7, 200])
def test_all_pages_together_are_all_records_in_the_order_they_came(api: Api, limit: int) -> None:
    ids = _customers(api, 7)
    assert _walk(api, f"/customers?limit={limit}") == ids


def test_a_page_says_where_the_next_one_is_also_in_its_link(api: Api) -> None:
    _customers(api, 3)
    response = api.get("/customers?limit=2")
    page = read(response)
    assert len(page["items"]) == 2
    assert page["next"].startswith("http://testserver/api/v1/customers?")
    assert response.headers["Link"] == f'<{page["next"]}>; rel="next"'
    last = api.http.get(page["next"])
    assert read(last)["next"] is None
    assert "Link" not in last.headers


def test_pages_are_stable_when_records_are_added_between_them(api: Api) -> None:
    before = _customers(api, 5)
    first = read(api.get("/customers?limit=2"))
    added = _customers(api, 2)
    ids = [one["id"] for one in first["items"]]
    page = first
    while page["next"]:
        page = _next(api, page)
        ids += [one["id"] for one in page["items"]]
    assert ids == before + added


def test_records_of_one_instant_are_not_lost_between_pages(api: Api) -> None:
    ids = _customers(api, 9)
    Customer.objects.update(created_at=timezone.now())
    walked = _walk(api, "/customers?limit=2")
    assert sorted(walked) == sorted(ids)
    assert walked == sorted(walked)  # equal times: the order of the ids


def test_a_cursor_keeps_its_filter_and_its_list(api: Api) -> None:
    for n in range(3):
        job_of(api, external_ref=f"AF-{n}")
    page = read(api.get("/jobs?state=requested&limit=1"))
    assert "state=requested" in page["next"]
    assert len(_next(api, page)["items"]) == 1
    cursor = page["next"].partition("cursor=")[2].partition("&")[0]
    refused(api.get(f"/jobs?cursor={cursor}"), 400, "malformed")
    refused(api.get(f"/jobs?state=done&cursor={cursor}"), 400, "malformed")
    refused(api.get(f"/customers?cursor={cursor}"), 400, "malformed")


def test_a_cursor_of_another_firm_shows_nothing_of_it(api: Api, rival_api: Api) -> None:
    theirs = _customers(api, 3)
    cursor = read(api.get("/customers?limit=1"))["next"].partition("cursor=")[2].partition("&")[0]
    shown = {one["id"] for one in read(rival_api.get(f"/customers?cursor={cursor}"))["items"]}
    assert shown.isdisjoint(theirs)


def test_a_page_is_50_long_where_nothing_is_said_and_200_at_most(api: Api, firm) -> None:  # type: ignore[no-untyped-def]
    Customer.objects.bulk_create(Customer(organisation=firm.organisation, name=f"P{n}") for n in range(201))
    assert len(read(api.get("/customers"))["items"]) == 50
    assert len(read(api.get("/customers?limit=200"))["items"]) == 200


@pytest.mark.parametrize(
    "kind",
    [
        "jobs",
        "runs",
        "laterals",
        "calculations",
        "customers",
        "properties",
        "access-points",
        "grading-schemes",
        "rate-books",
        "rule-sets",
    ],
)
def test_every_list_has_the_same_habits(api: Api, rival_api: Api, kind: str, works: None) -> None:
    sealed_of(api)
    mine = read(api.get(f"/{kind}"))
    assert set(mine) == {"items", "next"} and mine["next"] is None
    theirs = {one["id"] for one in read(rival_api.get(f"/{kind}"))["items"]}
    assert theirs.isdisjoint(one["id"] for one in mine["items"])
    refused(api.get(f"/{kind}?limit=0"), 400, "malformed", "/limit")
    refused(api.get(f"/{kind}?cursor=x"), 400, "malformed")
    refused(api.get(f"/{kind}?colour=red"), 400, "malformed", "/colour")


@pytest.mark.parametrize(("kind", "most"), [("jobs", 60), ("customers", 8), ("calculations", 8)])
def test_a_page_takes_a_bounded_number_of_queries(
    api: Api, kind: str, most: int, django_assert_max_num_queries: Any
) -> None:
    for n in range(12):
        sealed_of(api, job_of(api, external_ref=f"AF-{n}"))
    with django_assert_max_num_queries(most):
        read(api.get(f"/{kind}?limit=12"))
