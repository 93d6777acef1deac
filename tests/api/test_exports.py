"""Exports: one state of the whole, whatever is written meanwhile; one's own only; harmless to spreadsheets."""

from __future__ import annotations

import csv
import gc
import io
import json
import tracemalloc
from decimal import Decimal
from typing import Any

import pytest

from inspections.api.exports import NAMES
from inspections.models import Customer, Job, Organisation, Property
from inspections.services import exporting
from tests import people
from tests.api.answers import draft_of, fault_codes, job_of, read, refused, sealed_of
from tests.api.bidding import scope_of, sent
from tests.client import Api

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def firm(transactional_db: None) -> people.Firm:
    """The firm, its records committed: an export reads over a connection of its own."""
    return people.firm("Alder Falls Drain Cameras")


@pytest.fixture
def rival(transactional_db: None) -> people.Firm:
    """The other firm."""
    return people.firm("Birch Hollow Pipe Works")


def body_of(response: Any) -> bytes:
    """Read an export to its end, as a client does."""
    assert response.status_code == 200, response.content
    body = b"".join(response.streaming_content)
    response.close()
    return body


def lines(api: Api, name: str) -> list[Any]:
    """Return the documents of an NDJSON export."""
    body = body_of(api.get(f"/exports/{name}"))
    return [json.loads(line, parse_float=Decimal) for line in body.splitlines()]


def table(api: Api, name: str) -> list[dict[str, str]]:
    """Return the rows of a CSV export by their columns."""
    text = body_of(api.get(f"/exports/{name}")).decode()
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_jobs_and_runs_are_exported_as_they_are_read(api: Api) -> None:
    job = job_of(api)
    draft = draft_of(api, job)
    assert lines(api, "jobs.ndjson") == [read(api.get(f"/jobs/{job['id']}"))]
    (run,) = lines(api, "runs.ndjson")
    shown = read(api.get(f"/runs/{draft['id']}"))
    assert run == {name: value for name, value in shown.items() if name != "problems"}


def test_an_export_says_how_many_records_it_reads(api: Api) -> None:
    answer = api.get("/exports/jobs.ndjson")
    assert (answer.headers["Records"], body_of(answer)) == ("0", b"")
    draft_of(api, job_of(api))
    job_of(api, external_ref="AF-2")
    for name, records in (("jobs.csv", "2"), ("defects.ndjson", "1"), ("runs.ndjson", "1")):
        answer = api.get(f"/exports/{name}")
        assert answer.headers["Records"] == records
        body_of(answer)
    answer = api.get("/exports/jobs.ndjson?created_before=2020-01-01T00:00:00Z")
    assert answer.headers["Records"] == "0"
    body_of(answer)


def test_every_defect_is_a_line_with_its_run(api: Api) -> None:
    draft = draft_of(api)
    found = lines(api, "defects.ndjson")
    assert [(one["run"], one["ref"], one["units"]) for one in found] == [(draft["id"], r, "us") for r in "abcd"]
    rows = table(api, "defects.csv")
    assert [(row["kind"], row["at"]) for row in rows][:2] == [("roots", "12"), ("fracture", "27.5")]


@pytest.mark.usefixtures("works")
def test_every_line_of_a_bid_is_a_row_with_what_it_comes_to(api: Api) -> None:
    written = {
        "section": 2,
        "item": "excavation",
        "quantity": 16.7,
        "unit": "cy",
        "unit_price": 36,
        "extension": 621.2,
    }
    bid = sent(api, scope_of(api), lines=[written, {"section": 1, "extension": 400}], bidder="=1+1 Drains")
    (found,) = lines(api, "bids.ndjson")
    assert found == bid
    rows = table(api, "bids.csv")
    shown = [(one["line.number"], one["line.extension"], one["line.corrected"], one["bidder"]) for one in rows]
    assert shown == [("1", "621.2", "601.20", "'=1+1 Drains"), ("2", "400", "400.00", "'=1+1 Drains")]


@pytest.mark.usefixtures("works")
def test_laterals_and_scopes_are_exported_with_what_was_computed(api: Api) -> None:
    run = sealed_of(api)
    read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 3}}), 202)
    (lateral,) = lines(api, "laterals.ndjson")
    assert lateral == read(api.get(f"/laterals/{run['lateral']}?units=si"))
    (scope,) = lines(api, "repair-scopes.ndjson")
    assert scope == read(api.get(f"/repair-scopes/{scope['id']}"))
    assert [row["plan.name"] for row in table(api, "repair-scopes.csv")] == [p["name"] for p in scope["plans"]]
    assert table(api, "laterals.csv")[0]["grading.overall.grade"] == str(lateral["grading"]["overall"]["grade"])


