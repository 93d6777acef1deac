"""The way in to the desk: passwords tried too often, one-time passwords, the second factor."""

from __future__ import annotations

import uuid
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client, RequestFactory
from django_otp.oath import totp
from django_otp.plugins.otp_totp.models import TOTPDevice
from pytest_django.fixtures import Settings

from inspections.admin.gate import address_of
from inspections.models import AuditEntry, User
from tests import people
from tests.admin.conftest import PASSWORD, desk, person

LOGIN, OWN_PASSWORD, SECOND = "/admin/login/", "/admin/password_change/", "/admin/second-factor/"
NEW = "heron-copper-quarry-12"


@pytest.fixture(autouse=True)
def _quick_hashes(settings: Settings) -> None:
    """Tries are counted by the second; the real hash takes most of one."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def tried(client: Client, username: str, password: str = "wrong", **extra: str) -> str:
    """Return what the sign-in page says to a try; empty where it lets in."""
    # Counts of tries outlive a test; each comes from an address of its own unless the test is about addresses.
    extra = {"REMOTE_ADDR": f"2001:db8::{uuid.uuid4().hex[:4]}", **extra}
    answer = client.post(LOGIN, {"username": username, "password": password}, **extra)
    return "" if answer.status_code == 302 else answer.content.decode()


@pytest.fixture
def name(firm: people.Firm) -> str:
    """Somebody whose tries nobody counted yet."""
    username = f"sorrel-{uuid.uuid4().hex[:8]}"
    person(firm, "dispatcher", username)
    return username


def actions(user: str) -> list[str]:
    row = User.objects.get(username=user)
    rows = AuditEntry.objects.filter(record_type="user", record_id=str(row.pk)).order_by("number")
    return list(rows.values_list("action", flat=True))


def test_a_password_tried_too_often_is_not_looked_at_any_more_whatever_the_forwarding_header_says(name: str) -> None:
    client = Client()
    said = [tried(client, name, HTTP_X_FORWARDED_FOR=f"203.0.113.{n}") for n in range(12)]
    assert ["Tried too often" in one for one in said] == [False] * 10 + [True] * 2
    assert "Tried too often" in tried(client, name, PASSWORD, HTTP_X_FORWARDED_FOR="192.0.2.9")  # even the right one
    assert "Tried too often" in tried(Client(), name.upper(), PASSWORD)


def test_an_address_that_tries_many_names_is_stopped_whatever_the_forwarding_header_says(firm: people.Firm) -> None:
    here = f"2001:db8:1::{uuid.uuid4().hex[:4]}"
    said = [
        tried(Client(), uuid.uuid4().hex, HTTP_X_FORWARDED_FOR=f"203.0.113.{n}", REMOTE_ADDR=here) for n in range(36)
    ]
    assert "Tried too often" in said[-1]
    assert not any("Tried too often" in one for one in said[:30])
    assert "Tried too often" not in tried(Client(), uuid.uuid4().hex, REMOTE_ADDR="198.51.100.251")


def test_only_what_our_own_proxies_say_of_an_address_counts(settings: Settings) -> None:
    from ipaddress import ip_network

    settings.TRUSTED_PROXIES = (ip_network("10.1.0.0/16"),)

    def seen(remote: str, forwarded: str) -> str:
        return address_of(RequestFactory().get("/", REMOTE_ADDR=remote, HTTP_X_FORWARDED_FOR=forwarded))

    assert seen("10.1.0.5", "203.0.113.1") == "203.0.113.1"
    assert seen("10.1.0.5", "198.51.100.66, 203.0.113.1") == "203.0.113.1"  # the left one is the client's invention
    assert seen("10.1.0.5", "203.0.113.1, 10.1.0.6") == "203.0.113.1"
    assert seen("192.0.2.1", "203.0.113.1") == "192.0.2.1"  # no proxy of ours
    assert seen("10.1.0.5", "nonsense") == "10.1.0.5"


def test_a_one_time_password_opens_nothing_but_the_page_that_changes_it(firm: people.Firm) -> None:
    out = StringIO()
    username = f"warden-{uuid.uuid4().hex[:8]}"
    call_command("administrator", organisation=firm.organisation.name, username=username, stdout=out)
    password = out.getvalue().strip()
    client = Client()
    assert tried(client, username, password) == ""
    for path in ("/admin/", "/admin/desk/", "/admin/inspections/job/", "/admin/inspections/customer/add/"):
        answer = client.get(path)
        assert (answer.status_code, answer.headers["Location"]) == (302, OWN_PASSWORD), path
    kept = {"old_password": password, "new_password1": password, "new_password2": password}
    assert b"choose another" in client.post(OWN_PASSWORD, kept).content
    sent = {"old_password": password, "new_password1": NEW, "new_password2": NEW}
    assert client.post(OWN_PASSWORD, sent).status_code == 302
    assert client.get("/admin/").status_code == 200
    assert tried(Client(), username, password) != ""
    assert actions(username) == ["made", "password_changed"]
    entry = AuditEntry.objects.filter(action="password_changed").get()
    assert (entry.actor, entry.through, entry.before, entry.after) == (f"user {username}", "admin", "null", "null")
    assert NEW not in str(list(AuditEntry.objects.values_list("before", "after", "reason")))


def test_a_password_that_an_administrator_chose_must_be_changed(firm: people.Firm, name: str) -> None:
    administrator = desk(person(firm, "administrator"))
    row = User.objects.get(username=name)
    sent = {"usable_password": "true", "password1": NEW, "password2": NEW, "set-password": "1"}
    assert administrator.post(f"/admin/inspections/user/{row.pk}/password/", sent).status_code == 302
    client = Client()
    assert tried(client, name, NEW) == ""
    assert client.get("/admin/").headers["Location"] == OWN_PASSWORD


def test_a_person_made_at_the_desk_starts_with_a_password_for_one_sign_in(firm: people.Firm) -> None:
    sent = {"username": "fern", "usable_password": "true", "password1": NEW, "password2": NEW, "role": "inspector"}
    assert desk(person(firm, "administrator")).post("/admin/inspections/user/add/", sent).status_code == 302
    assert User.objects.get(username="fern").must_change_password


def code_of(device: TOTPDevice) -> str:
    """The code an authenticator app shows (RFC 6238)."""
    return f"{totp(device.bin_key, t0=0, step=30, digits=6):06d}"


def enrolled(client: Client, username: str) -> TOTPDevice:
    """Enrol as the page says, with the key it shows."""
    page = client.get(SECOND)
    device = TOTPDevice.objects.get(user__username=username)
    assert page.context["key"].replace(" ", "") in device.config_url
    assert client.post(SECOND, {"code": code_of(device)}).status_code == 302
    device.refresh_from_db()
    assert device.confirmed
    return device


def test_the_desk_opens_only_with_the_second_factor_where_it_is_demanded(name: str, settings: Settings) -> None:
    settings.SECOND_FACTOR = True
    client = Client()
    assert tried(client, name, PASSWORD) == ""
    for path in ("/admin/", "/admin/desk/", "/admin/inspections/job/"):
        assert client.get(path).headers["Location"] == SECOND, path
    assert b"does not fit" in client.post(SECOND, {"code": "000000"}).content
    device = TOTPDevice.objects.get(user__username=name)
    TOTPDevice.objects.update(throttling_failure_count=0)
    enrolled(client, name)
    assert client.get("/admin/").status_code == 200

    other = Client()  # a thief with the password: no key is shown, nothing opens
    assert tried(other, name, PASSWORD) == ""
    assert other.get("/admin/desk/").headers["Location"] == SECOND
    page = other.get(SECOND).content.decode()
    assert "otpauth" not in page
    assert device.key not in page
    again = other.post(SECOND, {"code": code_of(device)})  # the code that was used already
    assert b"does not fit" in again.content
    assert actions(name) == ["second_factor_enrolled"]


def test_codes_tried_at_random_are_throttled(name: str, settings: Settings) -> None:
    settings.SECOND_FACTOR = True
    client = desk(User.objects.get(username=name))
    device = enrolled(client, name)
    thief = desk(User.objects.get(username=name))
    for n in range(5):
        assert thief.post(SECOND, {"code": f"{n:06d}"}).status_code == 200
    device.refresh_from_db()
    assert device.throttling_failure_count >= 1
    TOTPDevice.objects.update(last_t=-1)  # so that only the throttle can refuse the right code
    assert thief.post(SECOND, {"code": code_of(device)}).status_code == 200


def test_with_a_second_factor_a_one_time_password_is_changed_only_after_the_code(
    name: str, settings: Settings
) -> None:
    settings.SECOND_FACTOR = True
    enrolled(desk(User.objects.get(username=name)), name)
    User.objects.filter(username=name).update(must_change_password=True)
    client = desk(User.objects.get(username=name))
    assert client.get(OWN_PASSWORD).headers["Location"] == SECOND


def test_a_lost_second_factor_is_taken_away_by_an_administrator_and_enrolled_anew(
    firm: people.Firm, name: str, settings: Settings
) -> None:
    settings.SECOND_FACTOR = True
    row = User.objects.get(username=name)
    enrolled(desk(row), name)
    settings.SECOND_FACTOR = False
    administrator = desk(person(firm, "administrator"))
    chosen = {"action": "forget_second_factor", "_selected_action": [row.pk]}
    assert administrator.post("/admin/inspections/user/", chosen).status_code == 302
    assert not TOTPDevice.objects.exists()
    assert actions(name) == ["second_factor_enrolled", "second_factor_taken_away"]
    assert desk(person(firm, "auditor")).post("/admin/inspections/user/", chosen).status_code in (200, 302, 403)


def test_the_keys_of_second_factors_have_no_page(firm: people.Firm) -> None:
    above = desk(person(None, "administrator", "warden", is_superuser=True))
    assert above.get("/admin/otp_totp/totpdevice/").status_code == 404


@pytest.mark.parametrize("command", ["createsuperuser", "changepassword"])
def test_commands_that_would_write_past_the_trail_are_closed(command: str) -> None:
    with pytest.raises(CommandError, match="administrator"):
        call_command(command)


def test_a_signed_in_session_ends_with_the_password_it_began_with(name: str) -> None:
    client, other = Client(), Client()
    assert tried(client, name, PASSWORD) == tried(other, name, PASSWORD) == ""
    sent = {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW}
    assert client.post(OWN_PASSWORD, sent).status_code == 302
    assert client.get("/admin/").status_code == 200
    assert other.get("/admin/").status_code == 302
