"""`python -m tests.faults.soak [--minutes N] [--seed N]`: visits at 60 % of what the machine takes, for a while.

Memory, connections and the age of the queue must stay flat. The peak is found first, by clients that never wait.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from subprocess import Popen
from typing import Any

import psycopg

from tests.faults.clients import Client
from tests.faults.load import Writers
from tests.faults.servers import missing
from tests.faults.stack import Stack, children, servers, stack, until

SHARE = 0.6
_CLIENTS = 4
_PEAK_S = 15.0
_EVERY_S = 2.0
# House rules: how much more of a thing counts as the same amount of it.
_MEMORY_MORE = 1.10
_MEMORY_MORE_MB = 8.0
_CONNECTIONS_MORE = 2
_OLDEST_S = 5.0


@dataclass
class Series:
    """One thing measured again and again. The first fifth is warm-up and counts for nothing."""

    name: str
    unit: str
    values: list[float] = field(default_factory=list)

    def _fifth(self, number: int) -> float:
        size = max(1, len(self.values) // 5)
        return statistics.median(self.values[number * size : (number + 1) * size])

    @property
    def early(self) -> float:
        """The median of the second fifth."""
        return self._fifth(1)

    @property
    def late(self) -> float:
        """The median of the last fifth."""
        return statistics.median(self.values[-max(1, len(self.values) // 5) :])

    @property
    def is_flat(self) -> bool:
        """Whether it is no more at the end than it was when all was warm, by the house rules."""
        if self.unit == "MB":
            return self.late <= self.early * _MEMORY_MORE + _MEMORY_MORE_MB
        if self.unit == "s":
            return self.late <= self.early + 1 and max(self.values) <= _OLDEST_S
        return self.late <= self.early + _CONNECTIONS_MORE

    def __str__(self) -> str:
        said = f"{self.early:>9.1f} {self.late:>9.1f} {max(self.values):>9.1f} {self.unit:<3}"
        return f"{self.name:<28} {said} {'flat' if self.is_flat else 'GROWS'}"


def memory_mb(process: Popen[bytes]) -> float:
    """Return what a process and its children hold in memory, in MB; what they share counts for each."""
    return sum(map(_resident_kb, [process.pid, *children(process)])) / 1024


def _resident_kb(pid: int) -> int:
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except FileNotFoundError:
        return 0
    return next((int(line.split()[1]) for line in lines if line.startswith("VmRSS:")), 0)


class Paced(Writers):
    """Writers that begin a visit when its time has come, never sooner; without a rate, as soon as they can."""

    def __init__(self, made: Stack, count: int, seed: int, per_second: float | None) -> None:
        super().__init__(made, count, seed)
        self.per_second = per_second
        self._turn, self._taken = threading.Lock(), 0
        self._began = time.monotonic()

    def write_one(self, client: Client) -> None:
        """Wait for the turn, then do one visit."""
        if self.per_second is not None:
            with self._turn:
                due = self._began + self._taken / self.per_second
                self._taken += 1
            time.sleep(max(0.0, due - time.monotonic()))
        super().write_one(client)
        client.answers.clear()  # the clients must not be what grows


@contextmanager
def _measured(made: Stack, processes: dict[str, Popen[bytes]], found: Sequence[Series]) -> Iterator[None]:
    """Measure every few seconds as long as the block lasts."""
    stopping = threading.Event()

    def measure() -> None:
        with psycopg.connect(made.url, autocommit=True) as database:
            while not stopping.wait(_EVERY_S):
                for series, value in zip(found, _now(database, processes), strict=True):
                    series.values.append(value)

    thread = threading.Thread(target=measure, daemon=True)
    thread.start()
    try:
        yield
    finally:
        stopping.set()
        thread.join(30)


_CONNECTIONS = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
_OLDEST = (
    "SELECT coalesce(extract(epoch FROM now() - min(created_at)), 0) FROM inspections_calculation"
    " WHERE state IN ('queued', 'running')"
)


def _now(database: psycopg.Connection[Any], processes: dict[str, Popen[bytes]]) -> list[float]:
    memory = [memory_mb(process) for process in processes.values()]
    asked = [database.execute(statement).fetchone() for statement in (_CONNECTIONS, _OLDEST)]
    return [*memory, *(float(row[0]) for row in asked if row)]


def soaked(made: Stack, minutes: float, seed: int) -> tuple[list[Series], list[str], str]:
    """Let it run. Return what was measured, what is wrong, and how much was done."""
    with made.web() as web, made.worker(2) as worker, made.worker(4, queue="deliveries") as courier:
        peak = _visits_a_second(made, seed)
        processes = {"web server": web, "worker": worker, "courier": courier}
        found = [Series(f"memory of the {name}", "MB") for name in processes]
        found += [Series("connections to the database", ""), Series("oldest calculation in work", "s")]
        writers = Paced(made, _CLIENTS, seed, peak * SHARE)
        with writers.writing(), _measured(made, processes, found):
            time.sleep(minutes * 60)
        done = until(lambda: not made.effects.open_calculations(), 60, every=0.2)
        lost, doubled = made.effects.graded(writers.runs)
        wrong = [*writers.failures, *made.wrong, *made.verify()]
        wrong += [] if done is not None else ["calculations were left after a minute"]
        wrong += [f"{lost} lost, {doubled} doubled"] if lost or doubled else []
        wrong += [] if writers.runs else ["nothing was done"]
    said = f"peak {peak:.1f} visits (from job to grading) a second; {len(writers.runs)} visits at {SHARE:.0%} of it"
    return found, wrong, said


def _visits_a_second(made: Stack, seed: int) -> float:
    """Return how many visits are taken and graded a second, all processes busy; taking alone is faster."""
    eager = Paced(made, _CLIENTS, seed, None)
    began = time.monotonic()
    with eager.writing():
        time.sleep(_PEAK_S)
    until(lambda: not made.effects.open_calculations(), 120, every=0.2)
    return len(eager.runs) / (time.monotonic() - began)


def main() -> int:
    """Soak and print; 0 when all stayed flat and nothing was lost."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults.soak", description=__doc__)
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    asked = parser.parse_args()
    if missing():
        sys.exit(f"A soak needs real servers, but {missing()}.")
    with servers() as ours, stack(ours) as made:
        found, wrong, said = soaked(made, asked.minutes, asked.seed)
    print(f"{said}, {asked.minutes:g} minutes, seed {asked.seed}")
    print(f"{'':<28} {'early':>9} {'late':>9} {'most':>9}")
    print("\n".join(map(str, found)))
    print("\n".join(wrong) or "nothing lost, nothing doubled, no error")
    return 0 if not wrong and all(one.is_flat for one in found) else 1


if __name__ == "__main__":
    sys.exit(main())
