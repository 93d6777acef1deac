"""Reviewing runs, running failed work again, checking the trail, the drawing and the report."""

from __future__ import annotations

from django.test import Client

from inspections import exact_json
from inspections.models import AuditEntry, Calculation, Delivery, Event, Run
from tests import people
from tests.admin.conftest import everything
from tests.client import Api

RUNS = "/admin/inspections/run"


def test_accepting_a_run_leaves_an_entry_and_an_event(run: Run, auditor: Client) -> None:
    answer = auditor.post(f"{RUNS}/{run.pk}/review/", {"verdict": "accepted", "seen_revision": run.revision})
    assert answer.status_code == 302
    run.refresh_from_db()
    assert (run.state, run.review_reasons) == ("accepted", [])
    entry = AuditEntry.objects.latest("id")
    assert (entry.record_id, entry.action, entry.actor) == (str(run.pk), "accepted", "user auditor")
    event = Event.objects.latest("number")
    assert (event.type, event.subject) == ("run.accepted", f"runs/{run.pk}")


def test_returning_a_run_takes_reasons_and_keeps_them(run: Run, auditor: Client) -> None:
    page = f"{RUNS}/{run.pk}/review/"
    without = auditor.post(page, {"verdict": "returned", "reasons": " \n", "seen_revision": run.revision})
    assert "Say why" in str(without.context["form"].errors)
    reasons = "The sag at 44 ft has no end.\n\nName the clean-out."
    assert (
        auditor.post(page, {"verdict": "returned", "reasons": reasons, "seen_revision": run.revision}).status_code
        == 302
    )
    run.refresh_from_db()
    assert (run.state, run.review_reasons) == ("returned", ["The sag at 44 ft has no end.", "Name the clean-out."])
    assert AuditEntry.objects.latest("id").reason == "The sag at 44 ft has no end.; Name the clean-out."
    assert "Name the clean-out." in auditor.get(f"{RUNS}/{run.pk}/change/").content.decode()


def test_a_run_amended_since_it_was_looked_at_is_not_accepted_unseen(api: Api, run: Run, auditor: Client) -> None:
    seen = run.revision
    changes = {"reason": "Read again.", "changes": {"inspector": "Sorrel Quay"}}
    assert api.post(f"/runs/{run.pk}/amendments", changes).status_code == 201
    answer = auditor.post(f"{RUNS}/{run.pk}/review/", {"verdict": "accepted", "seen_revision": seen})
    assert "is at revision" in answer.content.decode()
    run.refresh_from_db()
    assert run.state == "submitted"


def test_a_draft_shows_what_it_lacks_and_cannot_be_reviewed(works: None, api: Api, auditor: Client) -> None:
    everything(api)
    draft = Run.objects.get(state="draft")
    page = auditor.get(f"{RUNS}/{draft.pk}/change/").content.decode()
    assert "Give the counter reading at the far end" in page
    assert "Accept or return" not in page
    answer = auditor.post(f"{RUNS}/{draft.pk}/review/", {"verdict": "accepted", "seen_revision": draft.revision})
    assert "only a submitted run is accepted or returned" in answer.content.decode()


def test_a_runs_page_says_grade_with_coverage_and_shows_its_parts(works: None, api: Api, dispatcher: Client) -> None:
    everything(api)
    run = Run.objects.get(state="submitted")
    page = dispatcher.get(f"{RUNS}/{run.pk}/change/").content.decode()
    # 60 ft less the 2 ft under water: 58/60 = 96.7 %
    assert "on 97 % seen" in page
    assert "displaced joint" in page
    assert "44 to 49 ft" in page
    assert "vitrified clay" in page
    assert "under water" in page
    assert f"/admin/laterals/{run.lateral_id}/drawing.svg" in page
    assert "&quot;kind&quot;" not in page  # no raw JSON


