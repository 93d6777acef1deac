"""The full stack as real processes on servers of the tests' own: web, workers, couriers, each ended by its pid."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.clients import Client
from tests.faults.effects import Effects
from tests.faults.servers import Broker, Cluster, scratch
from tests.processes import end, manage, running, settings_for, spare_port, wait_for

SCOPES = "jobs:write runs:write records:read repair-scopes:write audit:read admin"
ORGANISATION = "Alder Falls Drain Cameras"
_TEMPLATE = "pullback_template"


@dataclass
class Servers:
    """What all faults share: one cluster with a migrated template, one broker."""

    home: Path
    cluster: Cluster
    broker: Broker
    token: str = ""

    def environment(self, database: str, port: int, **more: str) -> dict[str, str]:
        """Return the environment of a full stack on these servers."""
        return settings_for(
            self.home / database,
            PULLBACK_DATABASE_URL=self.cluster.url(database),
            PULLBACK_BROKER_URL=self.broker.url,
            PULLBACK_SECRET_KEY="0123456789abcdef" * 3,
            PULLBACK_BIND=f"127.0.0.1:{port}",
            PULLBACK_LEASE_SECONDS="3",
            PULLBACK_SWEEP_SECONDS="1",
            PULLBACK_RATE_PER_SECOND="0",
            **more,
        )


@contextmanager
def servers() -> Iterator[Servers]:
    """Start a cluster with a migrated template database and a broker; end both."""
    with scratch() as home:
        place = home / "postgresql"
        place.mkdir()
        ours = Servers(home, Cluster(place), Broker(home))
        try:
            ours.cluster.start()
            ours.broker.start()
            prepare(ours)
            yield ours
        finally:
            ours.cluster.stop()
            ours.broker.stop()


def prepare(ours: Servers) -> None:
    """Make the template database, with all tables and one organisation, whose token every copy knows."""
    ours.cluster.admin(f"CREATE DATABASE {_TEMPLATE}")
    environment = ours.environment(_TEMPLATE, 0)
    manage(environment, "migrate", "--noinput")
    arguments = ("--organisation", ORGANISATION, "--create", "--scopes", SCOPES)
    ours.token = manage(environment, "token", *arguments)


@dataclass
class Stack:
    """One full stack with a database of its own."""

    servers: Servers
    database: str
    port: int
    environment: dict[str, str]
    log: Path
    token: str
    wrong: list[str] = field(default_factory=list)

    @property
    def url(self) -> str:
        """Where its database is."""
        return self.servers.cluster.url(self.database)

    @property
    def effects(self) -> Effects:
        """What stands in its database."""
        return Effects(self.url)

    def client(self) -> Client:
        """Return a client that notes every answer no promise allows."""
        return Client(self.port, self.token, self.wrong)

    @contextmanager
    def web(self, **more: str) -> Iterator[subprocess.Popen[bytes]]:
        """Run the web server and wait until it answers."""
        command = (sys.executable, "-m", "gunicorn", "-c", "config/gunicorn.py", "config.wsgi")
        with running({**self.environment, **more}, self.log, *command) as process:
            wait_for(f"http://127.0.0.1:{self.port}/readyz", self.log)
            yield process
            kill_group(process)  # a stop has a test of its own

    @contextmanager
    def worker(self, concurrency: int = 1, *, queue: str = "", **more: str) -> Iterator[subprocess.Popen[bytes]]:
        """Run a worker; one for the queue of deliveries is a courier."""
        ways = ("-Q", queue, "--pool", "threads") if queue else ("-Q", "calculations")
        command = (sys.executable, "-m", "celery", "-A", "config", "worker", *ways, "--concurrency", str(concurrency))
        command += ("--hostname", f"{uuid.uuid4().hex[:8]}@faults", "--loglevel", "WARNING")
        with running({**self.environment, **more}, self.log, *command) as process:
            yield process
            kill_group(process)  # same

    def verify(self) -> list[str]:
        """Return what is wrong with the audit trail."""
        try:
            manage(self.environment, "verify_audit")
        except AssertionError as error:
            return [f"verify_audit: {str(error).strip().splitlines()[-1]}"]
        return []


@contextmanager
def stack(ours: Servers, **more: str) -> Iterator[Stack]:
    """Make a full stack on the servers, which run again if the fault before killed them."""
    ours.cluster.start()
    ours.broker.start()
    name, port = f"faults_{uuid.uuid4().hex[:10]}", spare_port()
    ours.cluster.admin(f"CREATE DATABASE {name} TEMPLATE {_TEMPLATE}")
    (ours.home / name).mkdir()
    made = Stack(ours, name, port, ours.environment(name, port, **more), ours.home / name / "log", ours.token)
    made.log.touch()
    try:
        yield made
    finally:
        ours.cluster.start()
        ours.cluster.admin(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


def children(process: subprocess.Popen[bytes]) -> list[int]:
    """Return the pids of the processes that ours started."""
    text = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text()
    return [int(pid) for pid in text.split()]


def kill_group(process: subprocess.Popen[bytes]) -> None:
    """Kill a process of ours with all its children, as a machine that loses power does."""
    end(process, signal.SIGKILL)


def kill_child(process: subprocess.Popen[bytes], number: int) -> bool:
    """Kill one child of a process of ours; False where there is none just now."""
    pids = children(process)
    if not pids:
        return False
    os.kill(pids[number % len(pids)], signal.SIGKILL)
    return True


def until(is_so: object, within: float, every: float = 0.05) -> float | None:
    """Wait until something is so; return after how many seconds, None where it never was."""
    began = time.monotonic()
    while time.monotonic() - began < within:
        if is_so():  # type: ignore[operator]
            return time.monotonic() - began
        time.sleep(every)
    return None
