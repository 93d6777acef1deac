"""Restore drills: PostgreSQL to a named second after a wrong deletion, the embedded database to its last copy."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
import urllib.request
import uuid
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import psycopg
import pytest

from tests import builders
from tests.faults.servers import binary, missing
from tests.processes import ROOT, end, manage, needs, running, settings_for, spare_port, wait_for

LOAD = """
from tests import builders, people
from tests.api.answers import job_of, sealed_of
from tests.client import Api
from inspections.actor import Actor
from inspections.models import Organisation
name = "Alder Falls Drain Cameras"
found = Organisation.objects.filter(name=name).first()
firm = people.Firm(found, Actor(found, "load", "load", "command")) if found else people.firm(name)
api = Api(firm.token())
api.http.defaults["SERVER_NAME"] = "localhost"
for n in range({first}, {last}):
    sealed_of(api, job_of(api, external_ref=f"AF-{{n}}"))
"""
COUNTED = ("organisation", "customer", "property", "job", "run", "defect", "calculation", "auditentry", "event")


class Cluster:
    """A PostgreSQL of the drill's own, with its write-ahead log archived."""

    def __init__(self) -> None:
        needs(missing())
        self.programs = Path(binary("initdb")).parent
        self.user = "postgres" if os.geteuid() == 0 else None  # its programs refuse to run as root
        self.home = Path(self.run("mktemp", "-d", "-t", "pullback-restore-XXXXXX", plain=True).strip())
        self.running: list[Path] = []

    def run(self, program: str, *arguments: str, plain: bool = False) -> str:
        command = [program if plain else str(self.programs / program), *arguments]
        if self.user:
            command = ["runuser", "-u", self.user, "--", *command]
        where = "/" if plain else self.home
        done = subprocess.run(command, cwd=where, capture_output=True, text=True, timeout=120, check=False)
        assert done.returncode == 0, f"{command}: {done.stdout}{done.stderr}"
        return done.stdout

    def write(self, path: Path, text: str) -> None:
        """Write a file that the server's user owns."""
        with path.open("a") as file:
            file.write(text)
        if self.user:
            shutil.chown(path, self.user, self.user)

    def start(self, data: Path, port: int) -> None:
        options = f"-p {port} -k {self.home} -c listen_addresses=127.0.0.1"
        self.run("pg_ctl", "-D", str(data), "-l", str(self.home / f"{port}.log"), "-o", options, "-w", "start")
        self.running.append(data)

    def stop(self, data: Path) -> None:
        self.run("pg_ctl", "-D", str(data), "-m", "fast", "-w", "stop")
        self.running.remove(data)

    def end(self) -> None:
        for data in list(self.running):
            with suppress(AssertionError):
                self.stop(data)
        shutil.rmtree(self.home, ignore_errors=True)


@pytest.fixture
def cluster() -> Iterator[Cluster]:
    found = Cluster()
    yield found
    found.end()


def address(port: int, name: str = "pullback") -> str:
    return f"postgres://postgres@127.0.0.1:{port}/{name}"


def environment(home: Path, port: int) -> dict[str, str]:
    return settings_for(
        home,
        PULLBACK_DATABASE_URL=address(port),
        PULLBACK_BROKER_URL="memory://localhost/",
        PULLBACK_SECRET_KEY="0123456789abcdef" * 3,
        PULLBACK_LOG_LEVEL="ERROR",
    )


def counts(port: int) -> dict[str, int]:
    with psycopg.connect(address(port)) as server:
        return {name: _one(server, f"SELECT count(*) FROM inspections_{name}") for name in COUNTED}


def _one(server: Any, query: str) -> Any:
    return server.execute(query).fetchone()[0]


