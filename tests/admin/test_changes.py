"""What people change at the desk goes through the services: it leaves an audit entry and an event."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from pytest_django.fixtures import Settings

from inspections import exact_json
from inspections.models import AccessPoint, ApiToken, AuditEntry, Customer, Event, Job, Property, RateBook, User
from inspections.queries import personal
from inspections.services import trail
from scoring import scope
from tests import people
from tests.admin.conftest import person

BASE = "/admin/inspections"


def typed(client: Client, address: str, **changes: Any) -> dict[str, Any]:
    """Return what a page's form would send back, with some fields typed over."""
    form = client.get(address).context["adminform"].form
    shown = {bound.html_name: bound.value() for bound in form}
    for name, field in form.fields.items():
        if hasattr(field.widget, "widgets"):
            parts = field.widget.decompress(shown.pop(name, None))
            shown |= {f"{name}_{n}": part for n, part in enumerate(parts)}
    return {name: value for name, value in {**shown, **changes}.items() if value is not None}


def latest(record_type: str) -> AuditEntry:
    """Return the newest entry of a kind of record."""
    return AuditEntry.objects.filter(record_type=record_type).latest("id")


def errors(answer: Any) -> str:
    """Return all that a page says is wrong."""
    assert answer.status_code == 200, answer
    return str(answer.context["errors"])


def test_a_customer_is_made_with_trail_and_event(firm: people.Firm, dispatcher: Client) -> None:
    answer = dispatcher.post(
        f"{BASE}/customer/add/", {"name": "Ivy Calder", "kind": "household", "email": "ivy@calder.example"}
    )
    assert answer.status_code == 302
    row = Customer.objects.get()
    assert (row.name, row.source, row.organisation) == ("Ivy Calder", "desk", firm.organisation)
    entry = latest("customer")
    assert (entry.actor, entry.through, entry.action) == ("user dispatcher", "admin", "made")
    assert entry.request_id == answer.headers["X-Request-Id"]
    assert Event.objects.latest("number").type == "customer.made"


def test_a_changed_customer_says_from_what_to_what(job: Job, dispatcher: Client) -> None:
    page = f"{BASE}/customer/{job.customer_id}/change/"
    assert dispatcher.post(page, typed(dispatcher, page, phone="555-0199")).status_code == 302
    job.customer.refresh_from_db()
    assert (job.customer.phone, job.customer.revision, job.customer.external_ref) == ("555-0199", 2, "C-77")
    entry = latest("customer")
    ((before, after),) = personal.opened([entry])
    assert (before["phone"], after["phone"]) == ("555-0142", "555-0199")
    history = dispatcher.get(f"{BASE}/customer/{job.customer_id}/history/").content.decode()
    assert "<b>phone</b>: 555-0142 &rarr; 555-0199" in history


def test_a_page_read_before_somebody_elses_change_is_refused_and_keeps_what_was_typed(
    job: Job, dispatcher: Client
) -> None:
    page = f"{BASE}/customer/{job.customer_id}/change/"
    stale = typed(dispatcher, page, phone="555-0101")
    assert dispatcher.post(page, typed(dispatcher, page, phone="555-0199")).status_code == 302
    answer = dispatcher.post(page, stale)
    assert "is at revision 2" in errors(answer)
    assert b'value="555-0101"' in answer.content
    job.customer.refresh_from_db()
    assert job.customer.phone == "555-0199"


def test_a_property_made_at_the_desk_starts_with_one_lateral(dispatcher: Client, job: Job) -> None:
    sent = {"customer": job.customer_id, "line1": "3 Tannery Row", "lat": "42.5", "lon": "-73.25"}
    assert dispatcher.post(f"{BASE}/property/add/", sent).status_code == 302
    row = Property.objects.get(line1="3 Tannery Row")
    assert (row.laterals.count(), row.customer, str(row.lat)) == (1, job.customer, "42.5000000")
    assert exact_json.load(row.location_written) == {"lat": row.lat.normalize(), "lon": row.lon.normalize()}
    assert latest("property").action == "made"


def test_half_a_location_is_refused(dispatcher: Client, job: Job) -> None:
    page = f"{BASE}/property/{job.property_id}/change/"
    answer = dispatcher.post(page, typed(dispatcher, page, lat="42.5"))
    assert "Give both lat and lon" in errors(answer)
    answer = dispatcher.post(page, typed(dispatcher, page, lat="95", lon="0"))
    assert "less than or equal to 90" in errors(answer)


