"""An inspector's day without a network: sent in any order, every request twice, every third answer lost."""

from __future__ import annotations

import random
import uuid
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.db import transaction

from inspections import exact_json
from inspections.models import Amendment, AuditEntry, Calculation, Event, Job, Lateral, Run
from tests import builders
from tests.api.answers import job_of, read
from tests.client import Api

PATCH = "application/merge-patch+json"


@dataclass(frozen=True)
class Request:
    """One thing the client wrote down to be sent when the network is back."""

    method: str
    path: str
    body: Any = None
    headers: dict[str, str] = field(default_factory=dict)

    def send(self, api: Api) -> int:
        """Send it alone and return the status."""
        raw = b"" if self.body is None else exact_json.write(self.body)
        media = PATCH if self.method == "PATCH" else "application/json"
        where = f"/api/v1{self.path}"
        return api.http.generic(self.method, where, raw, content_type=media, headers=self.headers).status_code

    def entry(self) -> dict[str, Any]:
        """Return it as an entry of a batch."""
        entry = {"method": self.method, "path": self.path, "body": self.body, "headers": self.headers}
        return {name: value for name, value in entry.items() if value}


def day(job: dict[str, Any], name: str) -> list[Request]:
    """A job's day: two runs, one corrected as a draft, one amended after it was sealed; the site; a way in."""
    first, second, point = (str(uuid.uuid5(uuid.NAMESPACE_URL, f"{name}/{n}")) for n in ("run1", "run2", "point"))
    property, lateral = job["property"]["id"], job["property"]["laterals"][0]["id"]
    access = {"property": property, "units": "us", "kind": "clean_out", "label": "front clean-out"}
    corrected = builders.run(job["id"], inspector="Ivy Lark")
    amendment = {"reason": "Read the counter again.", "changes": {"counter_end": exact_json.load("18.290")}}
    return [
        Request("PUT", f"/access-points/{point}", access),
        Request("PUT", f"/runs/{first}", builders.run(job["id"])),
        Request("PUT", f"/runs/{first}", corrected, {"If-Match": '"1"'}),
        Request("POST", f"/runs/{first}/submit", None, {"Idempotency-Key": f"{first}-submit", "If-Match": '"2"'}),
        Request("PUT", f"/runs/{second}", builders.upstream_run(job["id"])),
        Request("POST", f"/runs/{second}/submit", None, {"Idempotency-Key": f"{second}-submit"}),
        Request("POST", f"/runs/{second}/amendments", amendment, {"Idempotency-Key": f"{second}-amend"}),
        Request("PUT", f"/laterals/{lateral}/site", builders.site()),
    ]


class Unreliable:
    """A client that sends everything twice, hears two of three answers, and goes on until it has heard all."""

    def __init__(self, api: Api, chance: random.Random) -> None:
        self.api, self.chance, self.sent = api, chance, 0

    def settle(self, queue: list[Request]) -> None:
        """Send the queue in changing orders until every request is known to be done."""
        waiting = list(queue)
        for _ in range(30):
            self.chance.shuffle(waiting)
            waiting = [request for request in waiting if not self._heard_of(request)]
            if not waiting:
                return
        raise AssertionError([request.path for request in waiting])

    def _heard_of(self, request: Request) -> bool:
        statuses = [request.send(self.api) for _ in range(2)]
        heard = []
        for status in statuses:
            self.sent += 1
            if self.sent % 3:
                heard.append(status)
        return _is_done(request, heard)


def _is_done(request: Request, statuses: list[int]) -> bool:
    """Say whether the client may cross a request off its list."""
    # A draft that was corrected meanwhile is history: 428, or 409 once it is sealed.
    is_past = request.method == "PUT" and any(status in (409, 428) for status in statuses)
    return is_past or any(status < 300 for status in statuses)


def state(job: dict[str, Any], api: Api) -> dict[str, Any]:
    """Return all that the day is to leave behind, without times and made-up ids."""
    lateral = job["property"]["laterals"][0]["id"]
    documents = {
        "job": read(api.get(f"/jobs/{job['id']}")),
        "runs": [read(api.get(f"/runs/{run.id}")) for run in Run.objects.filter(job=job["id"]).order_by("id")],
        "site": read(api.get(f"/laterals/{lateral}/site")),
    }
    chain = AuditEntry.objects.values_list("record_type", "action").order_by("record_type", "action")
    counts = {
        "amendments": Amendment.objects.count(),
        "calculations": Calculation.objects.count(),
        "inputs_revision": Lateral.objects.get(pk=lateral).inputs_revision,
        "site_revision": Lateral.objects.get(pk=lateral).site_revision,
        "trail": list(chain),
        "events": sorted(Event.objects.values_list("type", flat=True)),
        "jobs": Job.objects.count(),
    }
    untold = ("created_at", "updated_at", "submitted_at", "runs")
    return {"documents": _without(documents, untold), "runs": len(documents["runs"]), **counts}


def _without(value: Any, names: tuple[str, ...]) -> Any:
    if isinstance(value, dict):
        kept = {name: _without(member, names) for name, member in value.items() if name not in names or name == "runs"}
        return {k: sorted(v) if k == "runs" and v and isinstance(v[0], str) else v for k, v in kept.items()}
    return [_without(one, names) for one in value] if isinstance(value, list) else value


@pytest.fixture
def expected(api: Api, db: None) -> tuple[dict[str, Any], dict[str, Any]]:
    """The job, and the state after the day sent once, in order, over a good network; taken back again."""
    job = job_of(api)
    with transaction.atomic():
        for request in day(job, "day"):
            assert request.send(api) < 300, request
        result = state(job, api)
        transaction.set_rollback(True)
    return job, result


@pytest.mark.parametrize("seed", range(6))
def test_the_day_ends_in_the_same_state_whatever_the_network_does(
    seed: int, api: Api, expected: tuple[dict[str, Any], dict[str, Any]]
) -> None:
    job, wanted = expected
    Unreliable(api, random.Random(seed)).settle(day(job, "day"))
    assert state(job, api) == wanted


@pytest.mark.parametrize("seed", range(4))
def test_the_day_sent_in_doubled_batches_ends_in_the_same_state(
    seed: int, api: Api, expected: tuple[dict[str, Any], dict[str, Any]]
) -> None:
    job, wanted = expected
    chance, waiting, rounds = random.Random(seed), day(job, "day"), 0
    while waiting:
        rounds += 1
        assert rounds < 20, waiting
        chance.shuffle(waiting)
        batch = {"mode": "independent", "entries": [one.entry() for one in waiting for _ in range(2)]}
        key = f"round-{rounds}"
        first, again = (api.post("/batches", exact_json.write(batch), key=key) for _ in range(2))
        assert again.content == first.content
        if rounds % 3 == 0:
            continue  # the answer is lost; what was done is sent again with the next batch
        answers = read(first)["entries"]
        pairs = [answers[2 * n : 2 * n + 2] for n in range(len(waiting))]
        is_done = [_is_done(one, [int(a["status"]) for a in pair]) for one, pair in zip(waiting, pairs, strict=True)]
        waiting = [one for one, done in zip(waiting, is_done, strict=True) if not done]
    assert state(job, api) == wanted
