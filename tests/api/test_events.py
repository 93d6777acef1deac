"""The event feed: every committed change once and in order, whatever commits at the same time."""

from __future__ import annotations

import random
import threading
import time
import uuid
from typing import Any

import pytest
from django.db import connection, transaction

from inspections.models import Event
from inspections.services import calculations, trail, work
from tests import builders, people
from tests.api.answers import draft_of, job_of, read, refused, sealed_of
from tests.api.threads import at_once
from tests.client import Api

pytestmark = pytest.mark.django_db(transaction=True)


def _follow(api: Api, path: str = "/events?limit=200", *, until: int = 0) -> list[dict[str, Any]]:
    """Follow the feed to its end; on a shared server, until as many events as are known to be there settled."""
    items: list[dict[str, Any]] = []
    give_up = time.monotonic() + 30
    while True:
        page = read(api.http.get(path) if path.startswith("http") else api.get(path))
        items += page["items"]
        path = page["next"] or path
        if not page["items"]:
            if len(items) >= until or time.monotonic() > give_up:
                return items
            time.sleep(0.02)


def _of_records(items: list[dict[str, Any]]) -> list[str]:
    """Return the types of what clients did, without what the set-up of the firm left."""
    return [one["type"] for one in items if not one["type"].endswith(".loaded")]


def test_the_main_job_is_told_in_order(api: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calculations, "ring", work.perform)  # the worker, at once after each commit
    run = sealed_of(api)
    read(api.post(f"/runs/{run['id']}/accept"))
    asked = {"policy": {"fix_from_grade": 4}}
    read(api.post(f"/laterals/{run['lateral']}/repair-scopes", asked), 202)
    told = _of_records(_follow(api, until=Event.objects.count()))
    expected = [
        "job.requested",
        "job.under_way",
        "run.created",
        "run.submitted",
        "run.graded",
        "lateral.graded",
        "run.accepted",
        "repair_scope.requested",
        "repair_scope.computed",
    ]
    assert [type for type in told if type in expected] == expected


def test_an_event_names_its_record_and_its_state(api: Api) -> None:
    job = job_of(api)
    told = [one for one in _follow(api, until=Event.objects.count()) if one["type"] == "job.requested"]
    assert [one["subject"] for one in told] == [f"jobs/{job['id']}"]
    assert told[0]["data"] == {"id": job["id"], "external_ref": "AF-1001", "state": "requested", "revision": 1}
    assert uuid.UUID(told[0]["id"]) and told[0]["time"]


@pytest.mark.parametrize("limit", [1, 3, 200])
def test_whoever_follows_the_cursor_sees_each_event_once(api: Api, limit: int) -> None:
    draft_of(api)
    count = Event.objects.count()
    ids = [one["id"] for one in _follow(api, f"/events?limit={limit}", until=count)]
    assert ids == [str(id) for id in Event.objects.order_by("number").values_list("id", flat=True)]


def test_a_follower_at_the_end_keeps_its_place(api: Api) -> None:
    job_of(api)
    last = _follow(api, until=Event.objects.count())[-1]
    page = read(api.get(f"/events?after={last['id']}"))
    assert page["items"] == [] and last["id"] in page["next"]
    job_of(api, external_ref="AF-2")
    told = _follow(api, page["next"], until=1)
    assert [one["type"] for one in told] == ["job.requested"]


def test_a_refused_change_is_no_event(api: Api) -> None:
    job = job_of(api)
    before = Event.objects.count()
    refused(api.put(f"/jobs/{job['id']}", builders.job(purpose="routine")), 428, "revision_required")
    refused(api.post("/jobs", builders.job(purpose="party")), 422, "invalid")
    assert Event.objects.count() == before


@pytest.mark.parametrize("after", ["x", "%00", "1", str(uuid.UUID(int=0))])
def test_a_place_that_is_none_is_refused(api: Api, after: str) -> None:
    refused(api.get(f"/events?after={after}"), 400, "malformed", "/after")


def test_another_firms_events_do_not_exist(api: Api, rival_api: Api) -> None:
    job = job_of(api)
    mine = _follow(api, until=Event.objects.filter(subject=f"jobs/{job['id']}").count())
    theirs = _follow(rival_api)
    assert not {one["id"] for one in mine} & {one["id"] for one in theirs}
    refused(rival_api.get(f"/events?after={mine[-1]['id']}"), 400, "malformed", "/after")


def test_eight_writers_with_long_transactions_and_a_follower_miss_nothing(api: Api, firm: people.Firm) -> None:
    """Numbers given early and committed late must not fall behind a reader's cursor."""
    start, done = Event.objects.count(), threading.Event()
    chance = random.Random(7)
    waits = [chance.choice([0, 0, 0.002, 0.03]) for _ in range(120)]

    def write(number: int) -> None:
        with transaction.atomic():
            data = {"id": uuid.UUID(int=number), "external_ref": None, "revision": number}
            trail.event(organisation=firm.organisation, type="customer.made", subject="tests/1", data=data)
            time.sleep(waits[number])
            trail.event(organisation=firm.organisation, type="customer.changed", subject="tests/1", data=data)

    followed: list[dict[str, Any]] = []
    follower = threading.Thread(target=lambda: followed.extend(_follow_while(api, done, start + 240)))
    follower.start()
    at_once(120, write, threads=8)
    done.set()
    follower.join(timeout=60)
    ids = [one["id"] for one in followed]
    assert len(ids) == len(set(ids)) == start + 240
    pairs = [(one["type"], one["data"]["revision"]) for one in followed if one["subject"] == "tests/1"]
    for number in range(120):  # the two of one transaction stand together, in their order
        first = pairs.index(("customer.made", number))
        assert pairs[first + 1] == ("customer.changed", number)


def _follow_while(api: Api, done: threading.Event, until: int) -> list[dict[str, Any]]:
    items: list[dict[str, Any]] = []
    path, give_up = "http://testserver/api/v1/events?limit=7", time.monotonic() + 45
    try:
        while not (done.is_set() and len(items) >= until) and time.monotonic() < give_up:
            page = read(api.http.get(path))
            items += page["items"]
            path = page["next"] or path
            if not page["items"]:
                time.sleep(0.005)
        return items
    finally:
        connection.close()
