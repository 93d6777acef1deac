"""A customer's personal data are erased on request: nowhere in the database any more, and the trail still holds."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from inspections.models import AuditEntry, Customer, Job, KeptAnswer, PersonalValue
from inspections.verify_trail import DoesNotHold, verify
from tests import builders, people
from tests.admin.conftest import desk, person
from tests.api.answers import job_of, read, refused
from tests.api.test_trail_export import exported
from tests.client import Api

PERSON = {"external_ref": "C-9", "name": "Tansy Quillfeather", "email": "tansy@quill.example", "phone": "555-0177"}
TELLING = ("Quillfeather", "tansy@quill", "555-0177", "Ring for Tansy")
WHY = {"reason": "Asked for in writing."}


@pytest.fixture
def admin(firm: people.Firm) -> Api:
    return Api(firm.token("admin"))


@pytest.fixture
def job(api: Api, works: None) -> dict[str, Any]:
    """A job of the person, with a run graded and a change, and the same customer shown in a batch."""
    job = job_of(api, customer=PERSON, instructions="Ring for Tansy at the side door.")
    star = {"If-Match": "*"}
    read(api.patch(f"/jobs/{job['id']}", {"purpose": "routine"}, **star))
    read(api.patch(f"/customers/{job['customer']['id']}", {"phone": "555-01770"}, **star))
    run = read(api.post("/runs", builders.run(job["id"])), 201)
    read(api.post(f"/runs/{run['id']}/submit"), 202)
    entry = {"method": "POST", "path": "/jobs", "body": builders.job(external_ref="AF-B", customer=PERSON)}
    read(api.post("/batches", {"mode": "atomic", "entries": [{**entry, "headers": {"Idempotency-Key": "b-1"}}]}))
    return {**job, "run": run["id"]}


def every_text() -> Iterator[tuple[str, str]]:
    """Yield every value of every table of the database, as text."""
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            for row in cursor.fetchall():
                for value in row:
                    raw = bytes(value) if isinstance(value, bytes | memoryview) else str(value).encode()
                    yield table, raw.decode("utf-8", "replace")


def tables_that_tell() -> set[str]:
    return {table for table, text in every_text() if any(word in text for word in TELLING)}


def verified() -> str:
    out = StringIO()
    call_command("verify_audit", stdout=out)
    return out.getvalue()


def test_nothing_in_the_database_tells_of_an_erased_person_and_the_trail_holds(
    api: Api, admin: Api, job: dict[str, Any]
) -> None:
    id = job["customer"]["id"]
    told = tables_that_tell()
    assert {"inspections_customer", "inspections_job", "inspections_keptanswer", "inspections_personalvalue"} <= told
    assert "inspections_auditentry" not in told  # the chained rows never held it
    chain_before = list(AuditEntry.objects.order_by("id").values_list("hash", flat=True))
    erased = read(admin.post(f"/customers/{id}/erase", WHY))
    assert (erased["name"], erased["email"], erased["phone"]) == ("(erased)", None, None)
    assert erased["erased_at"]
    assert tables_that_tell() == set()
    assert verified().startswith("The trail holds")
    assert list(AuditEntry.objects.order_by("id").values_list("hash", flat=True))[: len(chain_before)] == chain_before
    count = AuditEntry.objects.count()
    assert verify(exported(api))[0] == count


def test_what_was_seen_and_graded_stays(api: Api, admin: Api, job: dict[str, Any]) -> None:
    run, grading = api.get(f"/runs/{job['run']}").content, api.get(f"/runs/{job['run']}/grading").content
    read(admin.post(f"/customers/{job['customer']['id']}/erase", WHY))
    assert api.get(f"/runs/{job['run']}").content == run
    assert api.get(f"/runs/{job['run']}/grading").content == grading
    shown = read(api.get(f"/jobs/{job['id']}"))
    assert (shown["customer"]["name"], shown["instructions"]) == ("(erased)", None)
    assert shown["property"]["address"]["line1"] == "12 Millrace Lane"


def test_the_trail_says_who_erased_and_why_and_shows_what_is_left(api: Api, admin: Api, job: dict[str, Any]) -> None:
    id = job["customer"]["id"]
    entries = read(api.get(f"/customers/{id}/history"))["items"]
    assert entries[0]["after"]["name"] == "Tansy Quillfeather"  # read back until it is erased
    read(admin.post(f"/customers/{id}/erase", WHY))
    entries = read(api.get(f"/customers/{id}/history"))["items"]
    assert [one["action"] for one in entries] == ["made", "changed", "erased"]
    assert (entries[-1]["reason"], entries[-1]["through"]) == ("Asked for in writing.", "api")
    assert [entries[0]["after"][name] for name in ("name", "phone", "kind")] == ["(erased)", None, "household"]
    of_job = read(api.get(f"/jobs/{job['id']}/history"))["items"]
    assert of_job[-1]["action"] == "erased"
    assert of_job[0]["after"]["customer"]["name"] == "(erased)"
    then = read(api.get(f"/customers/{id}?at={entries[0]['at']}"))
    assert (then["name"], then["erased_at"]) == ("(erased)", None)
    assert read(api.get(f"/jobs/{job['id']}?at={of_job[0]['at']}"))["instructions"] is None


def test_a_blind_retry_after_the_erasure_does_nothing_twice_and_brings_nobody_back(api: Api, admin: Api) -> None:
    sent = {**PERSON, "external_ref": None}
    made = read(api.post("/customers", sent, key="k-1"), 201)
    read(admin.post(f"/customers/{made['id']}/erase", WHY))
    again = read(api.post("/customers", sent, key="k-1"), 201)
    assert (again["id"], again["name"], again["phone"]) == (made["id"], "(erased)", None)
    assert Customer.objects.count() == 1
    assert not KeptAnswer.objects.filter(key="k-1").exclude(fingerprint="").exists()


def test_an_erased_customer_is_not_filled_in_again(api: Api, admin: Api, job: dict[str, Any]) -> None:
    id, star = job["customer"]["id"], {"If-Match": "*"}
    read(admin.post(f"/customers/{id}/erase", WHY))
    refused(api.put(f"/customers/{id}", {**PERSON, "kind": "household"}, **star), 409, "customer_erased")
    refused(api.patch(f"/customers/{id}", {"phone": "555-0177"}, **star), 409, "customer_erased")
    refused(api.post("/jobs", builders.job(external_ref="AF-7", customer=PERSON)), 409, "customer_erased")
    refused(api.patch(f"/jobs/{job['id']}", {"customer": PERSON}, **star), 409, "customer_erased")
    assert tables_that_tell() == set()
    read(api.patch(f"/jobs/{job['id']}", {"state": "done"}, **star))  # the job itself goes on


def test_erasing_again_changes_nothing(api: Api, admin: Api, job: dict[str, Any]) -> None:
    id = job["customer"]["id"]
    first = read(admin.post(f"/customers/{id}/erase", WHY))
    count = AuditEntry.objects.count()
    assert read(admin.post(f"/customers/{id}/erase", WHY)) == first
    assert AuditEntry.objects.count() == count


def test_a_customer_that_was_taken_away_is_erased_from_the_trail(api: Api, admin: Api) -> None:
    made = read(api.post("/customers", PERSON), 201)
    assert api.delete(f"/customers/{made['id']}", **{"If-Match": "*"}).status_code == 204
    assert "inspections_personalvalue" in tables_that_tell()
    assert admin.post(f"/customers/{made['id']}/erase", WHY).status_code == 204
    assert tables_that_tell() == set()
    assert verified().startswith("The trail holds")
    refused(admin.post(f"/customers/{made['id']}/erase", WHY), 404, "not_found")


def test_another_customer_keeps_what_is_theirs(api: Api, admin: Api, job: dict[str, Any]) -> None:
    other = read(api.post("/customers", {"name": "Fern Abbot", "phone": "555-0100"}), 201)
    read(api.patch(f"/jobs/{job['id']}", {"customer": None, "customer_id": other["id"]}, **{"If-Match": "*"}))
    read(admin.post(f"/customers/{job['customer']['id']}/erase", WHY))
    assert read(api.get(f"/customers/{other['id']}/history"))["items"][0]["after"]["phone"] == "555-0100"


def test_only_an_administrator_of_the_organisation_erases(
    api: Api, rival: people.Firm, job: dict[str, Any], admin: Api
) -> None:
    path = f"/customers/{job['customer']['id']}/erase"
    refused(api.post(path, WHY), 403, "scope_missing")
    refused(Api(rival.token("admin")).post(path, WHY), 404, "not_found")
    refused(admin.post(path, {}), 422, "invalid", "/reason")
    refused(admin.post(f"/customers/{uuid.uuid4()}/erase", WHY), 404, "not_found")
    refused(admin.post(path, WHY, **{"If-Match": '"1"'}), 412, "revision_stale")
    assert Customer.objects.get(pk=job["customer"]["id"]).erased_at is None


def test_a_personal_value_lost_or_changed_without_an_erasure_is_named(api: Api, job: dict[str, Any]) -> None:
    value = PersonalValue.objects.filter(value="Tansy Quillfeather").first()
    assert value
    PersonalValue.objects.filter(pk=value.pk).update(value="Somebody Else")
    with pytest.raises(CommandError, match="personal value that was changed"):
        verified()
    value.delete()
    with pytest.raises(CommandError, match="lost a personal value"):
        verified()


def test_a_personal_value_changed_in_an_export_is_told(api: Api, job: dict[str, Any]) -> None:
    lines = exported(api)
    assert any("Tansy Quillfeather" in line for line in lines)
    verify(lines)
    with pytest.raises(DoesNotHold, match="personal value"):
        verify([line.replace("Tansy Quillfeather", "Somebody Else") for line in lines])
    without = [json.dumps({k: v for k, v in json.loads(line).items() if k != "opened"}) for line in lines]
    assert verify(without)[0] == len(lines) - 1  # who gets the trail without the persons verifies it all the same


def test_an_administrator_erases_at_the_desk(firm: people.Firm, job: dict[str, Any]) -> None:
    id = job["customer"]["id"]
    page, administrator = f"/admin/inspections/customer/{id}/erase/", desk(person(firm, "administrator"))
    assert b"Erase personal data" in administrator.get(f"/admin/inspections/customer/{id}/change/").content
    assert administrator.post(page, {"is_meant": "on"}).status_code == 200  # no reason yet
    assert administrator.post(page, {"reason": "Asked for.", "is_meant": "on"}).status_code == 302
    assert tables_that_tell() == set()
    entry = AuditEntry.objects.filter(record_type="customer", action="erased").get()
    assert (entry.through, entry.actor, entry.reason) == ("admin", "user administrator", "Asked for.")
    shown = administrator.get(f"/admin/inspections/customer/{id}/history/").content.decode()
    assert "(erased)" in shown and not any(word in shown for word in TELLING)
    assert b"Erase personal data" not in administrator.get(f"/admin/inspections/customer/{id}/change/").content


@pytest.mark.parametrize("role", ["dispatcher", "inspector", "auditor"])
def test_nobody_else_at_the_desk_erases(firm: people.Firm, job: dict[str, Any], role: str) -> None:
    who = person(firm, role)
    Job.objects.update(inspector=who)
    page = f"/admin/inspections/customer/{job['customer']['id']}/erase/"
    assert desk(who).post(page, {"reason": "x", "is_meant": "on"}).status_code == 403
    assert Customer.objects.get(pk=job["customer"]["id"]).erased_at is None


def test_the_desk_keeps_no_second_log_of_names(firm: people.Firm) -> None:
    desk(person(firm, "dispatcher")).post(
        "/admin/inspections/customer/add/", {"name": "Tansy Quillfeather", "kind": "household"}
    )
    assert "django_admin_log" not in tables_that_tell()
