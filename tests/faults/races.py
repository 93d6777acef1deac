"""Writers at the same moment, over HTTP, against several web processes."""

from __future__ import annotations

import random
import uuid
from typing import Any

from tests import builders
from tests.faults.clients import Answer, Client
from tests.faults.load import at_once, job
from tests.faults.outcome import Outcome
from tests.faults.stack import Servers, Stack, stack, until

_WRITERS = 8
_POSTS = 50


def one_etag(servers: Servers, seed: int, *, rounds: int) -> Outcome:
    """Let eight writers change one record at the revision they all read: one wins, seven are told."""
    outcome = Outcome("8 writers with one ETag", seed)
    with stack(servers) as made, made.web():
        client = made.client()
        job_id = client.insist("POST", "/jobs", job(uuid.uuid4().hex)).document["id"]
        run_id = str(uuid.uuid4())
        client.insist("PUT", f"/runs/{run_id}", builders.run(job_id))
        for number in range(rounds):
            path, name = ((f"/jobs/{job_id}", "instructions"), (f"/runs/{run_id}", "inspector"))[number % 2]
            before = client.ask("GET", path)
            texts = [f"Writer {writer} of round {number}" for writer in range(_WRITERS)]
            answers = at_once([_patch(made, path, {name: text}, before.headers["etag"]) for text in texts])
            statuses = sorted(answer.status for answer in answers)
            after = client.ask("GET", path).document
            won = [text for text, answer in zip(texts, answers, strict=True) if answer.status == 200]
            outcome.lost += len(won) - 1 if len(won) > 1 else 0  # an update that was overwritten
            if statuses != [200] + [412] * (_WRITERS - 1):
                outcome.wrong.append(f"round {number}: {statuses}")
            elif after[name] != won[0] or after["revision"] != before.document["revision"] + 1:
                outcome.wrong.append(f"round {number}: the record does not say what its winner wrote")
            outcome.rounds += 1
        changes = made.effects.one("SELECT count(*) FROM inspections_auditentry WHERE action = 'changed'")
        outcome.doubled = changes - rounds
        outcome.wrong += made.verify() + made.wrong
    return outcome.ended()


def _patch(made: Stack, path: str, body: Any, etag: str) -> Any:
    return lambda: made.client().ask("PATCH", path, body, If_Match=etag)


def identical_posts(servers: Servers, seed: int, *, rounds: int) -> Outcome:
    """Post one job fifty times at once under one key: one record, one answer."""
    outcome = Outcome("50 identical posts", seed)
    with stack(servers) as made, made.web():
        ids = []
        for _ in range(rounds):
            body, key = job(uuid.uuid4().hex), str(uuid.uuid4())
            answers = at_once([_post(made, body, key)] * _POSTS)
            outcome.wrong += [] if len({answer.body for answer in answers}) == 1 else ["answers differ"]
            outcome.wrong += [f"answered {one.status}" for one in answers if one.status != 201]
            ids += sorted({answer.document["id"] for answer in answers})
            outcome.rounds += 1
        outcome.lost, outcome.doubled = made.effects.made("job", ids, event="requested", action="requested")
        outcome.doubled += made.effects.one("SELECT count(*) FROM inspections_job") - rounds
        outcome.wrong += made.verify() + made.wrong
    return outcome.ended()


def _post(made: Stack, body: Any, key: str) -> Any:
    return lambda: made.client().insist("POST", "/jobs", body, key=key)


def crosswise(servers: Servers, seed: int, *, rounds: int) -> Outcome:
    """Let requests lock the same records in opposite orders, beside a worker that locks them too: none is an error."""
    outcome, chance = Outcome("opposite lock orders", seed), random.Random(seed)
    with stack(servers) as made, made.web(), made.worker(2):
        client = made.client()
        jobs = [client.insist("POST", "/jobs", job(uuid.uuid4().hex)).document for _ in range(4)]
        runs = [_sealed_run(client), _sealed_run(client)]
        until(lambda: not made.effects.open_calculations(), 60)
        for number in range(rounds):
            orders = [jobs, jobs[::-1], chance.sample(jobs, 4), chance.sample(jobs, 4)]
            acts = [_batch_of_patches(made, order, f"{number}.{n}") for n, order in enumerate(orders)]
            acts += [_batch_of_amendments(made, runs), _batch_of_amendments(made, runs[::-1])]
            refs = [uuid.uuid4().hex, uuid.uuid4().hex]  # no row to lock yet: only trying again helps here
            acts += [_batch_of_posts(made, refs), _batch_of_posts(made, refs[::-1])]
            answers: list[Answer] = at_once(acts)
            outcome.wrong += [said for answer in answers if (said := _fault_of(answer))]
            outcome.rounds += 1
        outcome.drain_s = until(lambda: not made.effects.open_calculations(), 60)
        changed = made.effects.one(
            "SELECT count(*) FROM inspections_auditentry WHERE action IN ('changed', 'amended')"
        )
        wanted = rounds * (4 * len(jobs) + 2 * len(runs))
        new = made.effects.one("SELECT count(*) FROM inspections_job") - len(jobs) - len(runs)
        outcome.lost = max(0, wanted - changed) + max(0, 2 * rounds - new)
        outcome.doubled = max(0, changed - wanted) + max(0, new - 2 * rounds)
        log = servers.cluster.log.read_text().count("deadlock detected")
        outcome.note = f"PostgreSQL ended {log} transactions that waited for each other"
        outcome.wrong += made.verify() + made.wrong
    return outcome.ended()


def _batch_of_patches(made: Stack, order: list[Any], word: str) -> Any:
    entries = [
        {
            "method": "PATCH",
            "path": f"/jobs/{one['id']}",
            "headers": {"If-Match": "*"},
            "body": {"instructions": f"Word {word}."},
        }
        for one in order
    ]
    return lambda: made.client().ask("POST", "/batches", {"mode": "independent", "entries": entries})


def _batch_of_posts(made: Stack, refs: list[str]) -> Any:
    entries = [{"method": "POST", "path": "/jobs", "body": job(ref)} for ref in refs]
    return lambda: made.client().ask("POST", "/batches", {"mode": "independent", "entries": entries})


def _sealed_run(client: Client) -> str:
    """Submit a run on a lateral of its own; return its id."""
    made, id = client.insist("POST", "/jobs", job(uuid.uuid4().hex)).document, str(uuid.uuid4())
    client.insist("PUT", f"/runs/{id}", builders.run(made["id"]))
    assert client.insist("POST", f"/runs/{id}/submit").status == 202
    return id


def _batch_of_amendments(made: Stack, runs: list[str]) -> Any:
    """Amend runs in one batch: it locks each run, its lateral and its calculation, which the worker locks too."""
    entries = [
        {
            "method": "POST",
            "path": f"/runs/{id}/amendments",
            "body": {"reason": "Somebody else looked.", "changes": {"inspector": uuid.uuid4().hex}},
        }
        for id in runs
    ]
    return lambda: made.client().ask("POST", "/batches", {"mode": "independent", "entries": entries})


def _fault_of(answer: Answer) -> str:
    if answer.status != 200:
        return f"a batch was answered {answer.status}: {answer.body[:300]!r}"
    refused = [one for one in answer.document["entries"] if one["status"] >= 300]
    return f"an entry was answered {refused[0]['status']}: {str(refused[0]['body'])[:300]}" if refused else ""
