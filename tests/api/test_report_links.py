"""Links to reports: made by who plans, opened by whoever holds one, ended in time or at once, and nothing beside."""

from __future__ import annotations

import logging
import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client

from config.redaction import KeysMasked
from inspections.limits import Limit, Spent
from inspections.models import AuditEntry, Event, KeptAnswer, ReportLink
from inspections.services import report_links
from tests import builders, people
from tests.api.answers import fault_codes, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api

BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"
PHONE = "Mozilla/5.0 (Linux; Android 15; Mobile) Gecko/1.0"


@pytest.fixture
def lateral(api: Api, works: None) -> str:
    """A lateral with a run and plans."""
    run = sealed_of(api)
    read(api.put(f"/laterals/{run['lateral']}/site", builders.site(), **{"If-Match": "*"}))
    read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 4}}), 202)
    return str(run["lateral"])


def link_of(api: Api, lateral: str, **asked: Any) -> dict[str, Any]:
    made: dict[str, Any] = read(api.post(f"/laterals/{lateral}/report-links", asked), 201)
    return made


def path_of(link: dict[str, Any]) -> str:
    return str(link["url"]).removeprefix("http://testserver")


def opened(link: dict[str, Any], query: str = "", **headers: str) -> Any:
    """Open a link as somebody without an account does."""
    return Client().get(path_of(link) + query, headers={"Accept": BROWSER, "User-Agent": PHONE, **headers})


def test_whoever_holds_the_link_reads_the_report_without_an_account(api: Api, lateral: str) -> None:
    page = opened(link_of(api, lateral))
    assert (page.status_code, page.headers["Content-Type"]) == (200, "text/html; charset=utf-8")
    said = page.content.decode()
    assert "Drain inspection:" in said and "Shown by a link made on" in said
    assert 'href="?form=pdf&amp;page=letter"' in said


@pytest.mark.parametrize(
    ("query", "accept", "begins"),
    [
        ("?form=pdf", BROWSER, b"%PDF-"),
        ("?form=pdf&page=a4&fbclid=x", BROWSER, b"%PDF-"),
        ("", "application/pdf", b"%PDF-"),
        ("", "image/svg+xml", b"<?xml"),
        ("", "*/*", b"<!DOCTYPE html>"),
        ("?form=cake", "application/json", b"<!DOCTYPE html>"),
    ],
)
def test_the_report_comes_in_the_form_asked_for(
    api: Api, lateral: str, query: str, accept: str, begins: bytes
) -> None:
    assert opened(link_of(api, lateral), query, Accept=accept).content.startswith(begins)


def test_the_address_is_kept_from_other_sites_caches_and_search_engines(api: Api, lateral: str) -> None:
    link = link_of(api, lateral)
    unknown = {"url": link["url"][:-8] + "x" * 8}
    for answer in (opened(link), opened(link, "?form=pdf"), opened(unknown)):
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert answer.headers["X-Robots-Tag"] == "noindex, nofollow, noarchive"
        assert answer.headers["Cache-Control"] == "no-store, private"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
    page = opened(link)
    assert page.headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert link["url"].rpartition("/")[2] not in page.content.decode()


def test_the_address_is_shown_once_and_stands_in_no_table(api: Api, lateral: str) -> None:
    path = f"/laterals/{lateral}/report-links"
    first = read(api.post(path, {"note": "the owner"}, key="l1"), 201)
    assert re.fullmatch(r"http://testserver/reports/pbr_[A-Za-z0-9_-]{43}[0-9a-f]{6}", first["url"])
    assert read(api.post(path, {"note": "the owner"}, key="l1"), 201) == {**first, "url": None}
    assert "url" not in read(api.get(f"/report-links/{first['id']}"))
    key = first["url"].rpartition("/")[2]
    opened(first)
    rows = [*ReportLink.objects.values_list(), *AuditEntry.objects.values_list(), *Event.objects.values_list()]
    kept = [bytes(body).decode() for body in KeptAnswer.objects.values_list("body", flat=True)]
    assert key not in " ".join([*kept, *(str(value) for row in rows for value in row)])


def test_each_opening_is_noted_with_what_it_showed_and_nothing_of_who_read(api: Api, lateral: str) -> None:
    link = link_of(api, lateral)
    opened(link)
    opened(link, "?form=pdf", **{"User-Agent": "curl/8"})
    now = read(api.get(f"/report-links/{link['id']}"))
    assert now["openings"] == 2 and now["last_opened_at"] is not None
    history = read(api.get(f"/report-links/{link['id']}/history"))["items"]
    assert [one["action"] for one in history] == ["made", "opened", "opened"]
    shown = read(api.get(f"/laterals/{lateral}"))["inputs_sha256"]
    last = history[-1]
    assert (last["through"], last["actor"]) == ("link", f"report link {link['id'][:8]}")
    assert {name: last["after"][name] for name in ("form", "reader", "inputs_sha256")} == {
        "form": "pdf",
        "reader": "program",
        "inputs_sha256": shown,
    }
    assert history[1]["after"]["reader"] == "phone"
    assert "127.0.0.1" not in str(history) and "Android" not in str(history)
    types = Event.objects.filter(subject=f"report-links/{link['id']}").order_by("number")
    assert list(types.values_list("type", flat=True)) == [
        "report_link.made",
        "report_link.opened",
        "report_link.opened",
    ]


