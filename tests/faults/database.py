"""PostgreSQL that is killed, cuts connections, or makes statements and locks wait too long."""

from __future__ import annotations

import random
import signal
import threading
import time
import uuid

import psycopg

from tests.faults.clients import Client
from tests.faults.load import Writers, job
from tests.faults.outcome import DRAINED_WITHIN_S, Outcome
from tests.faults.stack import Servers, Stack, stack, until

_SETTLED_S = 2.0


def killed(servers: Servers, seed: int, *, kills: int) -> Outcome:
    """Kill PostgreSQL under load, by turns its postmaster (SIGKILL) and all of it (immediate shutdown)."""
    outcome, chance = Outcome("PostgreSQL killed under load", seed), random.Random(seed)
    away: list[tuple[float, float]] = []
    with stack(servers) as made, made.web(), made.worker(2):
        writers = Writers(made, 4, seed)
        with writers.writing():
            for number in range(kills):
                until(lambda number=number: len(writers.runs) >= 8 * (number + 1), 60)
                time.sleep(chance.uniform(0, 0.5))
                began = time.monotonic()
                servers.cluster.kill(signal.SIGKILL if number % 2 else signal.SIGQUIT)
                time.sleep(chance.uniform(1, 3))
                outcome.wrong += _answer_while_away(made)
                servers.cluster.start()
                away.append((began, time.monotonic()))
                time.sleep(_SETTLED_S + 2)
                outcome.rounds += 1
        _count(made, writers, outcome)
        late = [one for one in _refused(writers.clients) if not _is_during(one, away)]
        outcome.wrong += [f"an error {_SETTLED_S:.0f} s after PostgreSQL was back, or before it went"] * len(late)
        outcome.note = f"{len(writers.jobs)} jobs acknowledged, {len(_refused(writers.clients))} answers were 503"
        if not _refused(writers.clients):
            outcome.wrong.append("no request met the outage: nothing was shown")
    return outcome.ended()


def _refused(clients: list[Client]) -> list[float]:
    return [answer.at for client in clients for answer in client.answers if answer.status >= 500]


def _is_during(at: float, away: list[tuple[float, float]]) -> bool:
    return any(began <= at <= ended + _SETTLED_S for began, ended in away)


def _answer_while_away(made: Stack) -> list[str]:
    """Ask for one of everything while the database is away; each is a 503 of the one shape."""
    client, id = made.client(), str(uuid.uuid4())
    asked = [
        ("GET", "/jobs"),
        ("PUT", f"/jobs/{id}?dry_run=true"),
        ("PUT", f"/jobs/{id}"),
        ("GET", "/exports/jobs.ndjson"),
        ("POST", "/batches"),
    ]
    found = []
    for verb, path in asked:
        answer = client.ask(verb, path, job(id) if verb == "PUT" else {"entries": []} if verb == "POST" else None)
        if answer.status != 503:
            found.append(f"{verb} {path} answered {answer.status} while the database was away: {answer.body[:200]!r}")
    return found


def _count(made: Stack, writers: Writers, outcome: Outcome) -> None:
    """Count what was acknowledged and is not there, and what is there twice."""
    drain = until(lambda: not made.effects.open_calculations(), DRAINED_WITHIN_S * 2, every=0.2)
    outcome.drain_s = drain
    if drain is None:
        outcome.wrong.append(f"{made.effects.open_calculations()} calculations never ended")
    counts = [
        made.effects.made("job", writers.jobs, event="requested", action="requested"),
        made.effects.made("run", writers.runs, event="submitted", action="submitted"),
        made.effects.graded(writers.runs),
    ]
    outcome.lost, outcome.doubled = (sum(numbers) for numbers in zip(*counts, strict=True))
    outcome.wrong += writers.failures + made.verify() + made.wrong


def cut(servers: Servers, seed: int, *, rounds: int) -> Outcome:
    """Let the server end all connections of web and workers at random moments."""
    outcome, chance = Outcome("connections cut by the server", seed), random.Random(seed)
    with stack(servers) as made, made.web(), made.worker(2):
        writers, ended = Writers(made, 4, seed), 0
        with writers.writing():
            until(lambda: len(writers.runs) >= 2, 60)
            for _ in range(rounds):
                time.sleep(chance.uniform(0.05, 0.6))
                ended += made.effects.one(
                    "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity"
                    " WHERE datname = current_database() AND pid <> pg_backend_pid()"
                )
                outcome.rounds += 1
        _count(made, writers, outcome)
        outcome.note = f"{ended} connections cut, {len(_refused(writers.clients))} answers were 503"
    return outcome.ended()


