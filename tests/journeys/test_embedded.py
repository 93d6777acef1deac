"""The embedded service as a real process: the main job, a kill in the middle, a start over."""

from __future__ import annotations

import signal
import subprocess
import sys
import uuid
from pathlib import Path

from tests import builders
from tests.journeys.main_job import Caller, check_outcome, do_main_job
from tests.processes import ROOT, end, manage, running, settings_for, spare_port, wait_for


def serve(port: int) -> tuple[str, ...]:
    return (sys.executable, "manage.py", "serve", "--port", str(port))


def test_the_main_job_runs_on_the_embedded_service(tmp_path: Path) -> None:
    environment, port, log = settings_for(tmp_path), spare_port(), tmp_path / "log"
    with running(environment, log, *serve(port)) as process:
        wait_for(f"http://127.0.0.1:{port}/readyz", log)
        token = manage(environment, "token", "--organisation", "Alder Falls Drain Cameras", "--create")
        check_outcome(do_main_job(Caller(f"http://127.0.0.1:{port}", token), "AF-1"))
        end(process)
        assert process.returncode == 0
    assert manage(environment, "verify_audit").startswith("The trail holds")


def test_what_was_accepted_before_a_kill_is_finished_after_the_next_start(tmp_path: Path) -> None:
    environment, port, log = settings_for(tmp_path), spare_port(), tmp_path / "log"
    calculations = []
    with running(environment, log, *serve(port)) as process:
        wait_for(f"http://127.0.0.1:{port}/readyz", log)
        token = manage(environment, "token", "--organisation", "Alder Falls Drain Cameras", "--create")
        caller = Caller(f"http://127.0.0.1:{port}", token)
        job = caller.call("POST", "/jobs", builders.job())[1]
        for number in range(8):
            id = str(uuid.uuid4())
            caller.call("PUT", f"/runs/{id}", builders.run(job["id"], external_ref=f"r{number}"))
            calculations.append(caller.call("POST", f"/runs/{id}/submit")[1]["calculation"]["id"])
        end(process, signal.SIGKILL)
    with running(environment, log, *serve(port)):
        wait_for(f"http://127.0.0.1:{port}/readyz", log)
        states = [caller.follow(id, within=60)["state"] for id in calculations]
    assert states == ["done"] * 8


def test_tokens_asked_for_while_the_tables_are_still_being_made_are_all_given(tmp_path: Path) -> None:
    """A newcomer starts the service and asks for a token in the next terminal at once."""
    environment = settings_for(tmp_path / "home")
    asked = (sys.executable, "manage.py", "token", "--organisation", "Alder Falls Drain Cameras", "--create")
    waiting = [
        subprocess.Popen(asked, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for _ in range(3)
    ]
    ended = [one.communicate(timeout=120) for one in waiting]
    assert [one.returncode for one in waiting] == [0, 0, 0], ended
    assert len({token for token, _ in ended}) == 3