def test_what_is_committed_while_an_export_is_read_is_not_in_it(api: Api) -> None:
    job = job_of(api)
    response: Any = api.get("/exports/jobs.ndjson")
    read(api.patch(f"/jobs/{job['id']}", {"state": "done"}, **{"If-Match": "*"}))
    job_of(api, external_ref="AF-2")
    found = [json.loads(line) for line in body_of(response).splitlines()]
    assert [(one["id"], one["state"]) for one in found] == [(job["id"], "requested")]
    assert len(lines(api, "jobs.ndjson")) == 2


def test_more_records_than_are_read_at_once_come_each_once(api: Api, firm: people.Firm) -> None:
    _many(firm.organisation, 450)
    ids = [one["id"] for one in lines(api, "jobs.ndjson")]
    assert len(ids) == len(set(ids)) == 450


def test_memory_stays_flat_however_many_records_there_are(api: Api, firm: people.Firm) -> None:
    def peak() -> int:
        response: Any = api.get("/exports/jobs.ndjson")
        tracemalloc.start()
        for _ in response.streaming_content:
            gc.collect()  # rows and what was fetched with them hold each other; that is no growth
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        response.close()
        return most

    _many(firm.organisation, 300)
    body_of(api.get("/exports/jobs.ndjson"))
    few = peak()
    _many(firm.organisation, 1500)
    assert peak() < few * 1.5


def _many(organisation: Organisation, count: int) -> None:
    """Have that many jobs made, without their trail."""
    customer = Customer.objects.create(organisation=organisation, name="Rowan Ashby")
    place = Property.objects.create(organisation=organisation, line1="12 Millrace Lane")
    written = '{"window":null}'
    Job.objects.bulk_create(
        Job(organisation=organisation, purpose="routine", customer=customer, property=place, written=written)
        for _ in range(count)
    )


def test_cells_that_a_spreadsheet_would_execute_are_text(api: Api) -> None:
    tricks = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "  =1", "\uff1d1", 'a","=1\r\n=2']
    for n, trick in enumerate(tricks):
        job_of(api, external_ref=f"AF-{n}", instructions=trick)
    shown = {row["external_ref"]: row["instructions"] for row in table(api, "jobs.csv")}
    assert [shown[f"AF-{n}"] for n in range(len(tricks))] == [f"'{trick}" for trick in tricks[:-1]] + tricks[-1:]


def test_a_number_below_zero_stays_a_number_digit_for_digit() -> None:
    assert exporting._csv([[Decimal("-1.50"), None, True, "-1.50"]]) == b"-1.50,,true,'-1.50\r\n"


def test_five_exports_at_once_and_no_sixth(api: Api, rival_api: Api) -> None:
    job_of(api)
    open_ones: list[Any] = [api.get("/exports/jobs.ndjson") for _ in range(5)]
    refusal = api.get("/exports/jobs.ndjson")
    refused(refusal, 429, "too_many_exports")
    assert refusal.headers["Retry-After"] == "5"
    body_of(rival_api.get("/exports/jobs.ndjson"))
    open_ones.pop().close()
    assert len(lines(api, "jobs.ndjson")) == 1
    for one in open_ones:
        one.close()
    assert len(lines(api, "jobs.ndjson")) == 1


def test_an_export_shows_its_own_firm_only_and_needs_to_read(api: Api, rival_api: Api, firm: people.Firm) -> None:
    sealed_of(api)
    for name in NAMES:
        body = body_of(rival_api.get(f"/exports/{name}"))
        assert len(body.splitlines()) == (1 if name.endswith("csv") else 0)
        refused(Api(firm.token("jobs:write")).get(f"/exports/{name}"), 403, "scope_missing")
    refused(Api("pbk_none").get("/exports/jobs.csv"), 401, "not_signed_in")


def test_only_what_was_made_in_a_span_of_time(api: Api) -> None:
    first = job_of(api)
    second = job_of(api, external_ref="AF-2")
    query = f"created_after={first['created_at'].replace('+', '%2B')}"
    found = body_of(api.get(f"/exports/jobs.ndjson?{query}")).splitlines()
    assert [json.loads(line)["id"] for line in found] == [second["id"]]


def test_an_export_nobody_knows_and_parameters_nobody_knows_are_refused(api: Api) -> None:
    for name in ("jobs", "jobs.xml", "tokens.csv", ".csv", "jobs.csv.csv"):
        refused(api.get(f"/exports/{name}"), 404, "not_found")
    problem = refused(api.get("/exports/jobs.csv?created_afer=x"), 400, "malformed")
    assert fault_codes(problem) == {"/created_afer": "unknown_parameter"}
    refused(api.get("/exports/jobs.csv?created_after=x"), 400, "malformed", "/created_after")
