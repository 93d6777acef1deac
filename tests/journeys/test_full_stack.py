"""The full stack as real processes: gunicorn, PostgreSQL, Redis, a separate worker."""

from __future__ import annotations

import os
import signal
import sys
import uuid
from pathlib import Path

import pytest
import redis

from tests import builders
from tests.journeys.main_job import Caller, check_outcome, do_main_job
from tests.processes import REDIS, end, fresh_database, manage, running, services_or_skip, settings_for, spare_port
from tests.processes import wait_for as wait_for_answer

WORKER = (sys.executable, "-m", "celery", "-A", "config", "worker", "--concurrency", "1", "--loglevel", "WARNING")


def full_stack(home: Path, database: str, port: int) -> dict[str, str]:
    """Return the environment of a full stack; what earlier tests rang for through the same Redis is forgotten.

    Thousands of rings for records of other databases would hold up the work of this one.
    """
    with redis.Redis.from_url(REDIS) as broker:
        broker.delete("calculations", "deliveries", "unacked", "unacked_index")
    return settings_for(
        home,
        PULLBACK_DATABASE_URL=database,
        PULLBACK_BROKER_URL=REDIS,
        PULLBACK_SECRET_KEY="0123456789abcdef" * 3,
        PULLBACK_BIND=f"127.0.0.1:{port}",
        PULLBACK_LEASE_SECONDS="5",
        PULLBACK_SWEEP_SECONDS="1",
    )


def web() -> tuple[str, ...]:
    return (sys.executable, "-m", "gunicorn", "-c", "config/gunicorn.py", "config.wsgi")


@pytest.fixture
def needs_services() -> None:
    services_or_skip()


def test_the_main_job_runs_on_the_full_stack_and_outlives_its_worker(needs_services: None, tmp_path: Path) -> None:
    port, log = spare_port(), tmp_path / "log"
    with fresh_database(f"pullback_journey_{os.getpid()}") as database:
        environment = full_stack(tmp_path, database, port)
        manage(environment, "migrate", "--noinput")
        token = manage(environment, "token", "--organisation", "Alder Falls Drain Cameras", "--create")
        caller = Caller(f"http://127.0.0.1:{port}", token)
        with running(environment, log, *web()):
            wait_for_answer(f"http://127.0.0.1:{port}/readyz", log)
            with running(environment, log, *WORKER) as worker:
                check_outcome(do_main_job(caller, "AF-1"))
                calculations = submit_some(caller, 6)
                end(worker, signal.SIGKILL)
            # Nobody works now; what is posted meanwhile waits.
            calculations += submit_some(caller, 2)
            with running(environment, log, *WORKER):
                assert [caller.follow(id)["state"] for id in calculations] == ["done"] * 8
        assert manage(environment, "verify_audit").startswith("The trail holds")


def submit_some(caller: Caller, count: int) -> list[str]:
    """Send and submit runs of one job; return their calculations."""
    status, job = caller.call("POST", "/jobs", builders.job(external_ref=str(uuid.uuid4())))
    assert status == 201, job
    ids = []
    for _ in range(count):
        id = str(uuid.uuid4())
        status, run = caller.call("PUT", f"/runs/{id}", builders.run(job["id"]))
        assert status == 201, run
        ids.append(caller.call("POST", f"/runs/{id}/submit")[1]["calculation"]["id"])
    return ids
