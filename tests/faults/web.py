"""Web processes that are killed while clients repeat themselves, or stopped while they answer."""

from __future__ import annotations

import random
import signal
import threading
import time
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from subprocess import TimeoutExpired
from typing import Any

from tests import builders
from tests.faults.clients import BROKEN, Answer, Client
from tests.faults.load import job
from tests.faults.outcome import Outcome
from tests.faults.stack import Servers, Stack, kill_child, stack, until

_AT_ONCE = 6


def killed(servers: Servers, seed: int, *, rounds: int) -> Outcome:
    """Kill the web process at random moments of six requests that are under way; all are repeated until answered."""
    outcome, chance = Outcome("web process killed, clients retry", seed), random.Random(seed)
    jobs: list[str] = []
    runs: list[str] = []
    sealed: list[str] = []
    broken = 0
    with stack(servers) as made, made.web(PULLBACK_WEB_PROCESSES="1") as web, ThreadPoolExecutor(_AT_ONCE) as pool:
        drafts = [_draft(made.client(), jobs, runs) for _ in range(2)]
        for _ in range(rounds):
            client = made.client()
            acts = [_posts_job(client, jobs), _posts_job(client, jobs), _puts_job(client, jobs)]
            acts += [_puts_run(client, jobs[0], runs), *(_submits(client, run, sealed) for run in drafts)]
            killer = threading.Timer(chance.uniform(0.005, 0.2), kill_child, (web, 0))
            killer.start()
            for said in pool.map(lambda act: act(), acts):
                outcome.wrong += said
            killer.join()
            broken += client.breaks
            until(lambda: _answers(made), 20)
            drafts = [_draft(made.client(), jobs, runs) for _ in range(2)]
            outcome.rounds += 1
        with made.worker(2):
            until(lambda: not made.effects.open_calculations(), 60, every=0.2)
        counts = [
            made.effects.made("job", jobs, event="requested", action="requested"),
            made.effects.made("run", runs, event="created", action="created"),
            made.effects.made("run", sealed, event="submitted", action="submitted"),
        ]
        outcome.lost, outcome.doubled = (sum(numbers) for numbers in zip(*counts, strict=True))
        outcome.wrong += made.verify() + made.wrong
    outcome.note = f"{rounds * _AT_ONCE} requests, {broken} broken off and repeated"
    return outcome.ended()


def _answers(made: Stack) -> bool:
    try:
        return made.client().ask("GET", "/jobs?limit=1").status == 200
    except BROKEN:
        return False


def _draft(client: Client, jobs: list[str], runs: list[str]) -> str:
    """Make a job with a draft; return the draft's id."""
    made, run = client.insist("POST", "/jobs", job(uuid.uuid4().hex)), str(uuid.uuid4())
    jobs.append(made.document["id"])
    client.insist("PUT", f"/runs/{run}", builders.run(jobs[-1]))
    runs.append(run)
    return run


def _same(what: str, first: Answer, again: Answer) -> list[str]:
    if (first.status, first.body, first.headers.get("etag")) == (again.status, again.body, again.headers.get("etag")):
        return []
    return [f"{what}: another answer under the same key: {first.body[:200]!r} and {again.body[:200]!r}"]


def _posts_job(client: Client, jobs: list[str]) -> Callable[[], list[str]]:
    body, key = job(uuid.uuid4().hex), str(uuid.uuid4())

    def act() -> list[str]:
        first = client.insist("POST", "/jobs", body, key=key)
        jobs.append(first.document["id"])
        return _same("POST /jobs", first, client.insist("POST", "/jobs", body, key=key)) + _is(first, 201)

    return act


def _puts_job(client: Client, jobs: list[str]) -> Callable[[], list[str]]:
    id = str(uuid.uuid4())
    return _puts(client, f"/jobs/{id}", job(id), lambda: jobs.append(id))


def _puts_run(client: Client, job_id: str, runs: list[str]) -> Callable[[], list[str]]:
    id = str(uuid.uuid4())
    return _puts(client, f"/runs/{id}", builders.run(job_id), lambda: runs.append(id))


def _puts(client: Client, path: str, body: Any, note: Callable[[], None]) -> Callable[[], list[str]]:
    def act() -> list[str]:
        first = client.insist("PUT", path, body)
        note()
        again = client.insist("PUT", path, body)
        same = first.body == again.body and again.status == 200 and first.headers["etag"] == again.headers["etag"]
        return _is(first, 200, 201) + ([] if same else [f"PUT {path}: {first.body[:200]!r} then {again.body[:200]!r}"])

    return act


def _submits(client: Client, run: str, sealed: list[str]) -> Callable[[], list[str]]:
    key = str(uuid.uuid4())

    def act() -> list[str]:
        first = client.insist("POST", f"/runs/{run}/submit", key=key)
        sealed.append(run)
        again = client.insist("POST", f"/runs/{run}/submit", key=key)
        return _is(first, 202) + _same("POST submit", first, again)

    return act


def _is(answer: Answer, *wanted: int) -> list[str]:
    return [] if answer.status in wanted else [f"answered {answer.status}: {answer.body[:300]!r}"]


def stopped(servers: Servers, seed: int, *, rounds: int) -> Outcome:
    """Send SIGTERM to the web server while it answers long requests: each that it had begun ends with its answer."""
    outcome, chance = Outcome("SIGTERM to web under load", seed), random.Random(seed)
    slowest, jobs = 0.0, []
    with stack(servers) as made:
        for _ in range(rounds):
            with made.web() as web, ThreadPoolExecutor(_AT_ONCE) as pool:
                _warm(made, pool)
                batches = [_batch_of_jobs() for _ in range(_AT_ONCE)]
                answers = [pool.submit(_long_request, made.client(), batch) for batch in batches]
                time.sleep(chance.uniform(0.1, 0.3))
                began = time.monotonic()
                web.send_signal(signal.SIGTERM)
                try:
                    web.wait(40)
                except TimeoutExpired:
                    outcome.wrong.append("the web server did not end within 40 s after SIGTERM")
                slowest = max(slowest, time.monotonic() - began)
                outcome.wrong += [said for answer in answers if (said := answer.result())]
                jobs += [entry["path"].rpartition("/")[2] for batch in batches for entry in batch["entries"]]
            outcome.rounds += 1
        outcome.lost, outcome.doubled = made.effects.made("job", jobs, event="requested", action="requested")
        outcome.wrong += made.verify() + made.wrong
    outcome.note = f"{rounds * _AT_ONCE} requests under way, slowest stop {slowest:.1f} s"
    return outcome.ended()


def _warm(made: Stack, pool: ThreadPoolExecutor) -> None:
    """Let every process answer once: what is measured is a request, not the first import."""
    list(pool.map(lambda _: made.client().insist("GET", "/jobs?limit=1"), range(16)))


def _batch_of_jobs() -> dict[str, Any]:
    ids = [str(uuid.uuid4()) for _ in range(40)]
    entries = [{"method": "PUT", "path": f"/jobs/{id}", "body": job(id)} for id in ids]
    return {"mode": "independent", "entries": entries}


def _long_request(client: Client, batch: dict[str, Any]) -> str:
    try:
        answer = client.ask("POST", "/batches", batch)
    except BROKEN as error:
        return f"a request that was under way was broken off: {error!r}"
    refused = [one["status"] for one in answer.document.get("entries", []) if one["status"] != 201]
    return "" if answer.status == 200 and not refused else f"{answer.status} {answer.body[:200]!r} {refused[:3]}"
