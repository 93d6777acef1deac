"""How long the desk's lists take with many jobs behind them: `python -m tests.bench.desk_lists [jobs]`.

Fills the configured database, which must be an empty one of its own, and prints for every list, search and page of
the desk how many queries it asked and how long it took. Common practice, no source: a list that takes over a second
is one that people stop using.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("PULLBACK_SECOND_FACTOR", "0")  # of loopback; who signs in here is made for it
django.setup()

from django.core.management import call_command  # noqa: E402 # after the settings
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from inspections import exact_json  # noqa: E402
from inspections import models as records  # noqa: E402
from inspections.api.shapes.run import RunShape  # noqa: E402
from inspections.services import organisations  # noqa: E402
from inspections.services.trail import GENESIS  # noqa: E402
from tests import builders  # noqa: E402

NOW = datetime.now(UTC)
HOME = "/admin/inspections"
AT_ONCE = 2000
_LISTS = ("clips", "segments", "features", "defects", "unseen")
_SENT = builders.run("6b0e6d1e-9d5f-4a58-8f0f-0d3f5a9f2c11", **{name: [] for name in _LISTS})
HEAD = RunShape.checked(exact_json.read(exact_json.write(_SENT)))
LISTS = (
    *("customer", "property", "accesspoint", "lateral", "site", "job", "run", "calculation", "auditentry", "event"),
    *("reportlink", "delivery", "subscription", "import", "recomputation", "user"),
)
SEARCHES = (
    "/job/?q=Millrace",
    "/job/?q=AF-77777",
    "/job/?q=nothing-like-it",
    "/job/?state__exact=scheduled&when=coming",
    "/job/?when=no_time&inspector=nobody",
    "/job/?o=-7",
    "/job/?p=900",
    "/run/?q=Marsh",
    "/run/?state__exact=submitted",
    "/property/?q=Millrace+Lane+500",
    "/customer/?q=Household+9",
    "/lateral/?q=Millrace",
    "/auditentry/?q=dispatcher",
    "/auditentry/?record_type=job",
    "/event/?q=job.requested",
    "/delivery/?state__exact=failed",
)


def fill(jobs: int) -> records.User:
    """Make a firm with so many jobs, each with its customer, property, lateral, run and entries; return its keeper."""
    firm = organisations.organisation_create(name="Alder Falls Drain Cameras")
    people = [person(firm, f"inspector-{n}", "inspector") for n in range(8)]
    for first in range(0, jobs, AT_ONCE):
        numbers = range(first, min(first + AT_ONCE, jobs))
        customers = [records.Customer(organisation=firm, name=f"Household {n}", kind="household") for n in numbers]
        properties = [
            records.Property(organisation=firm, line1=f"{n} Millrace Lane", locality="Alder Falls", customer=who)
            for n, who in zip(numbers, customers, strict=True)
        ]
        laterals = [records.Lateral(organisation=firm, property=one, inputs_revision=1) for one in properties]
        asked = [job(firm, n, place, people) for n, place in zip(numbers, properties, strict=True)]
        for rows in (customers, properties, laterals, asked):
            type(rows[0])._default_manager.bulk_create(rows)  # type: ignore[attr-defined]
        records.Site.objects.bulk_create(records.Site(organisation=firm, lateral=one) for one in laterals)
        records.AccessPoint.objects.bulk_create(
            records.AccessPoint(organisation=firm, property=one, kind="clean_out", label="front") for one in properties
        )
        records.Run.objects.bulk_create(map(run, asked, laterals))
        records.AuditEntry.objects.bulk_create(map(entry, asked))
        records.Event.objects.bulk_create(map(event, asked))
        records.Calculation.objects.bulk_create(map(calculation, asked))
    return person(firm, "keeper", "administrator")


def person(firm: records.Organisation, name: str, role: str) -> records.User:
    """Make somebody at the desk."""
    return records.User.objects.create_user(
        name, password="gravel-otter-lantern-41", role=role, organisation=firm, is_staff=True
    )


def job(firm: records.Organisation, n: int, place: records.Property, people: list[records.User]) -> records.Job:
    """Make a job: most are done, some are of the coming days, a few have no time yet."""
    start = NOW + timedelta(hours=n % 400 - 200) if n % 500 == 0 else NOW - timedelta(days=30 + n % 2000)
    is_alive = n % 500 == 0
    document = builders.job(window={"start": start.isoformat(), "end": (start + timedelta(hours=2)).isoformat()})
    return records.Job(
        organisation=firm,
        source="scheduling",
        external_ref=f"AF-{n}",
        purpose="backup",
        state="scheduled" if is_alive else "done",
        window_start=None if n % 5000 == 1 else start,
        window_end=None if n % 5000 == 1 else start + timedelta(hours=2),
        customer=place.customer,
        property=place,
        inspector=people[n % len(people)],
        written=exact_json.write_text(document),
    )


def run(asked: records.Job, lateral: records.Lateral) -> records.Run:
    """Make a run; one in a thousand waits for review."""
    document = {**HEAD, "job": str(asked.pk), "lateral": str(lateral.pk)}
    return records.Run(
        organisation_id=asked.organisation_id,
        job=asked,
        lateral=lateral,
        state="submitted" if int((asked.external_ref or "")[3:]) % 1000 == 0 else "accepted",
        written=exact_json.write_text(document),
        units="us",
        direction="downstream",
        counter_start_m=Decimal(0),
        counter_end_m=Decimal("18.288"),
        reached="main",
        inspector="Linden Marsh",
        started_at=asked.window_start,
        submitted_at=NOW,
    )


def entry(asked: records.Job) -> records.AuditEntry:
    """Make an entry of the trail as heavy as a real one."""
    return records.AuditEntry(
        organisation_id=asked.organisation_id,
        record_type="job",
        record_id=str(asked.pk),
        number=1,
        at=NOW,
        actor="user dispatcher",
        through="admin",
        action="requested",
        before="null",
        after=asked.written,
        previous_hash=GENESIS,
        hash=GENESIS,
    )


def event(asked: records.Job) -> records.Event:
    """Make an event."""
    return records.Event(
        organisation_id=asked.organisation_id,
        transaction=1,
        type="job.requested",
        time=NOW,
        subject=f"jobs/{asked.pk}",
        data="{}",
    )


def calculation(asked: records.Job) -> records.Calculation:
    """Make work that ended; one in ten thousand failed."""
    is_bad = int((asked.external_ref or "")[3:]) % 10_000 == 0
    return records.Calculation(
        organisation_id=asked.organisation_id,
        kind="grade_run",
        subject=asked.pk,
        subject_revision=1,
        rules_version="1",
        state="failed" if is_bad else "done",
    )


def measured(keeper: records.User) -> Iterator[tuple[str, int, float, float]]:
    """Yield for each page its queries, its milliseconds (the better of two), and those of its slowest query."""
    client = Client(headers={"host": "127.0.0.1"})
    client.force_login(keeper)
    pages = ["/admin/desk/", *(f"{HOME}/{one}/" for one in LISTS), *(f"{HOME}{one}" for one in SEARCHES)]
    newest = records.Job.objects.latest("created_at")
    pages += [f"{HOME}/job/{newest.pk}/change/", f"{HOME}/job/{newest.pk}/history/", f"{HOME}/job/add/"]
    pages += ["/admin/autocomplete/?term=9&app_label=inspections&model_name=job&field_name=customer"]
    for page in pages:
        times = []
        for _ in range(2):
            with CaptureQueriesContext(connection) as asked:
                began = time.perf_counter()
                answer = client.get(page)
                times.append((time.perf_counter() - began) * 1000)
        slowest = max((float(one["time"]) for one in asked.captured_queries), default=0.0)
        yield f"{answer.status_code} {page}", len(asked), min(times), slowest * 1000


def main(jobs: int) -> None:
    """Fill, measure, print."""
    call_command("migrate", verbosity=0)
    began = time.perf_counter()
    keeper = records.User.objects.filter(username="keeper").first() or fill(jobs)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET statement_timeout = 0")
            cursor.execute("ANALYZE")
            cursor.execute("SET statement_timeout = 5000")
    print(f"{records.Job.objects.count()} jobs on {connection.vendor}, {time.perf_counter() - began:.0f} s to make")
    print(f"{'queries':>7} {'ms':>7} {'slowest':>8}  page")
    slow: list[Any] = []
    for page, queries, ms, slowest in measured(keeper):
        print(f"{queries:7} {ms:7.0f} {slowest:8.0f}  {page}", flush=True)
        slow += [page] if ms > 1000 else []
    print("over a second:", ", ".join(slow) or "none")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
