"""Each role sees and does only what is theirs; what is sealed or computed nobody edits; nobody deletes."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from inspections import models as records
from inspections.models import Calculation, Job, Run, User
from tests import builders, people
from tests.admin.conftest import desk, everything, made, person
from tests.admin.test_pages_open import address, pages
from tests.client import Api

SEALED = set(pages()) - {
    records.Customer,
    records.Property,
    records.AccessPoint,
    records.Job,
    records.User,
    records.AuditHead,
}
HIDDEN = {
    "dispatcher": ["auditentry", "event", "keptanswer", "apitoken", "user", "organisation"],
    "inspector": ["auditentry", "event", "keptanswer", "apitoken", "user", "organisation", "calculation"],
    "auditor": ["organisation"],
}


@pytest.mark.parametrize("role", HIDDEN)
def test_what_is_not_a_roles_business_is_closed_to_it(firm: people.Firm, role: str) -> None:
    client = desk(person(firm, role))
    for name in HIDDEN[role]:
        assert client.get(f"/admin/inspections/{name}/").status_code == 403, name
    index = client.get("/admin/").content.decode()
    assert not [name for name in HIDDEN[role] if f"/admin/inspections/{name}/" in index]


@pytest.mark.parametrize("role", ["dispatcher", "inspector", "auditor"])
def test_who_may_not_make_or_change_gets_no_form(firm: people.Firm, job: Job, role: str) -> None:
    client = desk(person(firm, role))
    closed = ["user", "ratebook", "organisation"]
    closed += ["customer", "property", "job"] if role != "dispatcher" else []
    for name in closed:
        assert client.post(f"/admin/inspections/{name}/add/", {"name": "x"}).status_code == 403, name
    if role != "dispatcher":
        page = f"/admin/inspections/customer/{job.customer_id}/change/"
        assert client.post(page, {"name": "x", "kind": "household"}).status_code in (302, 403)
        job.customer.refresh_from_db()
        assert job.customer.name == "Rowan Ashby"


def test_nobody_edits_what_is_sealed_or_computed(works: None, api: Api, administrator: Client) -> None:
    everything(api)
    for model in SEALED:
        row = model._default_manager.first()
        page = address(model, "change", row.pk)
        shown = administrator.get(page).content.decode()
        assert not re.search(r"<(textarea|select)|<input type=.(text|number|checkbox)|_save", shown), model
        assert administrator.post(page, {"state": "draft", "name": "x"}).status_code == 403, model


@pytest.mark.parametrize("role", ["administrator", "dispatcher"])
def test_nobody_deletes(works: None, api: Api, firm: people.Firm, role: str) -> None:
    everything(api)
    client = desk(person(firm, role))
    for model in set(pages()) - {records.AuditHead}:
        row = model._default_manager.first()
        assert client.post(address(model, "delete", row.pk), {"post": "yes"}).status_code in (302, 403), model
        assert model._default_manager.filter(pk=row.pk).exists(), model
        chosen = {"action": "delete_selected", "_selected_action": [row.pk], "post": "yes"}
        client.post(address(model, "changelist"), chosen)
        assert model._default_manager.filter(pk=row.pk).exists(), model


def test_an_inspector_sees_only_what_belongs_to_their_jobs(
    api: Api, firm: people.Firm, job: Job, inspector: User, rung: list[str]
) -> None:
    other = made(
        api.post(
            "/jobs",
            builders.job(external_ref="AF-2", customer={"name": "Fern Abbot"}, property=_house("9 Weir Street")),
        )
    )
    Job.objects.filter(pk=job.pk).update(inspector=inspector)
    for id in (str(job.pk), other["id"]):
        made(api.post("/runs", builders.run(id)))
    client = desk(inspector)
    for model in (records.Job, records.Run, records.Customer, records.Property, records.Lateral):
        listed = list(client.get(address(model, "changelist")).context["cl"].result_list)
        assert len(listed) == 1, model
    assert client.get(f"/admin/inspections/job/{other['id']}/change/").status_code == 302


def _house(line1: str) -> dict[str, Any]:
    return {"address": {"line1": line1, "locality": "Alder Falls"}}


def test_an_inspector_says_how_far_a_job_is_and_nothing_else(job: Job, inspector: User) -> None:
    Job.objects.filter(pk=job.pk).update(inspector=inspector)
    client = desk(inspector)
    page = f"/admin/inspections/job/{job.pk}/change/"
    assert set(client.get(page).context["adminform"].form.fields) == {"state", "seen_revision"}
    sent = {"state": "under_way", "seen_revision": job.revision, "instructions": "Leave it.", "inspector": ""}
    assert client.post(page, sent).status_code == 302
    job.refresh_from_db()
    assert (job.state, job.instructions) == ("under_way", "Clean-out behind the hydrangea.")
    assert job.inspector == inspector


@pytest.mark.parametrize("role", ["dispatcher", "inspector"])
def test_only_who_reviews_may_accept(firm: people.Firm, run: Run, role: str) -> None:
    person_ = person(firm, role)
    Job.objects.update(inspector=person_)
    client = desk(person_)
    page = f"/admin/inspections/run/{run.pk}/review/"
    assert client.post(page, {"verdict": "accepted", "seen_revision": run.revision}).status_code == 403
    assert "Accept or return" not in client.get(f"/admin/inspections/run/{run.pk}/change/").content.decode()
    run.refresh_from_db()
    assert run.state == "submitted"


def test_an_auditor_looks_at_failed_work_and_does_not_run_it_again(failed: Calculation, auditor: Client) -> None:
    assert auditor.post(f"/admin/inspections/calculation/{failed.pk}/again/").status_code == 403
    assert b"Run it again" not in auditor.get(f"/admin/inspections/calculation/{failed.pk}/change/").content


def test_an_auditor_revokes_no_token(firm: people.Firm, auditor: Client) -> None:
    firm.token()
    row = records.ApiToken.objects.get()
    auditor.post("/admin/inspections/apitoken/", {"action": "revoke", "_selected_action": [row.pk]})
    row.refresh_from_db()
    assert row.revoked_at is None


def test_nobody_acts_on_another_organisations_records(
    failed: Calculation, rival: people.Firm, firm: people.Firm
) -> None:
    firm.token()
    row = records.ApiToken.objects.filter(organisation=firm.organisation).latest("created_at")
    theirs = desk(person(rival, "administrator", "rival_administrator"))
    assert theirs.post(f"/admin/inspections/calculation/{failed.pk}/again/").status_code == 404
    review = {"verdict": "accepted", "seen_revision": 2}
    assert theirs.post(f"/admin/inspections/run/{failed.subject}/review/", review).status_code == 404
    theirs.post("/admin/inspections/apitoken/", {"action": "revoke", "_selected_action": [row.pk]})
    theirs.post("/admin/inspections/calculation/", {"action": "run_again", "_selected_action": [failed.pk]})
    row.refresh_from_db()
    failed.refresh_from_db()
    assert (row.revoked_at, failed.state) == (None, "failed")
    assert Run.objects.get(pk=failed.subject).state == "submitted"


def test_passwords_are_not_guessed_through_the_address_of_a_list(job: Job, dispatcher: Client) -> None:
    probing = {"inspector__password__startswith": "pbkdf2"}
    assert dispatcher.get("/admin/inspections/job/", probing).status_code == 400