def test_an_access_point_takes_its_size_in_its_own_units(dispatcher: Client, job: Job) -> None:
    sent = {"property": job.property_id, "kind": "clean_out", "label": "cellar", "units": "us", "size": "4"}
    assert dispatcher.post(f"{BASE}/accesspoint/add/", sent).status_code == 302
    row = AccessPoint.objects.get()
    assert str(row.size_mm) == "101.600000"  # 4 in at 25.4 mm
    page = f"{BASE}/accesspoint/{row.pk}/change/"
    assert dispatcher.post(page, typed(dispatcher, page, how_to_find="behind the boiler")).status_code == 302
    row.refresh_from_db()
    assert (row.how_to_find, str(row.size_mm)) == ("behind the boiler", "101.600000")


def test_assigning_an_inspector_schedules_the_job(job: Job, dispatcher: Client, inspector: User) -> None:
    page = f"{BASE}/job/{job.pk}/change/"
    assert dispatcher.post(page, typed(dispatcher, page, inspector=inspector.pk)).status_code == 302
    job.refresh_from_db()
    assert (job.inspector, job.state) == (inspector, "scheduled")
    assert exact_json.load(latest("job").after)["inspector"] == "inspector"
    assert Event.objects.latest("number").type == "job.scheduled"


def test_a_moved_job_keeps_the_offset_its_window_was_written_in(job: Job, dispatcher: Client) -> None:
    page = f"{BASE}/job/{job.pk}/change/"
    moved = typed(dispatcher, page, window_start_1="14:00:00", window_end_1="16:30:00")
    assert dispatcher.post(page, moved).status_code == 302
    job.refresh_from_db()
    # 14:00 and 16:30 UTC at five hours behind UTC
    window = {"start": "2027-03-01T09:00:00-05:00", "end": "2027-03-01T11:30:00-05:00"}
    assert exact_json.load(job.written)["window"] == window
    assert exact_json.load(job.written)["instructions"] == "Clean-out behind the hydrangea."


def test_the_desk_takes_and_shows_times_of_its_own_zone(job: Job, dispatcher: Client, settings: Settings) -> None:
    """Alder Falls keeps the time of Chicago here: 08:00 at five hours behind UTC is 07:00 on 1 March, six behind."""
    settings.DESK_TIME_ZONE = "America/Chicago"
    listed = dispatcher.get(f"{BASE}/job/").content.decode()
    assert "2027-03-01 07:00 CST to 2027-03-01 09:00 CST" in listed
    page = f"{BASE}/job/{job.pk}/change/"
    assert "time of America/Chicago" in dispatcher.get(page).content.decode()
    with timezone.override("America/Chicago"):  # as the form was filled when it was shown
        sent = typed(dispatcher, page, window_start_1="07:30:00")
    assert dispatcher.post(page, sent).status_code == 302
    job.refresh_from_db()
    window = exact_json.load(job.written)["window"]
    assert window == {"start": "2027-03-01T08:30:00-05:00", "end": "2027-03-01T10:00:00-05:00"}
    assert "CST" in dispatcher.get(f"{BASE}/job/{job.pk}/history/").content.decode()


def test_a_job_goes_only_where_it_can_go(job: Job, dispatcher: Client) -> None:
    page = f"{BASE}/job/{job.pk}/change/"
    assert dispatcher.post(page, typed(dispatcher, page, state="done")).status_code == 302
    offered = dispatcher.get(page).context["adminform"].form.fields["state"].choices
    assert [value for value, _ in offered] == ["done", "under_way"]
    answer = dispatcher.post(page, typed(dispatcher, page, state="called_off"))
    assert "not one of the available choices" in errors(answer)


def test_a_job_is_asked_for_at_the_desk(job: Job, dispatcher: Client) -> None:
    sent = {
        "external_ref": "D-1",
        "purpose": "routine",
        "customer": job.customer_id,
        "property": job.property_id,
        "window_start_0": "2027-03-02",
        "window_start_1": "08:00",
    }
    assert dispatcher.post(f"{BASE}/job/add/", sent).status_code == 302
    row = Job.objects.get(external_ref="D-1")
    assert (row.source, row.state, row.property) == ("desk", "requested", job.property)
    again = dispatcher.post(f"{BASE}/job/add/", {**sent, "purpose": "purchase"})
    assert "already names job" in errors(again)


def test_another_organisations_customer_cannot_be_named(job: Job, rival: people.Firm, dispatcher: Client) -> None:
    theirs = Customer.objects.create(organisation=rival.organisation, name="Sedge Holloway")
    page = f"{BASE}/property/{job.property_id}/change/"
    answer = dispatcher.post(page, typed(dispatcher, page, customer=theirs.pk))
    assert "not one of the available choices" in errors(answer)
    found = dispatcher.get(
        "/admin/autocomplete/",
        {"app_label": "inspections", "model_name": "property", "field_name": "customer", "term": "Sedge"},
    )
    assert found.json()["results"] == []