def test_asking_for_the_head_alone_is_no_opening(api: Api, lateral: str) -> None:
    link = link_of(api, lateral)
    with nothing_changes():
        assert Client().head(path_of(link)).status_code == 200


def test_a_withdrawn_link_shows_nothing_from_then_on(api: Api, lateral: str) -> None:
    link = link_of(api, lateral)
    assert opened(link).status_code == 200
    assert read(api.post(f"/report-links/{link['id']}/revoke"))["state"] == "revoked"
    with nothing_changes():
        page = opened(link)
    assert (
        page.status_code == 410 and "This link was withdrawn. Ask Alder Falls Drain Cameras" in page.content.decode()
    )
    refused(opened(link, Accept="application/json"), 410, "link_ended")
    with nothing_changes(but=("KeptAnswer",)):
        read(api.post(f"/report-links/{link['id']}/revoke"))


def test_a_link_ends_when_it_was_asked_to(api: Api, lateral: str, monkeypatch: pytest.MonkeyPatch) -> None:
    soon = datetime.now(UTC) + timedelta(hours=1)
    link = link_of(api, lateral, expires_at=soon.isoformat(timespec="seconds"))
    days = link_of(api, lateral, valid_days=7)
    within = datetime.fromisoformat(days["expires_at"]) - datetime.now(UTC)
    assert timedelta(days=6, hours=23) < within <= timedelta(days=7)
    monkeypatch.setattr(report_links.timezone, "now", lambda: soon + timedelta(seconds=1))
    page = opened(link)
    assert page.status_code == 410 and "This link ended on" in page.content.decode()
    assert opened(days).status_code == 200
    assert read(api.get(f"/report-links/{link['id']}"))["state"] == "expired"


