"""Real processes for tests, started on spare ports and ended by their own pid."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
import redis

ROOT = Path(__file__).resolve().parent.parent
POSTGRESQL = os.environ.get("PULLBACK_TEST_POSTGRESQL", "postgres://postgres@127.0.0.1:5432/postgres")
REDIS = os.environ.get("PULLBACK_TEST_REDIS", "redis://127.0.0.1:6379/11")


def spare_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def needs(lack: str) -> None:
    """Leave a test out on a machine that lacks what it needs, where `lack` says what; the only skip there is.

    Whoever clones the project may have neither PostgreSQL nor Redis. PULLBACK_REQUIRE_SERVICES=1, which CI sets,
    makes the lack a failure.
    """
    if not lack:
        return
    if os.environ.get("PULLBACK_REQUIRE_SERVICES") == "1":
        pytest.fail(f"PULLBACK_REQUIRE_SERVICES demands what this test needs, but {lack}.")
    pytest.skip(f"This machine cannot show it: {lack}.")


def services_or_skip() -> None:
    """Leave out what needs PostgreSQL and Redis where they cannot be reached."""
    try:
        psycopg.connect(POSTGRESQL, connect_timeout=2).close()
        redis.Redis.from_url(REDIS, socket_connect_timeout=2).ping()
    except (psycopg.Error, redis.RedisError) as error:
        needs(f"PostgreSQL or Redis cannot be reached: {error}")


def settings_for(home: Path, **more: str) -> dict[str, str]:
    """Return the environment of an embedded service whose data live under `home`."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PULLBACK_")}
    return {**kept, "PULLBACK_HOME": str(home), "PYTHONUNBUFFERED": "1", **more}


def manage(environment: dict[str, str], *arguments: str) -> str:
    """Run a management command to its end and return what it printed."""
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@contextmanager
def running(environment: dict[str, str], log: Path, *command: str) -> Iterator[subprocess.Popen[bytes]]:
    """Start a program in a process group of its own; at the end that group is ended, whatever happened."""
    with log.open("ab") as out:
        process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=out, stderr=out, start_new_session=True)
    try:
        yield process
    finally:
        end(process)


def end(process: subprocess.Popen[bytes], how: signal.Signals = signal.SIGTERM, within: float = 15) -> None:
    """End a process of ours; the hard way when it does not listen."""
    if process.poll() is None:
        os.killpg(process.pid, how)
        try:
            process.wait(within)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(5)


def wait_for(address: str, log: Path, within: float = 40) -> None:
    """Wait until an address answers 200."""
    until = time.monotonic() + within
    while time.monotonic() < until:
        try:
            with urllib.request.urlopen(address, timeout=2) as answer:
                if answer.status == 200:
                    return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise AssertionError(f"{address} did not answer; the log says:\n{log.read_text()[-2000:]}")


@contextmanager
def fresh_database(name: str) -> Iterator[str]:
    """Make an empty database on the test server, give its address, drop it in the end."""
    with psycopg.connect(POSTGRESQL, autocommit=True) as server:
        server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        server.execute(f'CREATE DATABASE "{name}"')
    try:
        yield f"{POSTGRESQL.rsplit('/', 1)[0]}/{name}"
    finally:
        with psycopg.connect(POSTGRESQL, autocommit=True) as server:
            server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
