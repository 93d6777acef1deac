"""The embedded service, killed at random moments: of the demo's work, of its first start, of the demo itself."""

from __future__ import annotations

import json
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.faults.clients import Client
from tests.faults.outcome import Outcome
from tests.faults.servers import scratch
from tests.faults.stack import ORGANISATION, SCOPES, until
from tests.processes import ROOT, end, manage, running, settings_for, spare_port, wait_for

_DEMO_S = 8.0  # about what the demo takes from its first start to its end
_TOWN = json.loads((ROOT / "fixtures" / "alder_falls.json").read_text())


@dataclass
class Visitor:
    """Drives the visits of the demo's town over and over, insisting; remembers what was acknowledged."""

    client: Client
    jobs: list[str] = field(default_factory=list)
    runs: list[str] = field(default_factory=list)
    scopes: list[str] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)
    stopping: threading.Event = field(default_factory=threading.Event)

    def visit_until_stopped(self) -> None:
        """Do visit after visit; what was begun is ended."""
        number = 0
        try:
            while not self.stopping.is_set():
                self.visit(_TOWN["visits"][number % len(_TOWN["visits"])])
                number += 1
        except Exception as error:
            self.failures.append(repr(error))

    def visit(self, visit: dict[str, Any]) -> None:
        """Do one visit of the town as the demo does, under references of its own."""
        ref = uuid.uuid4().hex
        body = {**visit["job"], "external_ref": ref, "property": {**visit["job"]["property"], "external_ref": ref}}
        job = self._taken("POST", "/jobs", body)
        self.jobs.append(job["id"])
        lateral = job["property"]["laterals"][0]["id"]
        sealed = []
        for run in visit["runs"]:
            id = str(uuid.uuid4())
            document = {"job": job["id"], "lateral": lateral, **run["document"], "external_ref": id}
            self._taken("PUT", f"/runs/{id}", document)
            self._taken("POST", f"/runs/{id}/submit")
            self.runs.append(id)
            sealed.append(id)
        if visit["site"]:
            self.client.insist("PUT", f"/laterals/{lateral}/site", visit["site"])
        if visit["scope"] and sealed:
            self.scopes.append(self._taken("POST", f"/laterals/{lateral}/repair-scopes", visit["scope"])["id"])

    def _taken(self, verb: str, path: str, body: Any = None) -> dict[str, Any]:
        answer = self.client.insist(verb, path, body)
        assert answer.is_accepted, f"{verb} {path}: {answer.status} {answer.body[:300]!r}"
        return dict(answer.document)


def killed(seed: int, *, kills: int) -> Outcome:
    """Kill the one process at random moments while clients do the demo's work; start it again each time."""
    outcome, chance = Outcome("embedded service killed", seed), random.Random(seed)
    with scratch() as home:
        environment, port, log = settings_for(home / "home"), spare_port(), home / "log"
        serve = (sys.executable, "manage.py", "serve", "--port", str(port))
        environment |= {"PULLBACK_RATE_PER_SECOND": "0"}
        token = ""
        visitors: list[Visitor] = []
        threads: list[threading.Thread] = []
        for _ in range(kills):
            with running(environment, log, *serve) as process:
                wait_for(f"http://127.0.0.1:{port}/readyz", log)
                if not token:
                    arguments = ("--organisation", ORGANISATION, "--create", "--scopes", SCOPES)
                    token = manage(environment, "token", *arguments)
                    visitors = [Visitor(Client(port, token, outcome.wrong)) for _ in range(2)]
                    threads = [threading.Thread(target=one.visit_until_stopped, daemon=True) for one in visitors]
                    for thread in threads:
                        thread.start()
                time.sleep(chance.uniform(0.05, 1.5))
                end(process, signal.SIGKILL)
            outcome.rounds += 1
        with running(environment, log, *serve) as process:
            wait_for(f"http://127.0.0.1:{port}/readyz", log)
            for one in visitors:
                one.stopping.set()
            for thread in threads:
                thread.join(90)
            database = home / "home" / "pullback.sqlite3"
            outcome.drain_s = until(lambda: not _rows(database, _OPEN)[0][0], 60, every=0.2)
            end(process)
        _count(database, visitors, outcome)
        outcome.wrong += _verified(environment)
    return outcome.ended()