def test_a_link_that_ends_while_its_report_is_drawn_shows_nothing(
    api: Api, lateral: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = link_of(api, lateral)
    draw = report_links.link_report

    def withdrawn_meanwhile(row: ReportLink) -> Any:
        ReportLink.objects.filter(pk=row.pk).update(revoked_at=datetime.now(UTC))
        return draw(row)

    monkeypatch.setattr(report_links, "link_report", withdrawn_meanwhile)
    assert opened(link).status_code == 410
    assert ReportLink.objects.get(pk=link["id"]).openings == 0


@pytest.mark.parametrize("key", ["pbr_x", "x", "pbr_" + "A" * 49, "..", "%00", "pbk_" + "A" * 49, "a" * 5000])
def test_what_is_no_link_is_not_found(db: None, key: str) -> None:
    page = Client().get(f"/reports/{key}", headers={"Accept": BROWSER})
    assert page.status_code == 404 and page.headers["Content-Type"].startswith("text/html")
    refused(Client().get(f"/reports/{key}", headers={"Accept": "*/*"}), 404, "not_found")


def test_a_link_shows_what_came_in_after_it_was_made(api: Api, lateral: str) -> None:
    link = link_of(api, lateral)
    job = read(api.get("/jobs"))["items"][0]
    line = {"ref": "gas", "kind": "foreign_line", "at": 9, "at_joint": False}
    assert "foreign line" not in opened(link).content.decode()
    sealed_of(api, job, defects=[line])
    assert "Alarm: foreign line in the pipe" in opened(link).content.decode()


def test_a_link_draws_the_plan_and_speaks_the_units_it_was_made_for(api: Api, lateral: str) -> None:
    scope = read(api.get(f"/laterals/{lateral}/repair-scopes"))["items"][0]["id"]
    link = link_of(api, lateral, plan="whole_line", units="si", scope=scope)
    drawn = opened(link, "?form=svg").content.decode()
    assert "Plan “Renew the whole line”" in drawn and "station, m from" in drawn


@pytest.mark.parametrize(
    ("asked", "place", "status", "code"),
    [
        ({"valid_days": 0}, "/valid_days", 422, "too_small"),
        ({"valid_days": 366}, "/valid_days", 422, "too_large"),
        ({"valid_days": 1.5}, "/valid_days", 400, "not_a_whole_number"),
        ({"valid_days": 5, "expires_at": "2099-01-01T00:00:00Z"}, "/valid_days", 422, "one_of_two"),
        ({"expires_at": "2020-01-01T00:00:00Z"}, "/expires_at", 422, "not_within_a_year"),
        ({"expires_at": "2199-01-01T00:00:00Z"}, "/expires_at", 422, "not_within_a_year"),
        ({"expires_at": "tomorrow"}, "/expires_at", 400, "not_a_time"),
        ({"plan": "best"}, "/plan", 422, "unknown_value"),
        ({"units": "yards"}, "/units", 422, "unknown_value"),
        ({"scope": "6b0e6d1e-9d5f-4a58-8f0f-0d3f5a9f2c11"}, "/scope", 422, "no_such_record"),
        ({"note": "x" * 201}, "/note", 422, "too_long"),
        ({"for": "me"}, "/for", 400, "unknown_field"),
    ],
)
def test_bad_input_is_named_with_its_place(
    api: Api, lateral: str, asked: dict[str, Any], place: str, status: int, code: str
) -> None:
    with nothing_changes():
        answer = api.post(f"/laterals/{lateral}/report-links", asked)
    assert fault_codes(refused(answer, status, "malformed" if status == 400 else "invalid"))[place] == code


def test_what_nobody_inspected_has_no_report_to_share(api: Api) -> None:
    lateral = job_of(api)["property"]["laterals"][0]["id"]
    refused(api.post(f"/laterals/{lateral}/report-links", {}), 409, "nothing_inspected")


def test_only_its_own_organisation_makes_lists_and_ends_links(
    api: Api, rival_api: Api, firm: people.Firm, lateral: str
) -> None:
    link, reader = link_of(api, lateral, note="for the owner"), Api(firm.token("records:read"))
    assert read(reader.get(f"/laterals/{lateral}/report-links"))["items"][0]["note"] == "for the owner"
    refused(reader.post(f"/laterals/{lateral}/report-links", {}), 403, "scope_missing")
    refused(reader.post(f"/report-links/{link['id']}/revoke"), 403, "scope_missing")
    with nothing_changes():
        refused(rival_api.get(f"/laterals/{lateral}/report-links"), 404, "not_found")
        refused(rival_api.post(f"/laterals/{lateral}/report-links", {}), 404, "not_found")
        refused(rival_api.post(f"/report-links/{link['id']}/revoke"), 404, "not_found")
    theirs = sealed_of(rival_api)["lateral"]
    scope = read(rival_api.post(f"/laterals/{theirs}/repair-scopes", {"policy": {"fix_from_grade": 4}}), 202)["id"]
    refused(api.post(f"/laterals/{lateral}/report-links", {"scope": scope}), 422, "invalid", "/scope")


def test_a_link_is_no_token_and_a_token_no_link(api: Api, firm: people.Firm, lateral: str) -> None:
    link = link_of(api, lateral)
    refused(Api(link["url"].rpartition("/")[2]).get("/jobs"), 401, "not_signed_in")
    assert Client().get(f"/reports/{firm.token('admin')}").status_code == 404


def test_a_link_opened_too_often_asks_to_wait(api: Api, lateral: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def too_often(key: str, limit: Limit) -> Spent:
        return Spent(limit, is_allowed=False, wait_us=1_500_000, owed_us=0)

    monkeypatch.setattr("inspections.limits.count", too_often)
    answer = opened(link_of(api, lateral), Accept="*/*")
    refused(answer, 429, "too_many_requests")
    assert answer.headers["Retry-After"] == "2"


def test_the_key_is_in_no_log_even_when_the_database_is_away(
    api: Api, lateral: str, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    link = link_of(api, lateral)

    def away(row: Any) -> Any:
        raise OperationalError("gone")

    monkeypatch.setattr(report_links, "link_report", away)
    assert opened(link).status_code == 503
    (service,) = [one.formatter for one in logging.getLogger().handlers if isinstance(one.formatter, KeysMasked)]
    logged = "\n".join(service.format(record) for record in caplog.records)
    assert "Service Unavailable: /reports/pbr_..." in logged
    assert link["url"].rpartition("/")[2] not in logged


def test_whatever_is_logged_keys_are_cut_to_their_prefix() -> None:
    record = logging.LogRecord(
        "x", logging.ERROR, "", 0, "Internal Server Error: /reports/%s", ("pbr_" + "k" * 49,), None
    )
    assert KeysMasked("%(message)s").format(record) == "Internal Server Error: /reports/pbr_..."


def test_erasing_a_customer_takes_the_note_off_their_links(api: Api, firm: people.Firm, lateral: str) -> None:
    link = link_of(api, lateral, note="for Rowan Ashby")
    admin = Api(firm.token("admin"))
    read(admin.post(f"/customers/{link['customer']}/erase", {"reason": "Asked for in writing."}))
    assert read(api.get(f"/report-links/{link['id']}"))["note"] is None
    kept = b" ".join(bytes(body) for body in KeptAnswer.objects.values_list("body", flat=True))
    assert b"for Rowan Ashby" not in kept
    assert not AuditEntry.objects.filter(after__contains="for Rowan Ashby").exists()
    assert opened(link).status_code == 200