def test_the_report_and_the_drawing_open_from_the_desk(works: None, api: Api, dispatcher: Client) -> None:
    lateral = everything(api)
    base = f"/admin/laterals/{lateral.pk}"
    html = dispatcher.get(f"{base}/report")
    assert (html.status_code, "12 Millrace Lane" in html.content.decode()) == (200, True)
    assert "default-src 'none'" in html.headers["Content-Security-Policy"]
    pdf = dispatcher.get(f"{base}/report?form=pdf&page=a4")
    assert (pdf.headers["Content-Type"], pdf.content[:5]) == ("application/pdf", b"%PDF-")
    drawing = dispatcher.get(f"{base}/drawing.svg")
    assert drawing.headers["Content-Type"] == "image/svg+xml"
    assert b"<svg" in drawing.content


def test_failed_work_is_run_again_with_a_name_to_it(
    failed: Calculation, dispatcher: Client, rung: list[str], django_capture_on_commit_callbacks: object
) -> None:
    rung.clear()
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator] # a fixture's function
        answer = dispatcher.post(f"/admin/inspections/calculation/{failed.pk}/again/")
    assert answer.headers["Location"] == "/admin/desk/"
    failed.refresh_from_db()
    assert (failed.state, failed.attempts, failed.error) == ("queued", 0, None)
    assert rung == [str(failed.pk)]
    entry = AuditEntry.objects.latest("id")
    assert (entry.record_type, entry.action, entry.actor) == ("calculation", "run_again", "user dispatcher")
    assert exact_json.load(entry.before)["state"] == "failed"
    dispatcher.post(f"/admin/inspections/calculation/{failed.pk}/again/")
    assert AuditEntry.objects.filter(record_type="calculation").count() == 1


def test_failed_work_is_run_again_from_the_list(failed: Calculation, dispatcher: Client) -> None:
    chosen = {"action": "run_again", "_selected_action": [failed.pk]}
    assert dispatcher.post("/admin/inspections/calculation/", chosen).status_code == 302
    failed.refresh_from_db()
    assert failed.state == "queued"


def test_a_failed_delivery_is_sent_again_from_the_desk(works: None, api: Api, dispatcher: Client) -> None:
    everything(api)
    Delivery.objects.update(state="failed", attempt=10)
    row = Delivery.objects.get()
    address = f"/admin/inspections/delivery/{row.pk}/replay/"
    assert address in dispatcher.get("/admin/desk/").content.decode()
    assert dispatcher.post(address).headers["Location"] == "/admin/desk/"
    row.refresh_from_db()
    assert (row.state, row.attempt) == ("queued", 0)
    entry = AuditEntry.objects.latest("id")
    assert (entry.record_type, entry.action, entry.actor) == ("delivery", "replayed", "user dispatcher")
    again = dispatcher.post(address, follow=True).content.decode()
    assert "it is replayed when it has ended" in again


def test_a_get_runs_nothing_again(failed: Calculation, dispatcher: Client) -> None:
    assert dispatcher.get(f"/admin/inspections/calculation/{failed.pk}/again/").status_code == 405


def test_the_button_says_that_the_trail_is_whole(run: Run, auditor: Client) -> None:
    assert b"Verify the trail" in auditor.get("/admin/inspections/auditentry/").content
    answer = auditor.post("/admin/inspections/auditentry/verify/", follow=True)
    assert "The trail is whole" in answer.content.decode()


def test_the_button_names_a_broken_record_to_its_own_organisation_only(
    run: Run, rival: people.Firm, auditor: Client
) -> None:
    _tear_tail_off("run", str(run.pk))
    own = auditor.post("/admin/inspections/auditentry/verify/", follow=True).content.decode()
    assert f"broken at run {run.pk}" in own
    from tests.admin.conftest import desk, person

    theirs = desk(person(rival, "auditor", "rival_auditor"))
    seen = theirs.post("/admin/inspections/auditentry/verify/", follow=True).content.decode()
    assert "another organisation" in seen
    assert str(run.pk) not in seen


def _tear_tail_off(record_type: str, record_id: str) -> None:
    """Do what the database lets nobody do to an entry: make the chain's end be another."""
    from inspections.models import AuditHead

    AuditHead.objects.filter(record_type=record_type, record_id=record_id).update(hash="f" * 64)
