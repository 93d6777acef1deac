"""A broker that is away, or that takes connections and says nothing."""

from __future__ import annotations

import random
import signal
import time
import uuid

from tests import builders
from tests.faults.clients import Client
from tests.faults.load import job
from tests.faults.outcome import Outcome
from tests.faults.stack import Servers, stack
from tests.faults.workers import drained

_SLOWEST_WRITE_S = 8.0


def away(servers: Servers, seed: int, *, seconds: float, hangs_s: float) -> Outcome:
    """Take the broker away, then let it hang: every write is taken meanwhile, the work follows."""
    outcome, chance = Outcome("broker away, broker hanging", seed), random.Random(seed)
    with stack(servers) as made, made.web(PULLBACK_WEB_PROCESSES="1"), made.worker(2):
        client = made.client()
        runs = [_visit(client)]
        servers.broker.kill()
        runs += _write_for(client, seconds, chance)
        servers.broker.start()
        process = servers.broker.process
        assert process is not None
        runs += _write_for(client, 0.5, chance)
        process.send_signal(signal.SIGSTOP)
        try:
            runs += _write_for(client, hangs_s, chance)
        finally:
            process.send_signal(signal.SIGCONT)
        drained(made, runs, outcome)
        outcome.wrong += _not_taken(client)
        outcome.rounds = len(client.answers)
        slowest = max(answer.took_s for answer in client.answers)
        outcome.note = f"away {seconds:g} s, hanging {hangs_s:g} s; {len(runs)} runs, slowest answer {slowest:.2f} s"
    return outcome.ended()


def _write_for(client: Client, seconds: float, chance: random.Random) -> list[str]:
    until, runs = time.monotonic() + seconds, []
    while time.monotonic() < until:
        runs.append(_visit(client))
        time.sleep(chance.uniform(0, 0.2))
    return runs


def _visit(client: Client) -> str:
    """Do one visit, asking once only: no answer may be an error."""
    made, run = client.ask("POST", "/jobs", job(uuid.uuid4().hex)), str(uuid.uuid4())
    client.ask("PUT", f"/runs/{run}", builders.run(made.document["id"]))
    client.ask("POST", f"/runs/{run}/submit")
    return run


def _not_taken(client: Client) -> list[str]:
    refused = [answer for answer in client.answers if not answer.is_accepted]
    slow = [answer for answer in client.answers if answer.took_s > _SLOWEST_WRITE_S]
    found = [f"a write was refused while the broker was away: {answer.status}" for answer in refused]
    return found + [f"a write took {answer.took_s:.1f} s while the broker was away" for answer in slow]
