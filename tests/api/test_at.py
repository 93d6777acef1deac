"""`?at=`: any earlier version of a record, shown as it was, byte for byte."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import quote

import pytest
from django.utils import timezone

from tests import builders, people
from tests.api.answers import draft_of, fault_codes, job_of, nothing_changes, plain, read, refused
from tests.client import Api

ANY = {"If-Match": "*"}


class Album:
    """Pictures of addresses: what each answered at a time, to be compared with what `?at=` says of that time."""

    def __init__(self, api: Api) -> None:
        self.api = api
        self.pictures: list[tuple[str, str, Any]] = []

    def take(self, *paths: str) -> None:
        """Remember what these addresses answer now."""
        answers = [(path, self.api.get(path)) for path in paths]
        now = timezone.now().isoformat()
        self.pictures += [(path, now, answer) for path, answer in answers]

    def compare(self) -> None:
        """Hold that every picture is shown again, byte for byte and under its ETag."""
        for path, time, answer in self.pictures:
            again = self.api.get(f"{path}?at={quote(time)}")
            assert again.status_code == 200, (path, again.content)
            assert again.content == answer.content, (json.loads(again.content), json.loads(answer.content))
            assert again.headers["ETag"] == answer.headers["ETag"]


def test_every_version_of_a_run_is_shown_as_it_was(api: Api) -> None:
    job = job_of(api)
    body = plain(builders.run(job["id"])).replace('"counter_end":60', '"counter_end":60.00')
    draft = read(api.post("/runs", body), 201)
    path = f"/runs/{draft['id']}"
    album = Album(api)
    album.take(path)
    assert b"60.00" in api.get(path).content
    line = {"ref": "x", "kind": "foreign_line", "at": 20}
    read(api.patch(path, {"defects": [line], "ended_at": None, "inspector": None}, **ANY))
    album.take(path)
    read(api.post(f"{path}/submit"), 202)
    album.take(path)
    read(api.post(f"{path}/return", {"reasons": ["Fog; film again.", "No start label"]}))
    album.take(path)
    read(api.post(f"{path}/amendments", {"reason": "Read again.", "changes": {"counter_end": 61.5}}), 201)
    album.take(path)
    read(api.post(f"{path}/submit"), 202)
    read(api.post(f"{path}/accept"))
    album.take(path, f"/jobs/{job['id']}")
    album.compare()


def test_every_version_of_a_job_is_shown_with_its_customer_its_property_and_its_runs(api: Api) -> None:
    job = job_of(api)
    path, customer = f"/jobs/{job['id']}", f"/customers/{job['customer']['id']}"
    place = f"/properties/{job['property']['id']}"
    album = Album(api)
    album.take(path, customer, place)
    draft = draft_of(api, job)
    album.take(path)
    read(api.patch(customer, {"phone": "555-0199"}, **ANY))
    read(api.patch(place, {"location": {"lat": 41.50, "lon": -72.1}}, **ANY))
    album.take(path, customer, place)
    assert api.delete(f"/runs/{draft['id']}", **ANY).status_code == 204
    read(api.patch(path, {"customer": None, "customer_id": _customer(api)}, **ANY))
    album.take(path)
    read(api.patch(path, {"state": "done"}, **ANY))
    album.take(path)
    album.compare()


def _customer(api: Api) -> str:
    return str(read(api.post("/customers", {"name": "Wren Fallow"}), 201)["id"])


def test_every_version_of_a_site_and_of_an_access_point_is_shown(api: Api) -> None:
    job = job_of(api)
    site = f"/laterals/{job['property']['laterals'][0]['id']}/site"
    album = Album(api)
    album.take(site)
    read(api.put(site, builders.site()))
    album.take(site)
    read(api.put(site, builders.site(soil="C"), **ANY))
    album.take(site)
    point = {"property": job["property"]["id"], "units": "us", "kind": "clean_out", "size": 4}
    path = f"/access-points/{read(api.post('/access-points', point), 201)['id']}"
    album.take(path)
    read(api.patch(path, {"label": "front clean-out"}, **ANY))
    album.take(path)
    album.compare()


def test_what_was_taken_away_is_shown_as_long_as_it_was_there(api: Api) -> None:
    draft, customer = draft_of(api), f"/customers/{_customer(api)}"
    path = f"/runs/{draft['id']}"
    album = Album(api)
    album.take(path, customer)
    for gone in (path, customer):
        assert api.delete(gone, **ANY).status_code == 204
        refused(api.get(f"{gone}?at={quote(timezone.now().isoformat())}"), 404, "not_found")
    album.compare()


def test_a_record_made_again_under_its_id_counts_its_revisions_anew(api: Api) -> None:
    path = f"/customers/{_customer(api)}"
    read(api.patch(path, {"phone": "555-0199"}, **ANY))
    album = Album(api)
    album.take(path)
    assert api.delete(path, **ANY).status_code == 204
    read(api.put(path, {"name": "Wren Fallow"}), 201)
    album.take(path)
    album.compare()
    assert album.pictures[1][2].headers["ETag"] == '"1"'


@pytest.mark.usefixtures("works")
def test_being_graded_is_no_change_of_a_run(api: Api) -> None:
    draft = draft_of(api)
    read(api.post(f"/runs/{draft['id']}/submit"), 202)
    album = Album(api)
    album.take(f"/runs/{draft['id']}")
    album.compare()


def test_a_time_is_asked_for_in_other_units_too(api: Api) -> None:
    draft = draft_of(api)
    path, now = f"/runs/{draft['id']}", timezone.now().isoformat()
    assert api.get(f"{path}?units=si&at={quote(now)}").content == api.get(f"{path}?units=si").content


def test_before_it_was_made_there_was_nothing(api: Api) -> None:
    before = quote(timezone.now().isoformat())
    draft = draft_of(api)
    job = read(api.get(f"/jobs/{draft['job']}"))
    for path in (
        f"/runs/{draft['id']}",
        f"/jobs/{job['id']}",
        f"/customers/{job['customer']['id']}",
        f"/properties/{job['property']['id']}",
        f"/laterals/{draft['lateral']}/site",
    ):
        refused(api.get(f"{path}?at={before}"), 404, "not_found")


@pytest.mark.parametrize("text", ["yesterday", "2027-03-01", "2027-03-01T10:00:00", "", "2027-02-30T10:00:00Z", "%00"])
def test_a_time_that_is_none_is_refused(api: Api, text: str) -> None:
    job = job_of(api)
    refused(api.get(f"/jobs/{job['id']}?at={text}"), 400, "malformed", "/at")


def test_a_time_to_come_and_a_time_of_a_change_are_refused(api: Api) -> None:
    job = job_of(api)
    problem = refused(api.get(f"/jobs/{job['id']}?at=2100-01-01T00:00:00Z"), 422, "invalid")
    assert fault_codes(problem) == {"/at": "in_the_future"}
    with nothing_changes():
        path = f"/jobs/{job['id']}?at=2026-01-01T00:00:00Z"
        refused(api.patch(path, {"state": "done"}, **ANY), 400, "malformed", "/at")


def test_another_firms_past_does_not_exist(api: Api, rival_api: Api, firm: people.Firm) -> None:
    draft = draft_of(api)
    now = quote(timezone.now().isoformat())
    for path in (f"/runs/{draft['id']}", f"/jobs/{draft['job']}", f"/laterals/{draft['lateral']}/site"):
        refused(rival_api.get(f"{path}?at={now}"), 404, "not_found")
        refused(Api(firm.token("jobs:write")).get(f"{path}?at={now}"), 403, "scope_missing")
