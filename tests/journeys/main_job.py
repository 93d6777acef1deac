"""The main job as a client program does it, over HTTP."""

from __future__ import annotations

import json
import time
import urllib.error
import urllib.request
import uuid
from typing import Any

from tests import builders


class Caller:
    """JSON over HTTP with a token."""

    def __init__(self, base: str, token: str) -> None:
        self.base, self.token = base, token

    def call(self, verb: str, path: str, body: Any = None, **headers: str) -> tuple[int, Any]:
        """Send a request; return status and document."""
        raw = None if body is None else json.dumps(body).encode()
        sent = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json", **headers}
        if verb == "POST":
            sent.setdefault("Idempotency-Key", str(uuid.uuid4()))
        request = urllib.request.Request(f"{self.base}/api/v1{path}", method=verb, data=raw, headers=sent)
        try:
            with urllib.request.urlopen(request, timeout=20) as answer:
                content = answer.read()
                is_json = answer.headers["Content-Type"].startswith("application/json")
                return answer.status, json.loads(content) if is_json else content
        except urllib.error.HTTPError as error:
            return error.code, json.loads(error.read())

    def follow(self, id: str, within: float = 60) -> dict[str, Any]:
        """Return a calculation once it ended."""
        until = time.monotonic() + within
        while time.monotonic() < until:
            status, row = self.call("GET", f"/calculations/{id}")
            assert status == 200, row
            if row["state"] in ("done", "failed", "superseded"):
                return dict(row)
            time.sleep(0.02)
        raise AssertionError(f"calculation {id} did not end within {within} s: {row}")


def do_main_job(caller: Caller, ref: str) -> dict[str, Any]:
    """Post a job, send two runs from opposite ends, ask for a scope; return what came out."""
    status, job = caller.call("POST", "/jobs", builders.job(external_ref=ref))
    assert status == 201, job
    lateral = job["property"]["laterals"][0]["id"]
    gradings = []
    for document in (builders.run(job["id"], lateral=lateral), builders.upstream_run(job["id"], lateral=lateral)):
        id = str(uuid.uuid4())
        status, run = caller.call("PUT", f"/runs/{id}", document)
        assert (status, run["state"]) == (201, "draft"), run
        status, submitted = caller.call("POST", f"/runs/{id}/submit")
        assert status == 202, submitted
        assert caller.follow(submitted["calculation"]["id"])["state"] == "done"
        gradings.append(caller.call("GET", f"/runs/{id}/grading")[1])
    status, _ = caller.call("PUT", f"/laterals/{lateral}/site", builders.site())
    assert status == 200
    status, asked = caller.call("POST", f"/laterals/{lateral}/repair-scopes", {"policy": {"fix_from_grade": 3}})
    assert status == 202, asked
    assert caller.follow(asked["calculation"]["id"])["state"] == "done"
    return {
        "gradings": gradings,
        "lateral": caller.call("GET", f"/laterals/{lateral}")[1],
        "scope": caller.call("GET", f"/repair-scopes/{asked['id']}")[1],
        "report": caller.call("GET", f"/laterals/{lateral}/report", Accept="application/pdf")[1],
    }


def check_outcome(outcome: dict[str, Any]) -> None:
    """Hold what came out against what the published rows say of the runs that went in.

    Displaced joint 1.0 in = 2.54 cm on a pipe under 300 mm: class 2, grade 6 - 2 = 4 (Stein & Partner 2001,
    ch. 4.7.4.3.1). Sag 40 %: class 3, grade 3. Two of 60 ft were under water: 58/60 seen.
    """
    grading = outcome["gradings"][0]
    grades = {(one["ref"], one["aspect"]): one["grade"] for one in grading["defects"]}
    assert grades[("c", "structural")] == 4
    assert grades[("d", "service")] == 3
    assert grading["structural"]["grade"] == 4
    assert grading["coverage"]["length_share"] == 0.9667
    lateral = outcome["lateral"]
    joint = next(one for one in lateral["defects"] if one["kind"] == "displaced_joint")
    assert {source["ref"] for source in joint["sources"]} == {"c", "u1"}
    assert abs(joint["station"] - 36) < 0.1
    plans = {plan["name"]: plan for plan in outcome["scope"]["plans"]}
    assert set(plans) == {"least_cost", "least_digging", "whole_line"}
    assert plans["least_cost"]["total"]["likely"] <= min(plan["total"]["likely"] for plan in plans.values())
    assert outcome["scope"]["proof"]["optimal"] is True
    assert outcome["report"].startswith(b"%PDF")
