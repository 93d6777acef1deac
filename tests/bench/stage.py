"""What a measurement needs, started for it and ended with it: a database, the service as in production, the floor."""

from __future__ import annotations

import os
import secrets
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg

from tests import builders
from tests.bench import load
from tests.bench.ratios import Taken
from tests.journeys.main_job import Caller
from tests.processes import REDIS, fresh_database, manage, running, settings_for, spare_port, wait_for

WEB_PROCESSES, WEB_THREADS = 2, 4
_GUNICORN = (sys.executable, "-m", "gunicorn", "-c", "config/gunicorn.py")


@dataclass
class Stage:
    """The running service and what clients of it know."""

    home: Path
    database: str
    environment: dict[str, str]
    port: int
    token: str
    open: ExitStack = field(repr=False)
    servers: dict[int, int] = field(default_factory=dict)  # by port: the process whose children answer there

    @property
    def log(self) -> Path:
        """Where all processes write what goes wrong."""
        return self.home / "log"

    @property
    def caller(self) -> Caller:
        """A client for what is set up before the measuring."""
        return Caller(f"http://127.0.0.1:{self.port}", self.token)

    def made(self, verb: str, path: str, body: Any = None) -> Any:
        """Send a request that must succeed and return its answer."""
        status, answer = self.caller.call(verb, path, body)
        if status >= 300:
            raise RuntimeError(f"{verb} {path} answered {status}: {answer}")
        return answer

    def job(self, ref: str = "AF-1") -> Any:
        """Make a job whose customer and property are its own."""
        document = builders.job(external_ref=ref)
        document["customer"]["external_ref"] = document["property"]["external_ref"] = ref
        return self.made("POST", "/jobs", document)

    def floor(self) -> int:
        """Start the bare handlers under the same server; return their port."""
        port = spare_port()
        environment = {**self.environment, "PULLBACK_BIND": f"127.0.0.1:{port}"}
        self.serve(port, environment, "tests.bench.floor:application")
        return port

    def serve(self, port: int, environment: dict[str, str], application: str) -> None:
        """Start a web server and wait until it answers."""
        process = self.open.enter_context(running(environment, self.log, *_GUNICORN, application))
        self.servers[port] = process.pid
        wait_for(f"http://127.0.0.1:{port}/readyz", self.log)

    def taken(self, port: int, requests: Sequence[bytes], status: int) -> Taken:
        """Send requests to a server of this stage; return how fast it answered and what that cost it."""
        before = self.processor_s(port)
        rate = load.per_second(port, requests, status=status)
        return Taken(rate, (self.processor_s(port) - before) / len(requests) * 1000)

    def processor_s(self, port: int) -> float:
        """Return the processor time so far of a server's processes and of all sessions of the database."""
        with psycopg.connect(self.database) as connection:
            mine = connection.execute("SELECT pid FROM pg_stat_activity WHERE datname = current_database()").fetchall()
        return load.processor_s(load.children(self.servers[port])) + load.processor_s([pid for (pid,) in mine])

    def workers(self, count: int = 1) -> None:
        """Start worker processes."""
        command = (sys.executable, "-m", "celery", "-A", "config", "worker", "--loglevel", "WARNING")
        command += ("--concurrency", str(count), "-Q", "calculations")
        self.open.enter_context(running(self.environment, self.log, *command))

    def connect(self) -> psycopg.Connection[Any]:
        """Return a connection of its own to the database."""
        return self.open.enter_context(psycopg.connect(self.database, autocommit=True))


@contextmanager
def stage(*, web: bool = True) -> Iterator[Stage]:
    """Start PostgreSQL's database and the web server with production settings; end and drop them afterwards."""
    with ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="pullback-bench-")))
        database = stack.enter_context(fresh_database(f"pullback_bench_{os.getpid()}"))
        port = spare_port()
        environment = settings_for(
            home,
            PULLBACK_DATABASE_URL=database,
            PULLBACK_BROKER_URL=os.environ.get("PULLBACK_BROKER_URL", REDIS),
            PULLBACK_SECRET_KEY=secrets.token_urlsafe(48),
            PULLBACK_BIND=f"127.0.0.1:{port}",
            PULLBACK_WEB_PROCESSES=str(WEB_PROCESSES),
            PULLBACK_WEB_THREADS=str(WEB_THREADS),
            PULLBACK_RATE_PER_SECOND="1000000",  # counted as always; the limit itself is not what is measured
            PULLBACK_RATE_BURST="1000000",
        )
        manage(environment, "migrate", "--noinput")
        token = manage(environment, "token", "--organisation", "Alder Falls Drain Cameras", "--create")
        made = Stage(home, database, environment, port, token, stack)
        if web:
            made.serve(port, environment, "config.wsgi")
        yield made