def waiting(servers: Servers, seed: int, *, rounds: int) -> Outcome:
    """Let statements and locks wait longer than they may: a 503, nothing half-written, and well again after."""
    outcome = Outcome("statement and lock timeouts", seed)
    with stack(servers, PULLBACK_STATEMENT_TIMEOUT_MS="4500") as made, made.web():
        client, id = made.client(), str(uuid.uuid4())
        assert client.insist("PUT", f"/jobs/{id}", job(id)).status == 201
        for number in range(rounds):
            before = _state(made)
            # One row that somebody holds: lock_timeout. A whole table: PUT of a new record waits at its insert.
            held = f"SELECT 1 FROM inspections_job WHERE id = '{id}' FOR UPDATE"
            table = "LOCK TABLE inspections_auditentry IN ACCESS EXCLUSIVE MODE"
            new, key = str(uuid.uuid4()), str(uuid.uuid4())
            asked = [
                ("PATCH", f"/jobs/{id}", {"instructions": f"Word {number}."}),
                ("PUT", f"/jobs/{new}", job(new)),
                ("POST", "/jobs", job(key)),
            ]
            outcome.wrong += _refused_while(made, [held, table], asked)
            if _state(made) != before:
                outcome.wrong.append("a refused request left something behind")
            answer = client.ask("PATCH", f"/jobs/{id}", {"instructions": f"Later {number}."}, If_Match="*")
            outcome.wrong += [] if answer.status == 200 else [f"after the lock was gone: {answer.status}"]
            outcome.rounds += 1
        slow = made.client()
        outcome.wrong += _statement_too_long(made, slow)
        outcome.wrong += made.verify() + made.wrong
    return outcome.ended()


def _state(made: Stack) -> list[tuple[int, ...]]:
    return made.effects.rows(
        "SELECT (SELECT count(*) FROM inspections_job), (SELECT sum(revision) FROM inspections_job),"
        " (SELECT count(*) FROM inspections_customer), (SELECT count(*) FROM inspections_property),"
        " (SELECT count(*) FROM inspections_event), (SELECT count(*) FROM inspections_auditentry),"
        " (SELECT count(*) FROM inspections_keptanswer)"
    )


def _refused_while(made: Stack, locks: list[str], asked: list[tuple[str, str, object]]) -> list[str]:
    """Hold these locks, send these, and return whose answer is no 503 within the time a lock may take."""
    found: list[str] = []

    def ask(verb: str, path: str, body: object) -> None:
        more = {"If_Match": "*"} if verb == "PATCH" else {}
        answer = made.client().ask(verb, path, body, **more)
        if answer.status != 503 or answer.took_s > 8:
            found.append(
                f"{verb} {path} under a lock: {answer.status} after {answer.took_s:.1f} s {answer.body[:200]!r}"
            )

    with psycopg.connect(made.url) as holder:
        for lock in locks:
            holder.execute(lock)
        threads = [threading.Thread(target=ask, args=one) for one in asked]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(30)
        holder.rollback()
    return found


def _statement_too_long(made: Stack, client: Client) -> list[str]:
    """Make the database itself slow: a trigger sleeps longer than a statement may take."""
    with psycopg.connect(made.url, autocommit=True) as database:
        database.execute(
            "CREATE FUNCTION slow() RETURNS trigger LANGUAGE plpgsql AS"
            " $$BEGIN PERFORM pg_sleep(20); RETURN NEW; END$$"
        )
        database.execute("CREATE TRIGGER slow BEFORE INSERT ON inspections_job FOR EACH ROW EXECUTE FUNCTION slow()")
        before, id = _state(made), str(uuid.uuid4())
        answer = client.ask("PUT", f"/jobs/{id}", job(id))
        found = [] if answer.status == 503 and answer.took_s < 8 else [f"a slow statement: {answer.status}"]
        found += [] if _state(made) == before else ["a statement that took too long left something behind"]
        database.execute("DROP TRIGGER slow ON inspections_job")
    answer = client.ask("PUT", f"/jobs/{id}", job(id))
    return found + ([] if answer.status == 201 else [f"after the database was fast again: {answer.status}"])
