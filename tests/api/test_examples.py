"""The examples on the human page work as shown, in the order they stand there; every body that is taken has one."""

from __future__ import annotations

import json
from typing import Any

import pytest

from inspections.api.shapes import examples
from tests import builders, people
from tests.api.test_code_maps import ALDER
from tests.client import Api
from tests.processes import ROOT

pytestmark = pytest.mark.django_db

# The document of a version is a whole scheme, book or set of rules: one is read at the same address.
WITHOUT = {f"/api/v1/{name}" for name in ("grading-schemes", "rate-books", "rule-sets", "code-maps")}


def shown() -> dict[tuple[str, str], list[Any]]:
    """Return every example of a body by verb and address, as the committed document shows it."""
    document = json.loads((ROOT / "inspections" / "api" / "openapi.json").read_text())
    found: dict[tuple[str, str], list[Any]] = {}
    for path, verbs in document["paths"].items():
        for verb, operation in verbs.items():
            for content in operation.get("requestBody", {}).get("content", {}).values():
                values = [one["value"] for one in content.get("examples", {}).values()]
                found.setdefault((verb, path.removeprefix("/api/v1")), []).extend(values)
    return found


class Walk:
    """Sends each example of an address, and remembers which were sent."""

    def __init__(self, api: Api) -> None:
        self.api = api
        self.sent: set[tuple[str, str]] = set()

    def send(self, verb: str, address: str, status: int, **ids: str) -> Any:
        """Send the examples of an address; return the last answer."""
        answer: Any = None
        for value in shown()[verb, address]:
            self.sent.add((verb, address))
            path = address.format(**ids)
            match = {} if verb == "post" or status == 201 else {"If-Match": "*"}
            if address.startswith("/imports"):
                line = json.dumps(value).encode()
                answer = self.api._send("POST", path, line, {"Idempotency-Key": address}, media="application/x-ndjson")
            else:
                answer = getattr(self.api, verb)(path, value, **match)
            assert answer.status_code == status, (verb, address, answer.content)
        return json.loads(answer.content.splitlines()[0])


def test_every_body_that_is_taken_has_an_example() -> None:
    bare = {path for (verb, path), values in shown().items() if not values}
    assert {f"/api/v1{path}" for path in bare} == WITHOUT


def test_every_example_is_accepted_as_shown(api: Api, firm: people.Firm, works: None) -> None:
    walk = Walk(api)
    job = walk.send("put", "/jobs/{id}", 201, id=examples.JOB_ID)
    lateral = job["property"]["laterals"][0]["id"]
    walk.send("post", "/jobs", 200)  # the same reference is the same job
    _run(walk)
    _other_run(walk, job["id"], lateral)
    walk.send("put", "/laterals/{id}/site", 200, id=lateral)
    walk.send("patch", "/laterals/{id}/site", 200, id=lateral)
    scope = walk.send("post", "/laterals/{id}/repair-scopes", 202, id=lateral)["id"]
    assert api.get(f"/repair-scopes/{scope}").json()["state"] == "done"
    _bids(walk, scope)
    walk.send("post", "/repair-scopes/{id}/closings", 202, id=scope)
    walk.send("post", "/imports", 200)
    _records(walk)
    walk.send("patch", "/jobs/{id}", 200, id=examples.JOB_ID)
    walk.send("post", "/batches", 200)
    for address in [address for _, address in shown() if address.startswith("/checks/")]:
        walk.send("post", address, 200)
    walk.api = Api(firm.token("admin"))
    _kept_by_administrators(walk, lateral)
    assert walk.sent == {place for place, values in shown().items() if values}


def _run(walk: Walk) -> None:
    walk.send("put", "/runs/{id}", 201, id=examples.RUN_ID)
    walk.send("patch", "/runs/{id}", 200, id=examples.RUN_ID)
    assert walk.api.post(f"/runs/{examples.RUN_ID}/submit").status_code == 202
    walk.send("post", "/runs/{id}/return", 200, id=examples.RUN_ID)
    walk.send("post", "/runs/{id}/amendments", 201, id=examples.RUN_ID)


def _other_run(walk: Walk, job: str, lateral: str) -> None:
    """Have the other run there that a decision names, and one sent without an id of its own."""
    other = builders.run(job) | {"defects": [{"ref": "1", "kind": "fracture", "at": 27.5, "pattern": "multiple"}]}
    assert walk.api.put(f"/runs/{examples.OTHER_RUN_ID}", other).status_code == 201
    assert walk.api.post(f"/runs/{examples.OTHER_RUN_ID}/submit").status_code == 202
    walk.send("post", "/laterals/{id}/match-decisions", 201, id=lateral)
    walk.send("post", "/runs", 201)


def _bids(walk: Walk, scope: str) -> None:
    bid = walk.send("post", "/repair-scopes/{id}/bids", 201, id=scope)["id"]
    walk.send("put", "/repair-scopes/{id}/bids/{bid}", 201, id=scope, bid=examples.RUN_ID)
    walk.send("patch", "/repair-scopes/{id}/bids/{bid}", 200, id=scope, bid=bid)
    walk.send("post", "/repair-scopes/{id}/bids/{bid}/withdraw", 200, id=scope, bid=bid)


def _records(walk: Walk) -> None:
    """Properties go first under the id that access points name."""
    walk.send("put", "/properties/{id}", 201, id=examples.PROPERTY_ID)
    walk.send("post", "/properties", 200)
    walk.send("patch", "/properties/{id}", 200, id=examples.PROPERTY_ID)
    for name in ("customers", "access-points"):
        made = walk.send("post", f"/{name}", 201)["id"]
        walk.send("put", f"/{name}/{{id}}", 200, id=made)
        walk.send("patch", f"/{name}/{{id}}", 200, id=made)
    for name in ("customers", "properties", "access-points", "jobs", "runs"):
        assert walk.send("post", f"/imports/{name}", 200)["outcome"] == "made"


def _kept_by_administrators(walk: Walk, lateral: str) -> None:
    walk.send("post", "/tokens", 201)
    walk.send("post", "/recomputations", 202)
    walk.send("post", "/laterals/{id}/report-links", 201, id=lateral)
    customer = walk.api.get("/customers?external_ref=C-3100").json()["items"][0]["id"]
    walk.send("post", "/customers/{id}/erase", 200, id=customer)
    subscription = walk.send("post", "/subscriptions", 201)["id"]
    walk.send("put", "/subscriptions/{id}", 200, id=subscription)
    walk.send("patch", "/subscriptions/{id}", 200, id=subscription)
    walk.send("post", "/subscriptions/{id}/rotate-secret", 200, id=subscription)
    code_map = walk.api.post("/code-maps", {"document": ALDER}).json()["id"]
    walk.send("post", "/code-maps/{id}/to-external", 200, id=code_map)
    walk.send("post", "/code-maps/{id}/from-external", 200, id=code_map)
