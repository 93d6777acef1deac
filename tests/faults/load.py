"""Work for the service: runs submitted by the hundred, and writers who go on while something breaks."""

from __future__ import annotations

import random
import threading
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

from tests import builders
from tests.faults.clients import Client
from tests.faults.stack import Stack

_IN_ONE_BATCH = 25


def job(ref: str) -> dict[str, Any]:
    """Return a job at a property of its own, so that its lateral is one nobody else works on."""
    document = builders.job(external_ref=f"AF-{ref}")
    return {**document, "property": {**document["property"], "external_ref": f"P-{ref}"}}


def submitted(stack: Stack, count: int, clients: int = 4) -> list[str]:
    """Submit so many runs, each on a lateral of its own; return their ids. What is submitted is acknowledged."""
    sizes = [_IN_ONE_BATCH] * (count // _IN_ONE_BATCH) + ([count % _IN_ONE_BATCH] if count % _IN_ONE_BATCH else [])
    with ThreadPoolExecutor(clients) as pool:
        return [id for ids in pool.map(lambda size: _batch(stack.client(), size), sizes) for id in ids]


def _batch(client: Client, size: int) -> list[str]:
    runs, entries = [], []
    for _ in range(size):
        job_id, run_id = str(uuid.uuid4()), str(uuid.uuid4())
        runs.append(run_id)
        entries += [
            {"method": "PUT", "path": f"/jobs/{job_id}", "body": job(job_id)},
            {"method": "PUT", "path": f"/runs/{run_id}", "body": builders.run(job_id)},
            {"method": "POST", "path": f"/runs/{run_id}/submit"},
        ]
    answer = client.insist("POST", "/batches", {"mode": "independent", "entries": entries})
    assert answer.status == 200, answer.body[:500]
    refused = [one for one in answer.document["entries"] if one["status"] >= 300]
    assert not refused, refused[0]
    return runs


class Writers:
    """Clients that post jobs and submit runs, each insisting under its key, and remember what was acknowledged."""

    def __init__(self, stack: Stack, count: int, seed: int) -> None:
        self.stack = stack
        self.jobs: list[str] = []
        self.runs: list[str] = []
        self.clients = [stack.client() for _ in range(count)]
        self.failures: list[str] = []
        self._stopping = threading.Event()
        self._random = random.Random(seed)
        self._threads = [threading.Thread(target=self._write, args=(client,), daemon=True) for client in self.clients]

    def _write(self, client: Client) -> None:
        try:
            while not self._stopping.is_set():
                self.write_one(client)
        except Exception as error:
            self.failures.append(repr(error))

    def write_one(self, client: Client) -> None:
        """Do one visit: a job, a run, its submission."""
        answer = client.insist("POST", "/jobs", job(uuid.uuid4().hex))
        assert answer.status == 201, answer.body
        self.jobs.append(answer.document["id"])
        run = str(uuid.uuid4())
        answer = client.insist("PUT", f"/runs/{run}", builders.run(answer.document["id"]))
        assert answer.status in (200, 201), answer.body
        answer = client.insist("POST", f"/runs/{run}/submit")
        assert answer.status == 202, answer.body
        self.runs.append(run)

    @contextmanager
    def writing(self) -> Iterator[Writers]:
        """Let them write as long as the block lasts, then end what they began."""
        for thread in self._threads:
            thread.start()
        try:
            yield self
        finally:
            self._stopping.set()
            for thread in self._threads:
                thread.join(90)


def at_once(acts: list[Callable[[], Any]]) -> list[Any]:
    """Do all of these at the same time; return what each gave."""
    start = threading.Barrier(len(acts))

    def one(act: Callable[[], Any]) -> Any:
        start.wait(20)
        return act()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(one, acts))
