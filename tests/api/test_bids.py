"""Bids on a repair scope: entered as written, corrected beside it, changed, withdrawn, and by whom not."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest

from inspections import exact_json
from inspections.models import AuditEntry, Bid, Event
from tests import people
from tests.api.answers import fault_codes, nothing_changes, read, refused
from tests.api.bidding import bid, compared, scope_of, scope_of_same_lateral, sent
from tests.client import Api

pytestmark = pytest.mark.usefixtures("works")


@pytest.fixture
def scope(api: Api) -> dict[str, Any]:
    """A computed scope: cleaning 3.7 to 13.7 ft, open cut 25.4 to 51.5 ft, priced in USD."""
    return scope_of(api)


# --- entering -------------------------------------------------------------------------------------


def test_a_bid_is_kept_as_written_and_its_arithmetic_done_again_beside_it(api: Api, scope: dict[str, Any]) -> None:
    line = {"section": 2, "item": "excavation", "quantity": 16.70, "unit": "cy", "unit_price": 36, "extension": 621.20}
    made = sent(api, scope, lines=[line], total=621.20)
    answer = api.get(f"/repair-scopes/{scope['id']}/bids/{made['id']}")
    assert b'"quantity":16.7,"unit":"cy","unit_price":36,"extension":621.2,' in answer.content
    assert made["corrected"]["total"] == Decimal("601.20")  # 16.7 x 36
    assert [one["code"] for one in made["corrected"]["remarks"]] == ["extension_differs", "total_differs"]
    assert (made["total"], made["state"], made["revision"]) == (Decimal("621.2"), "received", 1)
    assert answer.headers["ETag"] == '"1"'
    assert api.get(f"/repair-scopes/{scope['id']}/bids/{made['id']}", **{"If-None-Match": '"1"'}).status_code == 304


def test_a_bid_is_entered_under_the_clients_own_id_and_again_without_change(api: Api, scope: dict[str, Any]) -> None:
    path = f"/repair-scopes/{scope['id']}/bids/{uuid.uuid4()}"
    first = api.put(path, bid())
    assert (first.status_code, first.headers["Location"]) == (201, f"/api/v1{path}")
    assert api.put(path, bid()).status_code == 200
    refused(api.put(path, bid(duration_days=4)), 428, "revision_required")
    refused(api.put(path, bid(duration_days=4), **{"If-Match": '"9"'}), 412, "revision_stale")
    changed = read(api.put(path, bid(duration_days=4), **{"If-Match": '"1"'}))
    assert (changed["revision"], changed["duration_days"]) == (2, 4)


def test_the_same_reference_is_the_same_bid_and_on_another_scope_refused(api: Api, scope: dict[str, Any]) -> None:
    made = sent(api, scope, external_ref="B-1")
    again = read(api.post(f"/repair-scopes/{scope['id']}/bids", bid(external_ref="B-1")))
    assert again["id"] == made["id"]
    other = scope_of_same_lateral(api, scope)
    with nothing_changes():
        refused(api.post(f"/repair-scopes/{other['id']}/bids", bid(external_ref="B-1")), 409, "external_ref_taken")
        changed = bid(external_ref="B-1", duration_days=9)
        refused(api.post(f"/repair-scopes/{scope['id']}/bids", changed), 409, "external_ref_taken")


def test_a_bid_needs_a_key_and_sent_again_under_it_is_one_bid(api: Api, scope: dict[str, Any]) -> None:
    path = f"/repair-scopes/{scope['id']}/bids"
    refused(api.http.generic("POST", f"/api/v1{path}", "{}", content_type="application/json"), 400,
            "idempotency_key_required")  # fmt: skip
    first, again = api.post(path, bid(), key="bid-1"), api.post(path, bid(), key="bid-1")
    assert (first.status_code, first.content) == (again.status_code, again.content)
    assert Bid.objects.count() == 1


def test_trying_first_answers_and_keeps_nothing(api: Api, scope: dict[str, Any]) -> None:
    with nothing_changes():
        answer = api.post(f"/repair-scopes/{scope['id']}/bids?dry_run=true", bid())
        assert read(answer, 201)["corrected"]["total"] == Decimal("7200.50")
        assert answer.headers["Dry-Run"] == "true"


_PRICE: dict[str, Any] = {"item": "excavation", "quantity": 1, "unit": "cy", "unit_price": 36}
WRONG: list[tuple[dict[str, Any], int, str, str]] = [
    ({"plan": "cheapest"}, 422, "/plan", "unknown_value"),
    ({"plan": None}, 422, "/plan", "null"),
    ({"bidder": ""}, 422, "/bidder", "empty_text"),
    ({"received_on": "20 April"}, 400, "/received_on", "not_a_day"),
    ({"received_on": "2027-02-29"}, 400, "/received_on", "not_a_day"),
    ({"received_on": "2027-04-20T10:00:00Z"}, 400, "/received_on", "not_a_day"),
    ({"valid_until": "2027-04-19"}, 422, "/valid_until", "before_received"),
    ({"currency": "CAD"}, 422, "/currency", "currency_differs"),
    ({"lines": []}, 422, "/lines", "too_few"),
    ({"lines": None}, 422, "/lines", "required"),
    ({"lines": [{"section": 3, "extension": 1}]}, 422, "/lines/0/section", "no_such_section"),
    ({"lines": [{"section": 0, "extension": 1}]}, 422, "/lines/0/section", "too_small"),
    ({"lines": [{"section": "2", "extension": 1}]}, 400, "/lines/0/section", "not_a_whole_number"),
    ({"lines": [{"section": 1}]}, 422, "/lines/0/extension", "price_missing"),
    ({"lines": [{"section": 1, "extension": 1.005}]}, 422, "/lines/0/extension", "too_fine"),
    ({"lines": [{**_PRICE, "unit_price": 1.00005}]}, 422, "/lines/0/unit_price", "too_fine"),
    ({"lines": [{**_PRICE, "unit_price": -1}]}, 422, "/lines/0/unit_price", "too_small"),
    ({"lines": [{**_PRICE, "unit": "lump_sum"}]}, 422, "/lines/0/unit", "unit_is_lump_sum"),
    ({"lines": [{**_PRICE, "unit": None}]}, 422, "/lines/0/unit", "required"),
    ({"lines": [{**_PRICE, "quantity": None}]}, 422, "/lines/0/quantity", "required"),
    ({"lines": [{**_PRICE, "item": None}]}, 422, "/lines/0/item", "required"),
    ({"lines": [{**_PRICE, "extension": -36}]}, 422, "/lines/0/extension", "too_small"),
    ({"lines": [{**_PRICE, "unit": "furlong"}]}, 422, "/lines/0/unit", "unknown_value"),
    ({"lines": [{"section": 1, "price": 1}]}, 400, "/lines/0/price", "unknown_field"),
    ({"total": "7200.50"}, 400, "/total", "not_a_number"),
    ({"total": 7200.505}, 422, "/total", "too_fine"),
    ({"exclusions": "rock"}, 400, "/exclusions", "not_a_list"),
]


def test_what_is_wrong_in_a_bid_is_named_with_its_place(api: Api, scope: dict[str, Any]) -> None:
    for changes, status, place, code in WRONG:
        with nothing_changes():
            answer = api.post(f"/repair-scopes/{scope['id']}/bids", bid(**changes))
            problem = refused(answer, status, "invalid" if status == 422 else "malformed", place)
        assert fault_codes(problem)[place] == code, changes


def test_a_scope_that_is_not_computed_takes_no_bids(api: Api, scope: dict[str, Any], monkeypatch: Any) -> None:
    from inspections.services import calculations

    monkeypatch.setattr(calculations, "ring", lambda id: None)
    waiting = read(api.post(f"/laterals/{scope['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 3}}), 202)
    refused(api.post(f"/repair-scopes/{waiting['id']}/bids", bid()), 409, "scope_not_computed")
    refused(api.get(f"/repair-scopes/{waiting['id']}/bid-comparison"), 409, "scope_not_computed")


def test_a_plan_without_work_takes_no_bids(api: Api, scope: dict[str, Any]) -> None:
    asked = read(api.post(f"/laterals/{scope['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 5}}), 202)
    problem = refused(api.post(f"/repair-scopes/{asked['id']}/bids", bid()), 422, "invalid", "/plan")
    assert fault_codes(problem)["/plan"] == "nothing_to_bid_on"


# --- changing and withdrawing -----------------------------------------------------------------------


def test_a_mistyped_bid_is_patched_against_its_revision(api: Api, scope: dict[str, Any]) -> None:
    path = f"/repair-scopes/{scope['id']}/bids/{sent(api, scope)['id']}"
    refused(api.patch(path, {"total": 7300}), 428, "revision_required")
    refused(api.patch(path, {"total": 7300}, **{"If-Match": '"7"'}), 412, "revision_stale")
    assert read(api.patch(path, {"total": 7300}, **{"If-Match": '"1"'}))["total"] == 7300
    refused(api.patch(path, {"currency": "EUR"}, **{"If-Match": '"2"'}), 422, "invalid", "/currency")
    assert read(api.patch(path, {"total": None}, **{"If-Match": '"2"'}))["total"] is None


def test_a_withdrawn_bid_stays_readable_and_as_it_was(api: Api, scope: dict[str, Any]) -> None:
    path = f"/repair-scopes/{scope['id']}/bids/{sent(api, scope)['id']}"
    refused(api.post(f"{path}/withdraw", {}), 422, "invalid", "/reason")
    refused(api.post(f"{path}/withdraw", {"reason": "x"}, **{"If-Match": '"4"'}), 412, "revision_stale")
    gone = read(api.post(f"{path}/withdraw", {"reason": "An error in our sums."}))
    assert (gone["state"], gone["withdrawn_because"], gone["revision"]) == ("withdrawn", "An error in our sums.", 2)
    with nothing_changes():
        refused(api.post(f"{path}/withdraw", {"reason": "again"}), 409, "state_not_reachable")
        refused(api.patch(path, {"total": 1}, **{"If-Match": "*"}), 409, "state_not_reachable")
    assert read(api.get(path))["lines"] == gone["lines"]
    left = compared(api, scope, "?plan=least_cost")
    assert [(one["code"], "our sums" in one["detail"]) for one in left["left_out"]] == [("withdrawn", True)]
    assert (left["bids"], left["lowest"]) == ([], None)


def test_each_change_has_one_entry_and_one_event(api: Api, scope: dict[str, Any]) -> None:
    made = sent(api, scope)
    path = f"/repair-scopes/{scope['id']}/bids/{made['id']}"
    read(api.patch(path, {"duration_days": 3}, **{"If-Match": '"1"'}))
    read(api.post(f"{path}/withdraw", {"reason": "An error in our sums."}))
    history = read(api.get(f"{path}/history"))["items"]
    assert [one["action"] for one in history] == ["received", "changed", "withdrawn"]
    assert history[2]["reason"] == "An error in our sums."
    assert AuditEntry.objects.filter(record_type="bid").count() == 3
    events = Event.objects.filter(type__startswith="bid.").order_by("number")
    assert [one.type for one in events] == ["bid.received", "bid.changed", "bid.withdrawn"]
    assert events[0].subject == path[1:]
    said = exact_json.load(events[0].data)
    assert (said["repair_scope"], said["plan"], said["bidder"]) == (scope["id"], "least_cost", made["bidder"])


def test_bids_are_listed_by_plan_and_state(api: Api, scope: dict[str, Any]) -> None:
    one, other = sent(api, scope), sent(api, scope, plan="whole_line")
    path = f"/repair-scopes/{scope['id']}/bids"
    read(api.post(f"{path}/{one['id']}/withdraw", {"reason": "late"}))
    listed = {query: [row["id"] for row in read(api.get(path + query))["items"]] for query in
              ("", "?plan=whole_line", "?state=withdrawn", "?state=received&plan=least_cost")}  # fmt: skip
    assert list(listed.values()) == [[one["id"], other["id"]], [other["id"]], [one["id"]], []]
    refused(api.get(f"{path}?plan=cheapest"), 422, "invalid", "/plan")


# --- whose it is ----------------------------------------------------------------------------------


def test_another_firms_bids_do_not_exist(api: Api, rival_api: Api, scope: dict[str, Any]) -> None:
    made = sent(api, scope)
    path = f"/repair-scopes/{scope['id']}/bids"
    theirs = scope_of(rival_api)
    with nothing_changes():
        for answer in (
            rival_api.get(path),
            rival_api.post(path, bid()),
            rival_api.get(f"{path}/{made['id']}"),
            rival_api.put(f"{path}/{made['id']}", bid(), **{"If-Match": "*"}),
            rival_api.put(f"/repair-scopes/{theirs['id']}/bids/{made['id']}", bid(), **{"If-Match": "*"}),
            rival_api.get(f"/repair-scopes/{theirs['id']}/bids/{made['id']}"),
            rival_api.post(f"{path}/{made['id']}/withdraw", {"reason": "x"}),
            rival_api.get(f"{path}/{made['id']}/history"),
            rival_api.get(f"/repair-scopes/{scope['id']}/bid-comparison"),
        ):
            refused(answer, 404, "not_found")


def test_a_bid_is_not_found_under_another_scope_of_its_own_firm(api: Api, scope: dict[str, Any]) -> None:
    made, other = sent(api, scope), scope_of_same_lateral(api, scope)
    with nothing_changes():
        refused(api.get(f"/repair-scopes/{other['id']}/bids/{made['id']}"), 404, "not_found")
        refused(
            api.put(f"/repair-scopes/{other['id']}/bids/{made['id']}", bid(), **{"If-Match": "*"}), 404, "not_found"
        )


def test_who_may_only_read_enters_and_withdraws_nothing(api: Api, firm: people.Firm, scope: dict[str, Any]) -> None:
    made = sent(api, scope)
    reader = Api(firm.token("records:read"))
    path = f"/repair-scopes/{scope['id']}/bids"
    assert compared(reader, scope)["lowest"] == made["id"]
    with nothing_changes():
        refused(reader.post(path, bid()), 403, "scope_missing")
        refused(reader.post(f"{path}/{made['id']}/withdraw", {"reason": "x"}), 403, "scope_missing")
    assert Event.objects.filter(type="bid.received").count() == 1