def test_postgresql_goes_back_to_the_second_before_a_wrong_deletion(
    cluster: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    took: dict[str, float] = {}
    data, archive, base, restored = (cluster.home / name for name in ("data", "archive", "base", "restored"))
    port = spare_port()
    cluster.run("initdb", "-D", str(data), "-A", "trust", "-U", "postgres")
    cluster.run("mkdir", str(archive), plain=True)
    copied = f"archive_command = 'test ! -f {archive}/%f && cp %p {archive}/%f'"
    cluster.write(data / "postgresql.conf", f"\nwal_level = replica\narchive_mode = on\n{copied}\n")
    cluster.start(data, port)
    with psycopg.connect(address(port, "postgres"), autocommit=True) as server:
        server.execute("CREATE DATABASE pullback")
    live = environment(tmp_path, port)
    manage(live, "migrate", "--noinput")
    manage(live, "shell", "-v", "0", "-c", LOAD.format(first=0, last=8))

    began = time.perf_counter()
    cluster.run("pg_basebackup", "-h", "127.0.0.1", "-p", str(port), "-U", "postgres", "-D", str(base), "-c", "fast")
    took["base backup"] = time.perf_counter() - began
    cluster.run("pg_verifybackup", str(base))
    manage(live, "shell", "-v", "0", "-c", LOAD.format(first=8, last=16))
    anchor = tmp_path / "anchor.ndjson"
    anchor.write_text(manage(live, "anchor_audit") + "\n")
    before = counts(port)
    assert before["job"] == before["run"] == 16
    with psycopg.connect(address(port), autocommit=True) as server:
        time.sleep(1.1)
        second = _one(server, "SELECT date_trunc('second', now())::text")
        time.sleep(1.1)
        server.execute("TRUNCATE inspections_customer CASCADE")  # the wrong deletion
        assert counts(port)["run"] == 0
        segment = _one(server, "SELECT pg_walfile_name(pg_switch_wal())")
        until = time.monotonic() + 20
        while not (archive / segment).exists() and time.monotonic() < until:
            time.sleep(0.1)
    cluster.stop(data)

    began = time.perf_counter()
    cluster.run("cp", "-a", str(base), str(restored), plain=True)
    cluster.write(
        restored / "postgresql.conf",
        f"\nrestore_command = 'cp {archive}/%f %p'\nrecovery_target_time = '{second}'\n"
        "recovery_target_action = 'promote'\narchive_mode = off\n",
    )
    cluster.write(restored / "recovery.signal", "")
    other = spare_port()
    cluster.start(restored, other)
    with psycopg.connect(address(other), autocommit=True) as server:
        until = time.monotonic() + 30
        while _one(server, "SELECT pg_is_in_recovery()") and time.monotonic() < until:
            time.sleep(0.05)
    took["restore and replay"] = time.perf_counter() - began

    began = time.perf_counter()
    assert counts(other) == before
    said = manage(environment(tmp_path, other), "verify_audit", "--anchor", str(anchor))
    took["counts and audit chain"] = time.perf_counter() - began
    assert said.startswith("The trail holds")
    assert "heads of the anchor still there" in said
    manage(environment(tmp_path, other), "shell", "-v", "0", "-c", LOAD.format(first=16, last=17))  # it goes on
    assert counts(other)["job"] == 17
    with capsys.disabled():
        figures = ", ".join(f"{what} {seconds:.1f} s" for what, seconds in took.items())
        print(f"\nrestored to {second}: {sum(before.values())} rows in {len(before)} tables; {figures}")


def test_the_embedded_database_goes_back_to_its_last_copy_which_was_taken_while_it_wrote(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home, port, copy = tmp_path / "home", spare_port(), tmp_path / "copy.sqlite3"
    home.mkdir()
    live = settings_for(home)
    base = f"http://127.0.0.1:{port}"
    serve = (sys.executable, "manage.py", "serve", "--port", str(port))
    with running(live, home / "log", *serve) as service:
        wait_for(f"{base}/readyz", home / "log")
        token = manage(live, "token", "--organisation", "Alder Falls Drain Cameras", "--create")
        assert _job(base, token, "AF-1") == 201
        stop, answers = threading.Event(), []

        def write() -> None:
            while not stop.is_set():
                answers.append(_job(base, token, f"AF-during-{len(answers)}"))

        writer = threading.Thread(target=write)
        writer.start()
        began = time.perf_counter()
        assert "checked" in manage(live, "backup", str(copy))
        took_backup = time.perf_counter() - began
        stop.set()
        writer.join()
        assert answers and set(answers) == {201}  # nobody was held up
        assert "is there already" in _refused(live, "backup", str(copy))
        assert _job(base, token, "AF-after") == 201
        end(service)
    assert copy.stat().st_mode & 0o777 == 0o600
    with sqlite3.connect(home / "pullback.sqlite3") as database:
        database.execute("PRAGMA foreign_keys=OFF")
        database.execute("DELETE FROM inspections_job")  # the wrong deletion

    began = time.perf_counter()
    for name in ("pullback.sqlite3", "pullback.sqlite3-wal", "pullback.sqlite3-shm"):
        (home / name).unlink(missing_ok=True)
    shutil.copy(copy, home / "pullback.sqlite3")
    with running(live, home / "log", *serve):
        wait_for(f"{base}/readyz", home / "log")
        took_restore = time.perf_counter() - began
        assert _job(base, token, "AF-1") == 200  # known again: the copy has it, and the token
        assert _job(base, token, "AF-after") == 201  # written after the copy: gone with it
        assert manage(live, "verify_audit").startswith("The trail holds")
    with capsys.disabled():
        print(f"\nembedded: copied in {took_backup:.1f} s under writes, served again after {took_restore:.1f} s")


def _job(base: str, token: str, ref: str) -> int:
    """Post a job over HTTP and return the status."""
    request = urllib.request.Request(
        f"{base}/api/v1/jobs",
        data=json.dumps(builders.job(external_ref=ref)).encode(),
        headers={
            "Authorization": f"Bearer {token}",
            "Content-Type": "application/json",
            "Idempotency-Key": f"{uuid.uuid4()}",
        },
    )
    with urllib.request.urlopen(request, timeout=30) as answer:
        return int(answer.status)


def _refused(live: dict[str, str], *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments], cwd=ROOT, env=live, capture_output=True, text=True, check=False
    )
    assert done.returncode != 0
    return done.stderr
