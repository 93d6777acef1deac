"""A disk that is full: the database's own, and that of the embedded service, where everything it writes lies."""

from __future__ import annotations

import signal
import sys
import time
import uuid

from tests import builders
from tests.faults.clients import Client
from tests.faults.load import Writers, job
from tests.faults.outcome import Outcome
from tests.faults.servers import Cluster, ballast, scratch, small_disk
from tests.faults.stack import ORGANISATION, SCOPES, Servers, prepare, stack, until
from tests.processes import end, manage, running, settings_for, spare_port, wait_for

_WORDS = "Clean-out behind the hydrangea. " * 120  # almost the most a job may say: a disk is soon full of it


def database_full(servers: Servers, seed: int, *, rounds: int) -> Outcome:
    """Fill the disk under PostgreSQL while clients write, then make room."""
    outcome = Outcome("disk full under PostgreSQL", seed)
    with scratch() as home, small_disk(home / "disk", 160) as disk:
        cluster = Cluster(disk, wal="32MB")
        ours = Servers(home, cluster, servers.broker)
        try:
            cluster.start()
            prepare(ours)
            with stack(ours) as made, made.web(), made.worker(1):
                writers, client = Writers(made, 2, seed), made.client()
                with writers.writing():
                    for _ in range(rounds):
                        until(lambda: len(writers.jobs) >= 2, 60)
                        with ballast(disk, leave_kb=400):
                            outcome.wrong += _refuses_at_last(client)
                        cluster.start()  # without room for its log PostgreSQL ends itself; whoever runs it starts it
                        outcome.wrong += _takes_again(client)
                        outcome.rounds += 1
                outcome.drain_s = until(lambda: not made.effects.open_calculations(), 120, every=0.2)
                counts = [
                    made.effects.made("job", writers.jobs, event="requested", action="requested"),
                    made.effects.graded(writers.runs),
                ]
                outcome.lost, outcome.doubled = (sum(numbers) for numbers in zip(*counts, strict=True))
                outcome.wrong += writers.failures + made.verify() + made.wrong
                refused = sum(
                    1 for one in (client, *writers.clients) for answer in one.answers if answer.status == 503
                )
                outcome.note = f"{len(writers.jobs)} jobs acknowledged, {refused} answers were 503"
        finally:
            cluster.kill(signal.SIGQUIT) if cluster.process and cluster.process.poll() is None else None
    return outcome.ended()


def _refuses_at_last(client: Client) -> list[str]:
    """Write until the disk is full and the service says so."""
    for _ in range(400):
        id = str(uuid.uuid4())
        answer = client.ask("PUT", f"/jobs/{id}", {**job(id), "instructions": _WORDS})
        if answer.status == 503:
            return []
        if not answer.is_accepted:
            return [f"with a full disk: {answer.status} {answer.body[:200]!r}"]
    return ["the disk never got full: nothing was shown"]


def _takes_again(client: Client) -> list[str]:
    """Hold that a write is taken within two seconds of there being room."""
    began, id = time.monotonic(), str(uuid.uuid4())
    client.insist("PUT", f"/jobs/{id}", job(id), within=20)
    took = time.monotonic() - began
    return [] if took < 4 else [f"with room again, a write was taken after {took:.1f} s only"]


def embedded_full(seed: int, *, rounds: int) -> Outcome:
    """Fill the disk on which everything lies that the embedded service writes."""
    outcome = Outcome("disk full, embedded service", seed)
    with scratch() as home, small_disk(home / "disk", 24) as disk:
        environment, port, log = settings_for(disk / "home", PULLBACK_LEASE_SECONDS="5"), spare_port(), home / "log"
        with running(environment, log, sys.executable, "manage.py", "serve", "--port", str(port)) as process:
            wait_for(f"http://127.0.0.1:{port}/healthz", log)
            arguments = ("--organisation", ORGANISATION, "--create", "--scopes", SCOPES)
            client = Client(port, manage(environment, "token", *arguments), outcome.wrong)
            kept: list[str] = []
            for _ in range(rounds):
                kept += _submit(client)
                with ballast(disk, leave_kb=200):
                    outcome.wrong += _refuses_at_last(client)
                    outcome.wrong += _reads(client, kept)
                outcome.wrong += _takes_again(client)
                outcome.rounds += 1
            outcome.drain_s = until(lambda: _all_graded(client, kept), 60)
            outcome.lost = 0 if outcome.drain_s is not None else len(kept)
            end(process)
        outcome.wrong += _verified(environment)
        outcome.note = f"{sum(1 for answer in client.answers if answer.status == 503)} answers were 503"
    return outcome.ended()


def start_without_room(seed: int) -> Outcome:
    """Start the embedded service on a disk without room: it says so and ends; with room, the same home starts."""
    outcome = Outcome("start without room, embedded service", seed, rounds=1)
    with scratch() as home, small_disk(home / "disk", 8) as disk:
        environment, port, log = settings_for(disk / "home"), spare_port(), home / "log"
        command = (sys.executable, "manage.py", "serve", "--port", str(port))
        with ballast(disk, leave_kb=300), running(environment, log, *command) as process:
            if process.wait(60) == 0:
                outcome.wrong.append("it started without room for its tables")
            if "full" not in log.read_text():
                outcome.wrong.append("it did not say that the disk is full")
        with running(environment, log, *command):
            wait_for(f"http://127.0.0.1:{port}/healthz", log)
        outcome.wrong += _verified(environment)
    return outcome.ended()


def _submit(client: Client) -> list[str]:
    made, run = client.insist("POST", "/jobs", job(uuid.uuid4().hex)), str(uuid.uuid4())
    client.insist("PUT", f"/runs/{run}", builders.run(made.document["id"]))
    client.insist("POST", f"/runs/{run}/submit")
    return [run]


def _reads(client: Client, runs: list[str]) -> list[str]:
    """Hold that what was accepted can be read though nothing can be written."""
    answers = [client.ask("GET", f"/runs/{run}") for run in runs[-2:]]
    return [f"reading with a full disk: {answer.status}" for answer in answers if answer.status not in (200, 503)]


def _all_graded(client: Client, runs: list[str]) -> bool:
    return all(client.ask("GET", f"/runs/{run}/grading").status == 200 for run in runs)


def _verified(environment: dict[str, str]) -> list[str]:
    try:
        manage(environment, "verify_audit")
    except AssertionError as error:
        return [str(error)[-300:]]
    return []
