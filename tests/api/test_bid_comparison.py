"""Bids on one plan compared over HTTP: what differs, who is lowest, who pays, what is left out."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests import builders
from tests.api.answers import read, refused
from tests.api.bidding import compared, scope_of, sent
from tests.client import Api

pytestmark = pytest.mark.usefixtures("works")


@pytest.fixture
def scope(api: Api) -> dict[str, Any]:
    """A computed scope: cleaning 3.7 to 13.7 ft, open cut 25.4 to 51.5 ft, priced in USD."""
    return scope_of(api)


def test_the_lowest_complete_bid_and_who_pays_it(api: Api, scope: dict[str, Any]) -> None:
    dear = sent(api, scope, bidder="Weir Lane Sewer Services", lines=[{"extension": 7900}], total=7900)
    part = sent(api, scope, bidder="Mill Pond Drains", lines=[{"section": 2, "extension": 6000}], total=6000)
    low = sent(api, scope)
    found = compared(api, scope)
    assert [(one["bid"], one["rank"], one["is_complete"]) for one in found["ranking"]] == [
        (part["id"], 1, False),
        (low["id"], 2, True),
        (dear["id"], 3, True),
    ]
    assert (found["lowest"], found["lowest_complete"]) == (part["id"], low["id"])
    assert (found["plan"], found["currency"], found["is_current"]) == ("least_cost", "USD", True)
    shares = found["programme"]
    assert shares["bid"] == low["id"]
    assert sum(one["amount"] for one in shares["payers"]) == Decimal("7200.50")
    # Half of 6,800.50, divided among the zones as the plan divides its own cost, by where the priced items lie.
    zones = {zone["zone"]: Decimal(zone["cost"]["likely"]) for zone in scope["plans"][0]["sections"][1]["zones"]}
    programme = [one["amount"] for one in shares["payers"] if one["payer"] == "repair_programme"]
    private = Decimal("6800.50") * zones["private"] / sum(zones.values())
    assert programme == [pytest.approx(private / 2, abs=Decimal("0.01"))]
    assert not [one for one in shares["payers"] if "no bid yet" in one["rule"]]


def test_a_programme_that_paid_here_lately_pays_nothing_of_plan_or_bid_and_both_say_until_when(api: Api) -> None:
    """The run is of 1 March 2027, the programme pays once in 5 years: paid on 2 March 2022 is a day too late."""
    told = {"programme": "alder-falls-lateral-help", "paid_on": "2022-03-02"}
    scope = scope_of(api, programmes_paid=[told])
    plan = scope["plans"][0]
    assert {one["payer"] for one in plan["payers"]} == {"owner"}
    assert plan["payers"][0]["likely"] == plan["total"]["likely"]
    (said,) = [one for one in scope["assumptions"] if told["programme"] in one]
    assert "nothing of it before 2027-03-02" in said
    assert scope["policy"]["programmes_paid"] == [told]
    sent(api, scope)
    shares = compared(api, scope)["programme"]
    assert [(one["payer"], one["amount"]) for one in shares["payers"]] == [("owner", Decimal("7200.50"))]
    assert said in shares["notes"]


def test_on_the_day_its_period_is_over_a_programme_pays_again(api: Api) -> None:
    told = {"programme": "alder-falls-lateral-help", "paid_on": "2022-03-01"}
    scope = scope_of(api, programmes_paid=[told])
    assert {one["payer"] for one in scope["plans"][0]["payers"]} == {"owner", "repair_programme"}


def test_bids_are_compared_line_by_line_in_the_units_asked_for(api: Api, scope: dict[str, Any]) -> None:
    metric = read(api.get(f"/repair-scopes/{scope['id']}?units=si"))["plans"][0]["sections"][1]["quantities"]
    dug_m = round(next(one["quantity"] for one in metric if one["item"] == "open_cut_replacement"), 2)
    lines = [
        {"section": 2, "item": "open_cut_replacement", "quantity": float(dug_m), "unit": "m", "unit_price": 210},
        {"section": 2, "item": "excavation", "quantity": 20, "unit": "cy", "unit_price": 60, "extension": 1000},
        {"section": 2, "item": "boulders", "extension": 90},
    ]
    made = sent(api, scope, lines=lines, total=None)
    us, si = compared(api, scope, "?units=us"), compared(api, scope, "?units=si")
    codes = [[one["code"] for one in line["remarks"]] for line in us["bids"][0]["lines"]]
    assert codes == [[], ["extension_differs", "quantity_differs", "unit_price_high"], ["not_in_scope"]]
    assert [one["line"] for one in us["bids"][0]["remarks"] if one["code"] == "not_in_scope"] == [3]
    assert us["bids"][0]["additions"] == [3]
    assert us["bids"][0]["total"] == dug_m * 210 + 20 * 60 + 90
    dug = {name: next(row for row in one["lines"] if row["item"] == "excavation") for name, one in
           (("us", us), ("si", si))}  # fmt: skip
    assert (dug["us"]["unit"], dug["si"]["unit"]) == ("cy", "m3")
    assert dug["us"]["unit_price"] == {"low": 25, "likely": 35, "high": 50}
    assert [one["bid"] for one in dug["si"]["offers"]] == [made["id"]]
    missing = {(one["section"], one["item"]) for one in us["bids"][0]["missing"]}
    assert {(1, "set_up"), (2, "backfill"), (2, "permit")} <= missing
    assert us["programme"] is None and us["programme_reason"] == "No complete bid is there yet."


def test_which_plan_is_said_where_bids_stand_on_two(api: Api, scope: dict[str, Any]) -> None:
    empty = refused(api.get(f"/repair-scopes/{scope['id']}/bid-comparison"), 422, "invalid", "/plan")
    assert "least_cost" in empty["errors"][0]["detail"]
    one, other = sent(api, scope), sent(api, scope, plan="whole_line")
    refused(api.get(f"/repair-scopes/{scope['id']}/bid-comparison"), 422, "invalid", "/plan")
    assert compared(api, scope, "?plan=least_cost")["lowest"] == one["id"]
    assert compared(api, scope, "?plan=whole_line")["lowest"] == other["id"]
    refused(api.get(f"/repair-scopes/{scope['id']}/bid-comparison?plan=cheapest"), 422, "invalid", "/plan")


def test_a_day_leaves_out_what_is_not_valid_on_it(api: Api, scope: dict[str, Any]) -> None:
    made = sent(api, scope, valid_until="2027-06-19")
    assert compared(api, scope, "?on=2027-06-19")["lowest"] == made["id"]
    late = compared(api, scope, "?on=2027-06-20")
    assert [one["code"] for one in late["left_out"]] == ["not_valid_any_more"]
    refused(api.get(f"/repair-scopes/{scope['id']}/bid-comparison?on=June"), 400, "malformed", "/on")


def test_the_comparison_has_a_tag_that_changes_with_the_bids(api: Api, scope: dict[str, Any]) -> None:
    sent(api, scope)
    path = f"/repair-scopes/{scope['id']}/bid-comparison"
    tag = api.get(path).headers["ETag"]
    assert api.get(path, **{"If-None-Match": tag}).status_code == 304
    sent(api, scope, bidder="Mill Pond Drains")
    assert api.get(path, **{"If-None-Match": tag}).status_code == 200


def test_who_pays_is_not_said_of_a_lateral_that_changed_since(api: Api, scope: dict[str, Any]) -> None:
    sent(api, scope)
    path = f"/laterals/{scope['lateral']}/site"
    read(api.put(path, builders.site(soil="C"), **{"If-Match": "*"}))
    found = compared(api, scope)
    assert (found["is_current"], found["programme"]) == (False, None)
    assert "Ask for a new scope" in found["programme_reason"]
