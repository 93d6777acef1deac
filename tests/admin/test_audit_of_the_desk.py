"""Whatever is done at the desk, by a command or by a worker: one entry for each record it changes."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client

from inspections import exact_json
from inspections.admin import roles
from inspections.models import ApiToken, AuditEntry, Calculation, Delivery, Job, Organisation, ReportLink, Run, User
from inspections.services import work
from scoring import scope
from tests import builders, people
from tests.admin.conftest import PASSWORD, desk, everything, made, person
from tests.admin.test_changes import typed
from tests.audited import one_entry_each
from tests.client import Api

BASE = "/admin/inspections"
NEW = "heron-copper-quarry-12"
Do = Callable[[Client, Job], Any]


def _add(kind: str, /, **typed_in: Any) -> Do:
    return lambda client, job: client.post(f"{BASE}/{kind}/add/", typed_in)


def _change(kind: str, key: Callable[[Job], Any], /, **typed_in: Any) -> Do:
    def do(client: Client, job: Job) -> Any:
        page = f"{BASE}/{kind}/{key(job)}/change/"
        return client.post(page, typed(client, page, **typed_in))

    return do


def _act(kind: str, action: str, key: Callable[[], Any]) -> Do:
    return lambda client, job: client.post(f"{BASE}/{kind}/", {"action": action, "_selected_action": [key()]})


def _review(verdict: str) -> Do:
    def do(client: Client, job: Job) -> Any:
        run = Run.objects.get(state="submitted")
        sent = {"verdict": verdict, "reasons": "too dark", "seen_revision": run.revision}
        return client.post(f"{BASE}/run/{run.pk}/review/", sent)

    return do


def _rates(client: Client, job: Job) -> Any:
    text = exact_json.write_text({**scope.DEFAULT_RATE_BOOK, "version": "9"})
    return client.post(f"{BASE}/ratebook/add/", {"pasted": text, "is_default": "on"})


def _somebody() -> Any:
    return User.objects.get(username="inspector").pk


SECRET = {"usable_password": "true", "password1": NEW, "password2": NEW}

DONE: dict[str, Do] = {
    "a customer made": _add("customer", name="Ivy Calder", kind="household"),
    "a customer changed": _change("customer", lambda job: job.customer_id, phone="555-0199"),
    "a customer erased": lambda client, job: client.post(
        f"{BASE}/customer/{job.customer_id}/erase/", {"reason": "asked for", "is_meant": "on"}
    ),
    "a property made": _add("property", line1="3 Tannery Row"),
    "a property changed": _change("property", lambda job: job.property_id, year_built="1950"),
    "an access point made": lambda client, job: client.post(
        f"{BASE}/accesspoint/add/", {"property": job.property_id, "kind": "clean_out", "label": "x", "units": "us"}
    ),
    "a job asked for": lambda client, job: client.post(
        f"{BASE}/job/add/",
        {"external_ref": "D-1", "purpose": "routine", "customer": job.customer_id, "property": job.property_id},
    ),
    "a job changed": _change("job", lambda job: job.pk, instructions="Ring twice."),
    "a run accepted": _review("accepted"),
    "a run returned": _review("returned"),
    "a rate book loaded": _rates,
    "a person made": _add("user", username="fern", role="auditor", **SECRET),
    "a person changed": _change("user", lambda job: _somebody(), role="auditor"),
    "a password set": lambda client, job: client.post(
        f"{BASE}/user/{_somebody()}/password/", {**SECRET, "set-password": "1"}
    ),
    "one's own password changed": lambda client, job: client.post(
        "/admin/password_change/", {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW}
    ),
    "a token revoked": _act("apitoken", "revoke", lambda: ApiToken.objects.latest("created_at").pk),
    "a link withdrawn": _act("reportlink", "revoke", lambda: ReportLink.objects.get().pk),
    "a calculation run again": _act("calculation", "run_again", lambda: Calculation.objects.get(state="failed").pk),
    "a delivery sent again": _act("delivery", "replay", lambda: Delivery.objects.get(state="failed").pk),
}


@pytest.fixture
def filled(firm: people.Firm, api: Api, works: None, inspector: User) -> Job:
    """A record of every kind, something that failed, something to review."""
    everything(api)
    Delivery.objects.update(state="failed")
    row = Calculation.objects.filter(kind="grade_run").first()
    assert row
    Calculation.objects.filter(pk=row.pk).update(state="failed", attempts=5, error="x")
    return Job.objects.get()


@pytest.mark.parametrize("what", DONE)
def test_what_is_done_at_the_desk_leaves_one_entry_for_each_record(
    firm: people.Firm, filled: Job, administrator: Client, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("inspections.services.calculations.ring", lambda id: None)
    with one_entry_each("admin"):
        answer = DONE[what](administrator, filled)
        assert answer.status_code == 302, answer.content[:3000]


def test_every_right_to_write_at_the_desk_is_used_above() -> None:
    done = " ".join(DONE)
    words = {
        "User": "person",
        "RateBook": "rate book",
        "ApiToken": "token",
        "ReportLink": "link",
        "AccessPoint": "access point",
        "GradingScheme": "rate book",  # one page and one service for all versioned kinds
        "RuleSet": "rate book",
        "CodeMap": "rate book",
    }
    watched = {"AuditEntry", "AuditHead", "Event", "KeptAnswer"}  # act: verify, which changes nothing
    for model, rights in roles.RIGHTS.items():
        if (rights.add or rights.change or rights.act) and model.__name__ not in watched:
            assert words.get(model.__name__, model.__name__.lower()) in done, model


def test_whoever_runs_the_service_leaves_an_entry_too(db: None) -> None:
    above = desk(person(None, "administrator", "warden", is_superuser=True))
    sent = {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW}
    with one_entry_each("admin"):
        assert above.post("/admin/password_change/", sent).status_code == 302


def test_commands_leave_one_entry_for_each_record(db: None) -> None:
    said = StringIO()
    with one_entry_each("command", least=3):
        call_command("token", organisation="Cedar Gap Drains", create=True, stdout=said)
    with one_entry_each("command"):
        call_command("administrator", organisation="Cedar Gap Drains", username="warden", stdout=said)
    assert Organisation.objects.filter(name="Cedar Gap Drains").exists()
    for command in ("verify_audit", "anchor_audit"):
        with one_entry_each("command", least=0):
            call_command(command, stdout=said)


def test_a_worker_leaves_one_entry_for_each_result(api: Api, firm: people.Firm, rung: list[str]) -> None:
    job = made(api.post("/jobs", builders.job()))
    run = made(api.post("/runs", builders.run(job["id"])))
    submitted = api.post(f"/runs/{run['id']}/submit", **{"X-Request-Id": "who-asked"})
    made(submitted)
    told = []
    while waiting := list(Calculation.objects.filter(state="queued").values_list("id", flat=True)):
        for id in waiting:
            newest = AuditEntry.objects.latest("id").id
            work.perform(id)
            work.perform(id)  # a doubled ring writes nothing again
            entries = AuditEntry.objects.filter(id__gt=newest)
            told += [(one.record_type, one.action, one.through, one.request_id) for one in entries]
    assert told == [
        ("run", "graded", "worker", "who-asked"),
        ("lateral", "graded", "worker", "who-asked"),
    ]
