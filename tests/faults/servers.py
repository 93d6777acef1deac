"""A PostgreSQL cluster and a Redis of the tests' own, on spare ports, so that they can be killed."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import redis

from tests.processes import end, spare_port

_CONFIG = """
listen_addresses = '127.0.0.1'
max_connections = 120
shared_buffers = 64MB
max_wal_size = {wal}
min_wal_size = 32MB
log_min_messages = warning
"""


class Cluster:
    """One PostgreSQL server with its data in a directory of its own; durable, as PostgreSQL is by default."""

    def __init__(self, home: Path, *, wal: str = "256MB") -> None:
        self.home, self.port, self.log = home, spare_port(), home / "log"
        self._owner = {"user": "postgres", "group": "postgres", "extra_groups": []} if os.geteuid() == 0 else {}
        self.process: subprocess.Popen[bytes] | None = None
        data = home / "data"
        data.mkdir(mode=0o700)
        self.log.touch()
        if self._owner:
            for path in (home, data, self.log):
                shutil.chown(path, "postgres", "postgres")
        command = [binary("initdb"), "-D", str(data), "-U", "postgres", "-A", "trust", "-E", "UTF8"]
        done = subprocess.run(command, capture_output=True, text=True, cwd="/", check=False, **self._owner)
        assert done.returncode == 0, done.stderr
        with (data / "postgresql.conf").open("a") as file:
            file.write(_CONFIG.format(wal=wal) + f"unix_socket_directories = '{home}'\n")

    def start(self, within: float = 60) -> None:
        """Start the server where it does not run, and wait until it takes statements."""
        until = time.monotonic() + within
        while True:
            if self.process is None or self.process.poll() is not None:
                self._start()
            try:
                with psycopg.connect(self.url("postgres"), connect_timeout=2):
                    return
            except psycopg.Error as error:
                # What a killed postmaster left (its children, its lock) may keep the next one from starting for a bit.
                assert time.monotonic() < until, f"{error}\n{self.log.read_text()[-2000:]}"
                time.sleep(0.05)

    def _start(self) -> None:
        command = [binary("postgres"), "-D", str(self.home / "data"), "-p", str(self.port)]
        with self.log.open("ab") as out:
            self.process = subprocess.Popen(
                command, stdout=out, stderr=out, cwd="/", start_new_session=True, **self._owner
            )

    def kill(self, how: signal.Signals = signal.SIGKILL) -> None:
        """End the server at once: SIGKILL of the postmaster, or SIGQUIT, its immediate shutdown."""
        assert self.process is not None
        os.kill(self.process.pid, how)
        self.process.wait(20)

    def stop(self) -> None:
        """End the server for good."""
        if self.process is not None:
            end(self.process, signal.SIGINT)

    def url(self, name: str) -> str:
        """Return the address of one of its databases."""
        return f"postgres://postgres@127.0.0.1:{self.port}/{name}"

    def admin(self, statement: str) -> None:
        """Run one statement on the server."""
        with psycopg.connect(self.url("postgres"), autocommit=True) as server:
            server.execute(statement)


class Broker:
    """One Redis without persistence: killed, it forgets."""

    def __init__(self, home: Path) -> None:
        self.home, self.port, self.log = home, spare_port(), home / "redis.log"
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        """Start it where it does not run, and wait until it answers."""
        if self.process is None or self.process.poll() is not None:
            command = ["redis-server", "--bind", "127.0.0.1", "--port", str(self.port), "--save", ""]
            command += ["--appendonly", "no", "--maxmemory-policy", "noeviction", "--dir", str(self.home)]
            with self.log.open("ab") as out:
                self.process = subprocess.Popen(command, stdout=out, stderr=out, start_new_session=True)
        until = time.monotonic() + 20
        while True:
            try:
                with redis.Redis.from_url(self.url, socket_connect_timeout=1) as client:
                    client.ping()
                    return
            except redis.RedisError:
                assert time.monotonic() < until, self.log.read_text()[-2000:]
                time.sleep(0.02)

    def kill(self) -> None:
        """Kill it with all it holds."""
        assert self.process is not None
        self.process.kill()
        self.process.wait(10)

    def stop(self) -> None:
        """End it for good."""
        if self.process is not None:
            end(self.process, signal.SIGKILL)


def binary(name: str) -> str:
    """Return where a program of PostgreSQL's server lies."""
    for place in _places():
        if (place / name).exists():
            return str(place / name)
    raise FileNotFoundError(name)


def _places() -> list[Path]:
    """Where a PostgreSQL server may lie: what pg_config says, then Debian's places, the newest first."""
    said = shutil.which("pg_config")
    places = []
    if said is not None:
        places.append(
            Path(subprocess.run([said, "--bindir"], capture_output=True, text=True, check=True).stdout.strip())
        )
    numbered = sorted(
        Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: float(path.parent.name), reverse=True
    )
    return [*places, *numbered, Path("/usr/local/pgsql/bin"), Path("/opt/homebrew/bin")]


def missing() -> str:
    """Return why no server can be started here; nothing where they can."""
    try:
        binary("initdb")
    except FileNotFoundError:
        return "there is no PostgreSQL server (initdb) to start"
    if shutil.which("redis-server") is None:
        return "there is no redis-server to start"
    if os.geteuid() == 0:
        try:
            pwd.getpwnam("postgres")
        except KeyError:
            return "PostgreSQL does not run as root, and there is no user called postgres"
    return ""


@contextmanager
def scratch() -> Iterator[Path]:
    """Give a directory that other users may look into: PostgreSQL's data have another owner than the tests'."""
    home = Path(tempfile.mkdtemp(prefix="pullback-faults-"))
    home.chmod(0o755)
    try:
        yield home
    finally:
        shutil.rmtree(home, ignore_errors=True)


@contextmanager
def small_disk(home: Path, megabytes: int) -> Iterator[Path]:
    """Give a file system of so many megabytes."""
    home.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={megabytes}m,mode=0755", "tmpfs", str(home)], check=True)
    try:
        yield home
    finally:
        subprocess.run(["umount", "-l", str(home)], check=True)


def no_small_disk() -> str:
    """Return why no small file system can be made here; nothing where one can."""
    with scratch() as home:
        try:
            with small_disk(home / "disk", 1):
                return ""
        except (OSError, subprocess.CalledProcessError):
            return "a small file system cannot be mounted (this needs root)"


@contextmanager
def ballast(disk: Path, *, leave_kb: int = 0) -> Iterator[Path]:
    """Fill a disk, but for so many kB, as long as the block lasts."""
    file = disk / "ballast"
    with file.open("wb", buffering=0) as out:
        try:
            while True:
                out.write(b"\0" * 65_536)
        except OSError:
            out.truncate(max(0, out.tell() - leave_kb * 1024))
    try:
        yield file
    finally:
        file.unlink(missing_ok=True)


__all__ = ["Broker", "Cluster", "ballast", "missing", "no_small_disk", "scratch", "small_disk"]
