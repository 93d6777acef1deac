"""The example clients under fixtures/clients do their work against a real service, also when the network fails."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests import builders
from tests.journeys.main_job import Caller
from tests.journeys.test_embedded import serve
from tests.processes import ROOT, manage, running, settings_for, spare_port, wait_for

CLIENTS = ROOT / "fixtures" / "clients"
SCOPES = "jobs:write runs:write records:read admin"


@contextmanager
def service(tmp_path: Path, **more: str) -> Iterator[Caller]:
    environment, port, log = settings_for(tmp_path / "home", **more), spare_port(), tmp_path / "log"
    with running(environment, log, *serve(port)):
        wait_for(f"http://127.0.0.1:{port}/readyz", log)
        words = ("--organisation", "Alder Falls Drain Cameras", "--create", "--scopes", SCOPES)
        yield Caller(f"http://127.0.0.1:{port}", manage(environment, "token", *words))


def run(client: str, *arguments: str, token: str = "") -> subprocess.CompletedProcess[str]:
    """Run a client to its end, with nothing in its environment but its token."""
    command = [sys.executable, "-I", str(CLIENTS / client), *arguments]
    environment = {"PULLBACK_TOKEN": token}
    return subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize("client", sorted(path.name for path in CLIENTS.glob("*.py")))
def test_each_is_short_and_needs_the_standard_library_only(client: str) -> None:
    text = (CLIENTS / client).read_text()
    assert len(text.splitlines()) < 150
    lines = [line.split()[1] for line in text.splitlines() if line.startswith(("import ", "from "))]
    assert {name.partition(".")[0] for name in lines} <= sys.stdlib_module_names


def test_a_scheduler_posts_its_jobs_once_and_hears_of_each_state_once(tmp_path: Path) -> None:
    jobs, state = tmp_path / "jobs.json", tmp_path / "state.json"
    jobs.write_text(json.dumps([builders.job(external_ref="AF-1"), builders.job(external_ref="AF-2")]))
    with service(tmp_path) as caller:
        words = (caller.base, str(jobs), str(state))
        first = run("scheduler.py", *words, token=caller.token)
        assert first.returncode == 0, first.stderr
        assert [line for line in first.stdout.splitlines() if line.startswith("job ")] == [
            "job AF-1: requested",
            "job AF-2: requested",
        ]
        assert first.stdout.count("job.requested") == 2
        (job, _) = caller.call("GET", "/jobs")[1]["items"]
        caller.call("PATCH", f"/jobs/{job['id']}", {"state": "called_off"}, **{"If-Match": "*"})
        again = run("scheduler.py", *words, token=caller.token)
        assert again.returncode == 0, again.stderr
        heard = [line.partition(" ")[2] for line in again.stdout.splitlines() if "job." in line]
        assert heard == ["job.called_off: AF-1 is called_off"]
        assert len(caller.call("GET", "/jobs")[1]["items"]) == 2

        jobs.write_text(json.dumps([{"external_ref": "AF-3", "purpose": "backup", "customr": {}}]))
        refused = run("scheduler.py", *words, token=caller.token)
        assert refused.returncode == 1
        assert "/customr" in refused.stderr


def test_an_inspectors_queue_loses_nothing_and_sends_each_run_once(tmp_path: Path) -> None:
    queue, file = tmp_path / "queue", tmp_path / "run.json"

    def add(document: dict[str, Any]) -> str:
        file.write_text(json.dumps(document))
        return run("inspector_queue.py", "add", str(queue), str(file), "--submit").stdout.strip()

    with service(tmp_path) as caller:
        job = caller.call("POST", "/jobs", builders.job())[1]["id"]
        good = add(builders.run(job, external_ref="r1"))
        wrong = add(builders.run(job, external_ref="r2") | {"directon": "upstream"})
        last = add(builders.run(job, external_ref="r3"))

        nowhere = run("inspector_queue.py", "sync", str(queue), f"http://127.0.0.1:{spare_port()}", token=caller.token)
        assert nowhere.returncode == 1
        assert "3 wait" in nowhere.stderr

        # The answer to the first run was lost on the way: it is there, and still waits in the queue.
        lost = json.loads(next(queue.glob(f"*{good}.json")).read_text())
        assert caller.call("PUT", f"/runs/{good}", lost["run"])[0] == 201
        assert caller.call("POST", f"/runs/{good}/submit")[0] == 202

        sent = run("inspector_queue.py", "sync", str(queue), caller.base, token=caller.token)
        assert sent.returncode == 0, sent.stderr
        assert sent.stdout.splitlines() == [f"run {good} is submitted", f"run {last} is submitted"]
        assert f"run {wrong} was refused: /directon" in sent.stderr
        assert {one["id"] for one in caller.call("GET", "/runs")[1]["items"]} == {good, last}
        aside = json.loads(next(queue.glob(f"*{wrong}.json.refused")).read_text())
        assert aside["problem"]["code"] == "malformed"

        add({**builders.run(job, external_ref="r2"), "id": wrong})
        assert run("inspector_queue.py", "sync", str(queue), caller.base, token=caller.token).returncode == 0
        assert caller.call("GET", f"/runs/{wrong}")[1]["state"] == "submitted"


def test_an_agencys_receiver_keeps_what_is_signed_and_nothing_else(tmp_path: Path) -> None:
    port, book = spare_port(), tmp_path / "received.ndjson"
    with service(tmp_path, PULLBACK_WEBHOOK_ALLOW=f"127.0.0.1:{port}") as caller:
        asked = {"url": f"http://127.0.0.1:{port}/", "event_types": ["job.*", "subscription.tested"]}
        made = caller.call("POST", "/subscriptions", asked)[1]
        environment = {"PULLBACK_WEBHOOK_SECRET": made["secret"]}
        command = (sys.executable, "-I", str(CLIENTS / "agency_receiver.py"), str(port), str(book))
        with running(environment, tmp_path / "receiver", *command):
            job = caller.call("POST", "/jobs", builders.job())[1]
            caller.call("POST", f"/subscriptions/{made['id']}/test")
            kept = _kept(book, 2)
            assert {one["type"] for one in kept} == {"job.requested", "subscription.tested"}
            assert any(one["data"]["id"] == job["id"] for one in kept)

            # Sent again under the same id, it is acknowledged and not kept twice.
            (delivery, *_) = caller.call("GET", "/deliveries?state=delivered")[1]["items"]
            assert caller.call("POST", f"/deliveries/{delivery['id']}/replay")[0] == 202
            _until(lambda: caller.call("GET", f"/deliveries/{delivery['id']}")[1]["state"] == "delivered")
            assert len(_kept(book, 2)) == 2

            forger = Caller(f"http://127.0.0.1:{port}", "x")
            with pytest.raises(json.JSONDecodeError):  # a bare 401
                headers = {"webhook-id": "1", "webhook-timestamp": "1", "webhook-signature": "v1,x"}
                forger.call("POST", "", kept[0], **headers)
            assert len(_kept(book, 2)) == 2


def _kept(book: Path, least: int) -> list[dict[str, Any]]:
    _until(lambda: book.exists() and len(book.read_text().splitlines()) >= least)
    return [json.loads(line) for line in book.read_text().splitlines()]


def _until(is_so: Any, within: float = 30) -> None:
    end = time.monotonic() + within
    while not is_so():
        assert time.monotonic() < end, "it did not come to that in time"
        time.sleep(0.05)
