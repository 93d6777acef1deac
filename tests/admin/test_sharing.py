"""Sharing a report at the desk: shown once, by who plans, watched and withdrawn there."""

from __future__ import annotations

import html
import re

import pytest
from django.test import Client

from inspections.models import AuditEntry, Job, Lateral, ReportLink, User
from tests import people
from tests.admin.conftest import desk, everything, person
from tests.audited import one_entry_each
from tests.client import Api


@pytest.fixture
def lateral(works: None, api: Api) -> Lateral:
    row = everything(api)
    row.refresh_from_db()
    return row


def share(client: Client, lateral: Lateral, **typed: str) -> str:
    """Have a link made and return the page that shows it."""
    page = client.post(f"/admin/inspections/lateral/{lateral.pk}/share/", {"valid_days": "14", **typed})
    assert page.status_code == 200
    return html.unescape(page.content.decode())


def test_a_dispatcher_makes_a_link_that_opens_and_is_shown_once(dispatcher: Client, lateral: Lateral) -> None:
    assert "Share the report" in dispatcher.get(f"/admin/inspections/lateral/{lateral.pk}/change/").content.decode()
    with one_entry_each("admin"):
        page = share(dispatcher, lateral, note="Rowan Ashby", plan="least_digging")
    url = re.search(r"http://testserver(/reports/pbr_[A-Za-z0-9_-]+)", page)
    assert url
    with one_entry_each("link"):
        assert Client().get(url[1]).status_code == 200
    row = ReportLink.objects.latest("created_at")
    assert (row.note, row.plan, row.made_by) == ("Rowan Ashby", "least_digging", "user dispatcher")
    shown = dispatcher.get(f"/admin/inspections/reportlink/{row.pk}/change/").content.decode()
    history = dispatcher.get(f"/admin/inspections/reportlink/{row.pk}/history/").content.decode()
    listed = dispatcher.get("/admin/inspections/reportlink/").content.decode()
    assert "opened" in history and "report link" in history
    assert not [one for one in (shown, history, listed) if url[1] in one]


def test_what_cannot_be_is_said_and_makes_nothing(dispatcher: Client, lateral: Lateral) -> None:
    before = ReportLink.objects.count()
    for typed in ({"valid_days": "0"}, {"valid_days": "400"}, {"plan": "dearest"}, {"note": "x" * 201}):
        assert "errorlist" in share(dispatcher, lateral, **typed), typed
    assert ReportLink.objects.count() == before


def test_a_dispatcher_withdraws_a_link(dispatcher: Client, lateral: Lateral) -> None:
    row = ReportLink.objects.get()
    dispatcher.post("/admin/inspections/reportlink/", {"action": "revoke", "_selected_action": [str(row.pk)]})
    row.refresh_from_db()
    assert row.state == "revoked"
    entry = AuditEntry.objects.filter(record_type="report_link", record_id=str(row.pk)).latest("number")
    assert (entry.action, entry.actor, entry.through) == ("revoked", "user dispatcher", "admin")


def test_an_auditor_watches_links_and_an_inspector_does_not(
    firm: people.Firm, auditor: Client, inspector: User, lateral: Lateral
) -> None:
    row, address = ReportLink.objects.get(), f"/admin/inspections/lateral/{lateral.pk}/share/"
    Job.objects.update(inspector=inspector)
    assert auditor.get("/admin/inspections/reportlink/").status_code == 200
    assert desk(inspector).get("/admin/inspections/reportlink/").status_code == 403
    for client in (auditor, desk(inspector)):
        assert (
            "Share the report" not in client.get(f"/admin/inspections/lateral/{lateral.pk}/change/").content.decode()
        )
        assert client.post(address, {"valid_days": "14"}).status_code == 403
        client.post("/admin/inspections/reportlink/", {"action": "revoke", "_selected_action": [str(row.pk)]})
    row.refresh_from_db()
    assert row.state == "open" and ReportLink.objects.count() == 1


def test_another_firms_lateral_is_not_shared(rival: people.Firm, lateral: Lateral) -> None:
    stranger = desk(person(rival, "dispatcher", "stranger"))
    answer = stranger.post(f"/admin/inspections/lateral/{lateral.pk}/share/", {"valid_days": "14"})
    assert answer.status_code == 404
