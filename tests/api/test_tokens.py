"""Tokens over the API: shown once, revoked at once, issued by administrators only."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from inspections.models import ApiToken, AuditEntry, Event, KeptAnswer
from tests import people
from tests.api.answers import fault_codes, nothing_changes, read, refused
from tests.client import Api

WANTED = {"client": "field", "scopes": ["runs:write", "records:read"]}


@pytest.fixture
def admin(firm: people.Firm) -> Api:
    return Api(firm.token("admin", client="keeper"))


def issued(admin: Api, **changes: Any) -> dict[str, Any]:
    token: dict[str, Any] = read(admin.post("/tokens", {**WANTED, **changes}), 201)
    return token


def test_a_token_is_shown_once_and_works(admin: Api) -> None:
    made = issued(admin)
    assert made["token"].startswith("pbk_") and made["token"].startswith(made["hint"])
    read(Api(made["token"]).get("/jobs"))
    again = read(admin.get(f"/tokens/{made['id']}"))
    assert "token" not in again and again["last_used_at"] is not None
    assert [item["client"] for item in read(admin.get("/tokens?client=field"))["items"]] == ["field"]


def test_the_token_is_in_no_table(admin: Api) -> None:
    token = issued(admin)["token"]
    rows = [*ApiToken.objects.values_list("digest", "hint"), *AuditEntry.objects.values_list("after")]
    rows += [*Event.objects.values_list("data"), *KeptAnswer.objects.values_list("body")]
    assert token not in " ".join(str(value) for row in rows for value in row)


def test_a_token_in_a_batch_is_shown_once_too(admin: Api) -> None:
    entries = [{"method": "POST", "path": "/tokens", "headers": {"Idempotency-Key": "t1"}, "body": WANTED}]
    batch = {"mode": "independent", "entries": entries}
    first = read(admin.post("/batches", batch, key="b1"))
    assert first["entries"][0]["body"]["token"].startswith("pbk_")
    again = read(admin.post("/batches", batch, key="b1"))
    assert again["entries"][0]["body"]["token"] is None
    assert again["entries"][0]["body"]["id"] == first["entries"][0]["body"]["id"]


def test_a_post_sent_again_makes_no_second_token_and_shows_none(admin: Api) -> None:
    made = read(admin.post("/tokens", WANTED, key="k"), 201)
    assert read(admin.post("/tokens", WANTED, key="k"), 201) == {**made, "token": None}
    assert ApiToken.objects.filter(client="field").count() == 1


def test_a_revoked_token_is_refused_at_its_next_request(admin: Api) -> None:
    made = issued(admin)
    client = Api(made["token"])
    read(client.get("/jobs"))
    assert read(admin.post(f"/tokens/{made['id']}/revoke"))["revoked_at"] is not None
    refused(client.get("/jobs"), 401, "not_signed_in")


def test_revoking_again_changes_nothing(admin: Api) -> None:
    made = issued(admin)
    first = read(admin.post(f"/tokens/{made['id']}/revoke"))
    with nothing_changes(but=("KeptAnswer",)):
        assert read(admin.post(f"/tokens/{made['id']}/revoke")) == first


def test_issuing_and_revoking_leave_an_entry_and_an_event_each(admin: Api) -> None:
    made = issued(admin)
    read(admin.post(f"/tokens/{made['id']}/revoke"))
    entries = AuditEntry.objects.filter(record_type="token", record_id=made["id"]).order_by("number")
    assert list(entries.values_list("action", flat=True)) == ["issued", "revoked"]
    events = Event.objects.filter(subject=f"tokens/{made['id']}").order_by("number")
    assert list(events.values_list("type", flat=True)) == ["token.issued", "token.revoked"]


@pytest.mark.parametrize(
    ("change", "place", "status", "code"),
    [
        ({"scopes": []}, "/scopes", 422, "too_few"),
        ({"scopes": ["everything"]}, "/scopes/0", 422, "unknown_value"),
        ({"scopes": "admin"}, "/scopes", 400, "not_a_list"),
        ({"client": ""}, "/client", 422, "empty_text"),
        ({"client": "x" * 101}, "/client", 422, "too_long"),
        ({"client": 5}, "/client", 400, "not_text"),
        ({"expires_at": "2027-03-01"}, "/expires_at", 400, "not_a_time"),
        ({"expires_at": "2020-03-01T08:00:00Z"}, "/expires_at", 422, "not_within_a_year"),
        ({"expires_at": "2199-03-01T08:00:00Z"}, "/expires_at", 422, "not_within_a_year"),
        ({"organisation": "mine"}, "/organisation", 400, "unknown_field"),
    ],
)
def test_bad_input_is_named_with_its_place(
    admin: Api, change: dict[str, Any], place: str, status: int, code: str
) -> None:
    with nothing_changes():
        answer = admin.post("/tokens", {**WANTED, **change})
        problem = refused(answer, status, "malformed" if status == 400 else "invalid")
    assert fault_codes(problem)[place] == code


def test_a_token_ends_when_it_was_asked_to(admin: Api) -> None:
    until = (datetime.now(UTC) + timedelta(days=7)).isoformat(timespec="seconds")
    made = issued(admin, expires_at=until)
    assert datetime.fromisoformat(made["expires_at"]) == datetime.fromisoformat(until)
    ApiToken.objects.filter(pk=made["id"]).update(expires_at=datetime.now(UTC))
    refused(Api(made["token"]).get("/jobs"), 401, "not_signed_in")


def test_only_an_administrators_token_opens_any_of_it(api: Api, admin: Api, rival: people.Firm) -> None:
    id, stranger = issued(admin)["id"], Api(rival.token("admin"))
    refused(api.get("/tokens"), 403, "scope_missing")
    refused(api.post("/tokens", WANTED), 403, "scope_missing")
    refused(api.post(f"/tokens/{id}/revoke"), 403, "scope_missing")
    with nothing_changes():
        refused(stranger.get(f"/tokens/{id}"), 404, "not_found")
        refused(stranger.post(f"/tokens/{id}/revoke"), 404, "not_found")
    assert {item["client"] for item in read(stranger.get("/tokens"))["items"]} == {"scheduling"}