def test_a_revoked_token_is_shut_out_at_once(firm: people.Firm, administrator: Client) -> None:
    token = firm.token()
    row = ApiToken.objects.get()
    chosen = {"action": "revoke", "_selected_action": [row.pk]}
    assert administrator.post(f"{BASE}/apitoken/", chosen).status_code == 302
    assert Client(headers={"Authorization": f"Bearer {token}"}).get("/api/v1/jobs").status_code == 401
    assert (latest("token").action, latest("token").actor) == ("revoked", "user administrator")
    administrator.post(f"{BASE}/apitoken/", chosen)
    assert AuditEntry.objects.filter(record_type="token", action="revoked").count() == 1


def test_a_user_made_by_an_administrator_belongs_to_the_organisation_and_signs_in(
    firm: people.Firm, administrator: Client
) -> None:
    password = "plover-kettle-anvil-77"
    sent = {
        "username": "sorrel",
        "usable_password": "true",
        "password1": password,
        "password2": password,
        "role": "auditor",
    }
    assert administrator.post(f"{BASE}/user/add/", sent).status_code == 302
    row = User.objects.get(username="sorrel")
    assert (row.organisation, row.role, row.is_staff, row.is_superuser) == (firm.organisation, "auditor", True, False)
    assert Client().login(username="sorrel", password=password)
    entry = latest("user")
    assert entry.action == "made"
    assert password not in entry.after


def test_a_changed_role_and_a_set_password_are_in_the_trail(firm: people.Firm, administrator: Client) -> None:
    row = person(firm, "dispatcher", "sorrel")
    page = f"{BASE}/user/{row.pk}/change/"
    assert administrator.post(page, typed(administrator, page, role="auditor")).status_code == 302
    assert exact_json.load(latest("user").before)["role"] == "dispatcher"
    new = "heron-copper-quarry-12"
    sent = {"usable_password": "true", "password1": new, "password2": new, "set-password": "1"}
    assert administrator.post(f"{BASE}/user/{row.pk}/password/", sent).status_code == 302
    assert Client().login(username="sorrel", password=new)
    assert (latest("user").action, latest("user").after) == ("password_set", "null")


def test_an_administrator_cannot_reach_for_more_than_an_organisation(firm: people.Firm, administrator: Client) -> None:
    above = person(firm, "administrator", "warden", is_superuser=True)
    sent = {"usable_password": "true", "password1": "heron-copper-quarry-12", "password2": "heron-copper-quarry-12"}
    assert administrator.post(f"{BASE}/user/{above.pk}/password/", sent).status_code == 403
    assert (
        administrator.post(f"{BASE}/user/{above.pk}/change/", {"username": "warden", "is_active": ""}).status_code
        == 403
    )
    mine = User.objects.get(username="administrator")
    page = f"{BASE}/user/{mine.pk}/change/"
    assert administrator.post(page, typed(administrator, page, is_superuser="on", is_staff="on")).status_code == 302
    mine.refresh_from_db()
    assert not mine.is_superuser


def test_a_new_version_of_a_rate_book_is_loaded_whole_or_not_at_all(administrator: Client) -> None:
    document = {**scope.DEFAULT_RATE_BOOK, "version": "2"}
    text = exact_json.write_text(document)
    page = f"{BASE}/ratebook/add/"
    assert "not complete" in errors(administrator.post(page, {"pasted": '{"id": "x", "version": "1"}'}))
    assert "id and version" in errors(administrator.post(page, {"pasted": "[]"}))
    assert administrator.post(page, {"pasted": text, "is_default": "on"}).status_code == 302
    assert RateBook.objects.get(is_default=True).version == 2
    assert latest("rate_book").action == "loaded"
    assert "already" in errors(administrator.post(page, {"pasted": text}))


def test_whoever_runs_the_service_makes_an_organisation_with_its_rules(db: None) -> None:
    from tests.admin.conftest import desk

    above = desk(person(None, "administrator", "warden", is_superuser=True))
    answer = above.post(f"{BASE}/organisation/add/", {"name": "Cedar Gap Drains"}, follow=True)
    assert answer.status_code == 200
    assert RateBook.objects.filter(organisation__name="Cedar Gap Drains", is_default=True).exists()


@pytest.mark.usefixtures("job")
def test_the_trail_stays_whole_after_all_that(dispatcher: Client, job: Job, inspector: User) -> None:
    page = f"{BASE}/job/{job.pk}/change/"
    dispatcher.post(page, typed(dispatcher, page, inspector=inspector.pk, instructions="Ring twice."))
    assert AuditEntry.objects.filter(record_type="job").count() == 3
    assert trail.first_bad_row() is None