_OPEN = "SELECT count(*) FROM inspections_calculation WHERE state IN ('queued', 'running')"


def _rows(database: Path, statement: str) -> list[tuple[Any, ...]]:
    connection = sqlite3.connect(f"file:{database}?mode=ro", uri=True, timeout=20)
    try:
        return connection.execute(statement).fetchall()
    finally:
        connection.close()


def _counted(database: Path, statement: str) -> dict[str, int]:
    return {str(uuid.UUID(str(id))): count for id, count in _rows(database, statement)}


def _count(database: Path, visitors: list[Visitor], outcome: Outcome) -> None:
    """Count what was acknowledged and is not there or not finished, and what is there twice."""
    audit = (
        "SELECT record_id, count(*) FROM inspections_auditentry WHERE record_type = '{}' AND action = '{}' GROUP BY 1"
    )
    event = "SELECT substr(subject, {}), count(*) FROM inspections_event WHERE type = '{}' GROUP BY 1"
    jobs = [id for one in visitors for id in one.jobs]
    runs = [id for one in visitors for id in one.runs]
    scopes = [id for one in visitors for id in one.scopes]
    wanted = [
        (jobs, audit.format("job", "requested")),
        (jobs, event.format(6, "job.requested")),
        (runs, audit.format("run", "submitted")),
        (runs, event.format(6, "run.submitted")),
        (runs, audit.format("run", "graded")),
        (runs, event.format(6, "run.graded")),
        (scopes, event.format(15, "repair_scope.requested")),
        (scopes, event.format(15, "repair_scope.computed")),
        (scopes, audit.format("repair_scope", "computed")),
    ]
    lost, doubled = set(), set()
    for ids, statement in wanted:
        found = _counted(database, statement)
        lost |= {id for id in ids if id not in found}
        doubled |= {id for id, count in found.items() if count > 1}
    outcome.lost, outcome.doubled = len(lost), len(doubled)
    outcome.wrong += [said for one in visitors for said in one.failures]
    ended = dict(_rows(database, "SELECT state, count(*) FROM inspections_calculation GROUP BY state"))
    if set(ended) - {"done", "superseded"}:
        outcome.wrong.append(f"calculations ended as {ended}")
    breaks = sum(one.client.breaks for one in visitors)
    outcome.note = (
        f"{len(jobs)} jobs, {len(runs)} runs, {len(scopes)} scopes acknowledged; {breaks} requests broken off"
    )


def demo_killed(seed: int, *, kills: int) -> Outcome:
    """Kill the demo at random moments from its very first start on; the same home then goes through it to its end."""
    outcome, chance = Outcome("demo killed from its first start on", seed), random.Random(seed)
    with scratch() as home:
        for number in range(kills):
            environment = settings_for(home / f"home{number}")
            command = (sys.executable, "manage.py", "demo", "--exit", "--port", "0")
            with running(environment, home / "log", *command) as process:
                time.sleep(chance.uniform(0.5, _DEMO_S))
                end(process, signal.SIGKILL)
            outcome.wrong += _demo(environment, home / "log") + _verified(environment)
            outcome.rounds += 1
    outcome.note = f"killed within {_DEMO_S:.0f} s of its start, gone through by the next one"
    return outcome.ended()


def _demo(environment: dict[str, str], log: Path) -> list[str]:
    command = [sys.executable, "manage.py", "demo", "--exit", "--port", "0"]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=180, check=False)
    return [] if done.returncode == 0 else [f"the demo after a kill: {(done.stdout + done.stderr)[-600:]}"]


def _verified(environment: dict[str, str]) -> list[str]:
    try:
        manage(environment, "verify_audit")
    except AssertionError as error:
        return [str(error)[-300:]]
    return []
