"""The audit trail: one entry for every change, chained, and nobody can alter it unseen."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from inspections.models import AuditEntry, AuditHead
from inspections.services.trail import entry_hash
from tests import builders, people
from tests.api.answers import draft_of, job_of, read, refused, sealed_of
from tests.client import Api
from tests.triggers import without_triggers

STAR = {"If-Match": "*"}

# Each: what makes the record, what changes it, the entries that the change leaves.
CHANGES: list[tuple[str, Callable[[Api], Any], Callable[[Api, Any], Any], list[tuple[str, str]]]] = [
    (
        "a job asked for",
        lambda api: None,
        lambda api, _: api.post("/jobs", builders.job()),
        [("customer", "made"), ("property", "made"), ("lateral", "made"), ("job", "requested")],
    ),
    (
        "a job changed",
        job_of,
        lambda api, job: api.patch(f"/jobs/{job['id']}", {"instructions": "x"}, **STAR),
        [("job", "changed")],
    ),
    (
        "a first run",
        job_of,
        lambda api, job: api.post("/runs", builders.run(job["id"])),
        [("job", "under_way"), ("run", "created")],
    ),
    (
        "a draft changed",
        draft_of,
        lambda api, run: api.patch(f"/runs/{run['id']}", {"inspector": "X"}, **STAR),
        [("run", "changed")],
    ),
    ("a draft taken away", draft_of, lambda api, run: api.delete(f"/runs/{run['id']}", **STAR), [("run", "deleted")]),
    ("a submit", draft_of, lambda api, run: api.post(f"/runs/{run['id']}/submit"), [("run", "submitted")]),
    (
        "an amendment",
        sealed_of,
        lambda api, run: api.post(f"/runs/{run['id']}/amendments", {"reason": "r", "changes": {"inspector": "X"}}),
        [("run", "amended")],
    ),
    ("a run accepted", sealed_of, lambda api, run: api.post(f"/runs/{run['id']}/accept"), [("run", "accepted")]),
    (
        "a run returned",
        sealed_of,
        lambda api, run: api.post(f"/runs/{run['id']}/return", {"reasons": ["r"]}),
        [("run", "returned")],
    ),
    (
        "a site",
        draft_of,
        lambda api, run: api.put(f"/laterals/{run['lateral']}/site", builders.site(), **STAR),
        [("site", "changed")],
    ),
    (
        "a scope asked for",
        sealed_of,
        lambda api, run: api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}),
        [("repair_scope", "requested")],
    ),
    (
        "a customer taken away",
        lambda api: read(api.post("/customers", {"name": "X"}), 201),
        lambda api, row: api.delete(f"/customers/{row['id']}", **STAR),
        [("customer", "deleted")],
    ),
    (
        "a property taken away",
        lambda api: read(api.post("/properties", {"address": {"line1": "X"}}), 201),
        lambda api, row: api.delete(f"/properties/{row['id']}", **STAR),
        [("lateral", "deleted"), ("property", "deleted")],
    ),
]


@pytest.mark.parametrize(("make", "change", "left"), [row[1:] for row in CHANGES], ids=[row[0] for row in CHANGES])
def test_a_change_leaves_one_entry_for_each_record_it_touches(
    api: Api, make: Any, change: Any, left: list[tuple[str, str]]
) -> None:
    row = make(api)
    newest = AuditEntry.objects.latest("id").id
    response = change(api, row)
    assert response.status_code < 300, response.content
    entries = AuditEntry.objects.filter(id__gt=newest).order_by("id")
    assert [(entry.record_type, entry.action) for entry in entries] == left
    for entry in entries:
        assert entry.request_id == response.headers["X-Request-Id"]
        assert (entry.through, entry.actor.split()[0]) == ("api", "token")


def test_an_entry_says_what_stood_before_and_after_and_why(api: Api) -> None:
    run = sealed_of(api)
    asked = {"reason": "The head slipped.", "changes": {"inspector": "Ash Heath"}}
    read(api.post(f"/runs/{run['id']}/amendments", asked), 201)
    page = read(api.get(f"/audit-entries?record_type=run&record_id={run['id']}"))
    assert [(one["number"], one["action"]) for one in page["items"]] == [
        (1, "created"),
        (2, "submitted"),
        (3, "amended"),
    ]
    last = page["items"][-1]
    assert last["reason"] == "The head slipped."
    assert (last["before"]["inspector"], last["after"]["inspector"]) == ("Linden Marsh", "Ash Heath")
    assert last["previous_hash"] == page["items"][1]["hash"]


def test_the_trail_is_read_in_pages_by_who_may(api: Api, rival_api: Api, firm: people.Firm) -> None:
    job = job_of(api)
    path, ids = "/api/v1/audit-entries?limit=3", []
    while path:
        page = read(api.http.get(path))
        ids += [one["id"] for one in page["items"]]
        path = page["next"]
    mine = AuditEntry.objects.filter(organisation=firm.organisation).order_by("id")
    assert ids == list(mine.values_list("id", flat=True))
    refused(Api(firm.token("records:read")).get("/audit-entries"), 403, "scope_missing")
    assert read(rival_api.get(f"/audit-entries?record_id={job['id']}"))["items"] == []
    refused(api.get("/audit-entries?after=x"), 400, "malformed", "/after")


def _verify() -> str:
    out = StringIO()
    call_command("verify_audit", stdout=out)
    return out.getvalue()


def _broken() -> str:
    with pytest.raises(CommandError) as error:
        _verify()
    return str(error.value)


def test_an_untouched_trail_holds(api: Api) -> None:
    sealed_of(api)
    assert _verify().startswith(f"The trail holds: {AuditEntry.objects.count()} entries")


@pytest.mark.parametrize("change", [{"actor": "nobody"}, {"after": "{}"}, {"reason": "x"}, {"action": "made"}])
def test_an_edited_row_is_named(api: Api, change: dict[str, str]) -> None:
    run = sealed_of(api)
    row = AuditEntry.objects.get(record_id=run["id"], number=1)
    with without_triggers():
        AuditEntry.objects.filter(pk=row.pk).update(**change)
    assert f"run {run['id']}, entry 1 (row {row.pk}) content was changed" in _broken()


def test_an_edited_row_with_its_hash_made_anew_is_named_by_the_next(api: Api) -> None:
    run = sealed_of(api)
    row = AuditEntry.objects.get(record_id=run["id"], number=1)
    row.actor = "nobody"
    with without_triggers():
        AuditEntry.objects.filter(pk=row.pk).update(actor="nobody", hash=entry_hash(row))
    assert f"run {run['id']}, entry 2" in _broken()


def test_a_removed_row_is_named(api: Api) -> None:
    run = sealed_of(api)
    with without_triggers():
        AuditEntry.objects.filter(record_id=run["id"], number=1).delete()
    assert f"run {run['id']}" in _broken()


def _copied(row: AuditEntry, **changes: Any) -> AuditEntry:
    """Return a new entry made from another, its hash as it must be."""
    values = {field.name: getattr(row, field.name) for field in AuditEntry._meta.fields if field.name != "id"}
    forged = AuditEntry(**{**values, **changes})
    forged.hash = entry_hash(forged)
    return forged


def test_an_inserted_row_is_named(api: Api) -> None:
    run = sealed_of(api)
    first, second = AuditEntry.objects.filter(record_id=run["id"]).order_by("number")
    with without_triggers():
        AuditEntry.objects.filter(pk=second.pk).update(number=3)
        forged = _copied(first, number=2, previous_hash=first.hash, actor="nobody")
        forged.save(force_insert=True)
    assert f"run {run['id']}, entry 3 (row {second.pk}) does not follow" in _broken()


def test_a_row_put_at_the_end_is_named(api: Api) -> None:
    run = sealed_of(api)
    last = AuditEntry.objects.get(record_id=run["id"], number=2)
    _copied(last, number=3, previous_hash=last.hash, action="accepted").save(force_insert=True)
    assert f"run {run['id']}" in (said := _broken()) and "removed or added" in said


def test_swapped_rows_are_named(api: Api) -> None:
    run = sealed_of(api)
    first, second = AuditEntry.objects.filter(record_id=run["id"]).order_by("number")
    with without_triggers():
        AuditEntry.objects.filter(pk=first.pk).update(number=9)
        AuditEntry.objects.filter(pk=second.pk).update(number=1)
        AuditEntry.objects.filter(pk=first.pk).update(number=2)
    assert f"run {run['id']}, entry 1 (row {second.pk}) does not follow" in _broken()


def test_a_removed_tail_is_named(api: Api) -> None:
    run = sealed_of(api)
    with without_triggers():
        AuditEntry.objects.filter(record_id=run["id"], number=2).delete()
    assert f"run {run['id']}" in (said := _broken()) and "newest entries" in said


def test_a_chain_removed_with_all_its_rows_is_named_by_its_head(api: Api) -> None:
    run = sealed_of(api)
    with without_triggers():
        AuditEntry.objects.filter(record_id=run["id"]).delete()
    assert AuditHead.objects.filter(record_id=run["id"]).exists()
    assert f"run {run['id']}" in _broken()


def test_a_head_taken_back_is_named(api: Api) -> None:
    run = sealed_of(api)
    AuditHead.objects.filter(record_id=run["id"]).delete()
    assert f"run {run['id']}" in _broken()


@pytest.mark.parametrize("statement", ["UPDATE {} SET actor = 'nobody'", "DELETE FROM {}"])
def test_the_database_itself_refuses_to_change_the_trail(api: Api, statement: str) -> None:
    job_of(api)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement.format("inspections_auditentry"))
    _verify()


@pytest.mark.postgresql  # SQLite has no TRUNCATE
def test_the_database_refuses_to_empty_the_trail(api: Api) -> None:
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("TRUNCATE inspections_auditentry")
