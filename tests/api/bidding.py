"""Bids as tests enter them, on a scope of the invented lateral."""

from __future__ import annotations

from typing import Any

from tests import builders
from tests.api.answers import read, sealed_of
from tests.client import Api


def scope_of(api: Api, **policy: Any) -> dict[str, Any]:
    """Have a scope computed: cleaning 3.7 to 13.7 ft, open cut 25.4 to 51.5 ft, priced in USD."""
    run = sealed_of(api)
    read(api.put(f"/laterals/{run['lateral']}/site", builders.site(), **{"If-Match": "*"}))
    asked = {"policy": {"fix_from_grade": 3, **policy}}
    made = read(api.post(f"/laterals/{run['lateral']}/repair-scopes", asked), 202)
    found: dict[str, Any] = read(api.get(f"/repair-scopes/{made['id']}"))
    assert found["state"] == "done"
    return found


def bid(**changes: Any) -> dict[str, Any]:
    """A bid at lump sums for both sections, as an estimator would type it in."""
    return {
        "plan": "least_cost",
        "bidder": "Birch Hollow Pipe Works",
        "received_on": "2027-04-20",
        "currency": "USD",
        "lines": [{"section": 1, "extension": 400}, {"section": 2, "extension": 6800.50}],
        "total": 7200.50,
        **changes,
    }


def sent(api: Api, scope: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """Have a bid entered."""
    made: dict[str, Any] = read(api.post(f"/repair-scopes/{scope['id']}/bids", bid(**changes)), 201)
    return made


def compared(api: Api, scope: dict[str, Any], query: str = "") -> dict[str, Any]:
    """Return the comparison of the bids."""
    found: dict[str, Any] = read(api.get(f"/repair-scopes/{scope['id']}/bid-comparison{query}"))
    return found


def scope_of_same_lateral(api: Api, scope: dict[str, Any]) -> dict[str, Any]:
    """Have a second scope of the lateral computed."""
    asked = read(api.post(f"/laterals/{scope['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 3}}), 202)
    found: dict[str, Any] = read(api.get(f"/repair-scopes/{asked['id']}"))
    return found
