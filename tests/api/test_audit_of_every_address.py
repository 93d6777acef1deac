"""Every address that changes something, read from the list of addresses: one entry for each record that it changes."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any, Final

import pytest
from django.db import transaction

from inspections import exact_json
from inspections.api.shapes import examples
from inspections.models import Calculation, Delivery
from inspections.services import work
from scoring import scope
from scoring.grading import BUILT_IN_SCHEMES
from tests import builders, people
from tests.api.answers import draft_of, nothing_changes, read
from tests.api.test_access import addresses, path_of, records_of
from tests.api.test_code_maps import ALDER
from tests.api.test_imports import row, text_of
from tests.audited import one_entry_each
from tests.client import Api

STAR: Final = {"If-Match": "*"}
Own = dict[str, str]
Ask = Callable[[Api, Own], Any]
REQUEST: Final = "the-request-that-did-it"

# What computes and changes nothing.
CHANGES_NOTHING: Final = {
    *(f"checks/{name}" for name in ("trench", "liner", "drain", "air-test", "water-test", "spoil")),
    "code-maps/<str:id>/to-external",
    "code-maps/<str:id>/from-external",
}


class World:
    """One record of each kind, and what the requests need beside them."""

    def __init__(self, api: Api, admin: Api) -> None:
        self.api, self.admin, self.own = api, admin, records_of(api, admin)

    def send(self, verb: str, path: str, body: Any = None, **headers: str) -> Any:
        headers |= {"X-Request-Id": REQUEST}
        body = None if body is None else exact_json.write(body)
        if verb == "post":
            return self.admin.post(path, body, **headers)
        if verb == "delete":
            return self.admin.delete(path, **STAR, **headers)
        return getattr(self.admin, verb)(path, body, **STAR, **headers)

    def compute(self) -> None:
        """Do what workers would have done by now."""
        while waiting := list(Calculation.objects.filter(state="queued").values_list("id", flat=True)):
            for id in waiting:
                work.perform(id)

    def draft(self) -> str:
        return str(draft_of(self.api, {"id": self.own["jobs"]})["id"])

    def plain(self, path: str, body: Any) -> str:
        return str(read(self.admin.post(path, body), 201)["id"])


NAME: Final = {"name": "Fern Abbot"}
PLACE: Final = {"address": {"line1": "1 Weir Row"}}
HOOK: Final = {"url": "https://hooks.example.com/other", "event_types": ["run.*"]}


def _point(world: World, **changes: Any) -> dict[str, Any]:
    return {"property": world.own["properties"], "units": "us", "kind": "clean_out", "label": "x", **changes}


def _bid(world: World) -> str:
    world.compute()
    return str(read(world.api.post(f"/repair-scopes/{world.own['repair-scopes']}/bids", examples.BID), 201)["id"])


def _bidding(world: World) -> Any:
    world.compute()
    return examples.BID


def _closing(world: World) -> Any:
    world.compute()
    return examples.CLOSING


def _decision(world: World) -> str:
    body = _match(world)
    return str(read(world.api.post(f"/laterals/{world.own['laterals']}/match-decisions", body), 201)["id"])


def _match(world: World) -> dict[str, Any]:
    other = draft_of(world.api, {"id": world.own["jobs"]})["id"]
    read(world.api.post(f"/runs/{other}/submit"), 202)
    sides = {"a": {"run": world.own["runs"], "ref": "a"}, "b": {"run": other, "ref": "a"}}
    return {"action": "pin", "reason": "the same root", **sides}


def _failed(world: World) -> str:
    row = Calculation.objects.get(subject=world.own["runs"])
    Calculation.objects.filter(pk=row.pk).update(state="failed", attempts=5, error="x")
    return str(row.pk)


def _ended(world: World) -> str:
    Delivery.objects.filter(pk=world.own["deliveries"]).update(state="failed")
    return world.own["deliveries"]


def _token(world: World) -> str:
    return str(read(world.admin.post("/tokens", {"client": "x", "scopes": ["records:read"]}), 201)["id"])


def _on(kind: str, *steps: str, body: Any = None, new: Callable[[World], str] | None = None) -> Any:
    """Return how an address below one record is asked: which record, what is sent."""

    def prepared(world: World) -> tuple[str, Any]:
        id = new(world) if new else world.own[kind]
        return "/".join(("", kind, id, *steps)), body(world) if callable(body) else body

    return prepared


def _at(path: str, body: Any) -> Any:
    return lambda world: (path, body(world) if callable(body) else body)


def _below_scope(world: World, *steps: str) -> str:
    return "/".join(("", "repair-scopes", world.own["repair-scopes"], "bids", _bid(world), *steps))


RATES: Final = {"document": {**scope.DEFAULT_RATE_BOOK, "version": "9"}, "is_default": True}
RULES: Final = {"document": {**scope.DEFAULT_RULE_SET, "version": "9"}, "is_default": True}
SCHEME: Final = {"document": {**BUILT_IN_SCHEMES["open-five"], "version": 9}, "is_default": True}
ENTRY: Final = {"method": "POST", "path": "/customers", "body": NAME}

ASKED: Final[dict[tuple[str, str], Callable[[World], tuple[str, Any]]]] = {
    ("jobs", "post"): _at("/jobs", builders.job(external_ref="AF-9", customer=NAME, property=PLACE)),
    ("jobs/<str:id>", "put"): _on("jobs", body=builders.job(purpose="routine")),
    ("jobs/<str:id>", "patch"): _on("jobs", body={"instructions": "Ring twice."}),
    ("runs", "post"): _at("/runs", lambda world: builders.run(world.own["jobs"])),
    ("runs/<str:id>", "put"): _on(
        "runs", new=World.draft, body=lambda world: builders.run(world.own["jobs"], inspector="X")
    ),
    ("runs/<str:id>", "patch"): _on("runs", new=World.draft, body={"inspector": "X"}),
    ("runs/<str:id>", "delete"): _on("runs", new=World.draft),
    ("runs/<str:id>/submit", "post"): _on("runs", "submit", new=World.draft),
    ("runs/<str:id>/accept", "post"): _on("runs", "accept"),
    ("runs/<str:id>/return", "post"): _on("runs", "return", body={"reasons": ["too dark"]}),
    ("runs/<str:id>/amendments", "post"): _on(
        "runs", "amendments", body={"reason": "mistyped", "changes": {"inspector": "X"}}
    ),
    ("calculations/<str:id>/again", "post"): _on("calculations", "again", new=_failed),
    ("laterals/<str:id>/match-decisions", "post"): _on("laterals", "match-decisions", body=_match),
    ("laterals/<str:id>/match-decisions/<str:decision>", "delete"): lambda world: (
        f"/laterals/{world.own['laterals']}/match-decisions/{_decision(world)}?reason=mistake",
        None,
    ),
    ("laterals/<str:id>/site", "put"): _on("laterals", "site", body=builders.site()),
    ("laterals/<str:id>/site", "patch"): _on("laterals", "site", body={"soil": "C"}),
    ("laterals/<str:id>/repair-scopes", "post"): _on(
        "laterals", "repair-scopes", body={"policy": {"fix_from_grade": 2}}
    ),
    ("laterals/<str:id>/report-links", "post"): _on("laterals", "report-links", body={"note": "the owner"}),
    ("report-links/<str:id>/revoke", "post"): _on("report-links", "revoke"),
    ("repair-scopes/<str:id>/bids", "post"): _on("repair-scopes", "bids", body=lambda world: _bidding(world)),
    ("repair-scopes/<str:id>/bids/<str:bid>", "put"): lambda world: (
        _below_scope(world),
        {**examples.BID, "note": "sent again"},
    ),
    ("repair-scopes/<str:id>/bids/<str:bid>", "patch"): lambda world: (_below_scope(world), {"note": "by phone"}),
    ("repair-scopes/<str:id>/bids/<str:bid>/withdraw", "post"): lambda world: (
        _below_scope(world, "withdraw"),
        {"reason": "a mistake in our sums"},
    ),
    ("repair-scopes/<str:id>/closings", "post"): _on("repair-scopes", "closings", body=lambda world: _closing(world)),
    ("customers", "post"): _at("/customers", NAME),
    ("customers/<str:id>", "put"): _on("customers", body={"name": "Fern Abbot", "kind": "business"}),
    ("customers/<str:id>", "patch"): _on("customers", body={"phone": "555-0199"}),
    ("customers/<str:id>", "delete"): _on("customers", new=lambda world: world.plain("/customers", NAME)),
    ("customers/<str:id>/erase", "post"): _on("customers", "erase", body={"reason": "asked for"}),
    ("properties", "post"): _at("/properties", PLACE),
    ("properties/<str:id>", "put"): _on("properties", body=PLACE),
    ("properties/<str:id>", "patch"): _on("properties", body={"year_built": 1950}),
    ("properties/<str:id>", "delete"): _on("properties", new=lambda world: world.plain("/properties", PLACE)),
    ("access-points", "post"): _at("/access-points", _point),
    ("access-points/<str:id>", "put"): _on("access-points", body=lambda world: _point(world, label="y")),
    ("access-points/<str:id>", "patch"): _on("access-points", body={"label": "z"}),
    ("access-points/<str:id>", "delete"): _on("access-points"),
    ("grading-schemes", "post"): _at("/grading-schemes", SCHEME),
    ("rate-books", "post"): _at("/rate-books", RATES),
    ("rule-sets", "post"): _at("/rule-sets", RULES),
    ("code-maps", "post"): _at("/code-maps", {"document": {**ALDER, "version": 9}}),
    ("batches", "post"): _at("/batches", {"mode": "independent", "entries": [ENTRY, ENTRY]}),
    ("recomputations", "post"): _at("/recomputations", {"scheme": "open-five"}),
    ("subscriptions", "post"): _at("/subscriptions", HOOK),
    ("subscriptions/<str:id>", "put"): _on("subscriptions", body=HOOK),
    ("subscriptions/<str:id>", "patch"): _on("subscriptions", body={"description": "x"}),
    ("subscriptions/<str:id>", "delete"): _on("subscriptions"),
    ("subscriptions/<str:id>/rotate-secret", "post"): _on("subscriptions", "rotate-secret"),
    ("subscriptions/<str:id>/test", "post"): _on("subscriptions", "test"),
    ("deliveries/<str:id>/replay", "post"): _on("deliveries", "replay", new=_ended),
    ("tokens", "post"): _at("/tokens", {"client": "x", "scopes": ["records:read"]}),
    ("tokens/<str:id>/revoke", "post"): _on("tokens", "revoke", new=_token),
}


def test_every_address_that_writes_stands_here() -> None:
    writing = {(address, verb) for address, verb in addresses() if verb != "get"}
    writing = {(address, verb) for address, verb in writing if address not in CHANGES_NOTHING}
    in_lines = {("imports", "post"), *((f"imports/{kind}", "post") for kind in examples.IMPORTED)}
    assert writing == set(ASKED) | in_lines  # rows of text, below


@pytest.fixture
def world(api: Api, firm: people.Firm, rung: list[str]) -> World:
    return World(api, Api(firm.token("admin")))


def test_each_leaves_one_entry_for_each_record_it_changes(world: World) -> None:
    for (address, verb), prepare in ASKED.items():
        with transaction.atomic():
            path, body = prepare(world)
            try:
                with one_entry_each("api", REQUEST):
                    answer = world.send(verb, path, body)
                    assert answer.status_code < 300, answer.content[:1000]
            except AssertionError as error:
                raise AssertionError(f"{verb} {address}: {error}") from error
            transaction.set_rollback(True)


def test_an_import_leaves_one_entry_for_itself_and_for_each_run_it_changes(world: World) -> None:
    draft_of(world.api, {"id": world.own["jobs"]}, external_ref="R-1")
    lines = text_of([row("n1", 5), row("n2", 7)])
    with one_entry_each("api", REQUEST, least=2):
        headers = {"Idempotency-Key": str(uuid.uuid4()), "X-Request-Id": REQUEST}
        answer = world.api._send("POST", "/imports", lines, headers, media="application/x-ndjson")
        assert answer.status_code < 300, answer.content


@pytest.mark.parametrize("kind", examples.IMPORTED)
def test_an_import_of_records_leaves_one_entry_for_itself_and_for_each_record(world: World, kind: str) -> None:
    lines = text_of([{**_LINES[kind](world), "external_ref": f"line-{n}"} for n in range(2)])
    with one_entry_each("api", REQUEST, least=3):
        headers = {"Idempotency-Key": str(uuid.uuid4()), "X-Request-Id": REQUEST}
        answer = world.api._send("POST", f"/imports/{kind}", lines, headers, media="application/x-ndjson")
        assert b'"refused"' not in answer.content, answer.content


_LINES: Final[dict[str, Callable[[World], dict[str, Any]]]] = {
    "customers": lambda world: NAME,
    "properties": lambda world: PLACE,
    "access-points": _point,
    "jobs": lambda world: {"purpose": "routine", "customer": NAME, "property_id": world.own["properties"]},
    "runs": lambda world: {"job": world.own["jobs"], "units": "us", "direction": "downstream", "counter_start": 0},
}


def test_what_only_computes_leaves_no_trace(world: World) -> None:
    for address in CHANGES_NOTHING:
        with nothing_changes():
            world.send("post", path_of(address, world.own["code-maps"]), {})


def test_what_is_refused_or_only_tried_or_sent_again_leaves_no_entry(world: World) -> None:
    path = f"/customers/{world.own['customers']}"
    with nothing_changes(but=("KeptAnswer",)):
        world.admin.patch(path, {"phone": "555-0199"}, **{"If-Match": '"99"'})
        world.admin.patch(f"{path}?dry_run=true", {"phone": "555-0199"}, **STAR)
        world.admin.post("/customers", {"nom": "x"})
    read(world.admin.post("/customers", NAME, key="k"), 201)
    with nothing_changes():
        read(world.admin.post("/customers", NAME, key="k"), 201)
