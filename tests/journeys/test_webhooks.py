"""Webhooks with real processes: every event arrives, signed, and a dead receiver holds up nobody."""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from standardwebhooks.webhooks import Webhook

from tests.journeys.main_job import Caller, check_outcome, do_main_job
from tests.journeys.test_embedded import serve
from tests.journeys.test_full_stack import WORKER, full_stack, web
from tests.processes import (
    end,
    fresh_database,
    manage,
    running,
    services_or_skip,
    settings_for,
    spare_port,
    wait_for,
)
from tests.receivers import Receiver, raw, receiving

COURIER = (*WORKER[:6], "-Q", "deliveries", "--pool", "threads", "--concurrency", "16", "--loglevel", "WARNING")
SCOPES = "jobs:write runs:write records:read repair-scopes:write admin"


def hang(connection: socket.socket, ended: threading.Event) -> None:
    """Take a connection and say nothing."""
    ended.wait(60)


def caller_of(environment: dict[str, str], port: int) -> Caller:
    arguments = ("--organisation", "Alder Falls Drain Cameras", "--create", "--scopes", SCOPES)
    return Caller(f"http://127.0.0.1:{port}", manage(environment, "token", *arguments))


def subscribe(caller: Caller, url: str) -> dict[str, Any]:
    status, made = caller.call("POST", "/subscriptions", {"url": url, "event_types": ["*"]})
    assert status == 201, made
    return made


def events_since(caller: Caller, made: dict[str, Any]) -> list[str]:
    """Return the ids of all events from the making of a subscription on, in order."""
    items = caller.call("GET", "/events?limit=200")[1]["items"]
    subjects = [item["subject"] for item in items]
    return [item["id"] for item in items[subjects.index(f"subscriptions/{made['id']}") :]]


def until(is_so: Callable[[], bool], within: float = 20) -> bool:
    limit = time.monotonic() + within
    while not is_so() and time.monotonic() < limit:
        time.sleep(0.05)
    return is_so()


def check_all_arrived(caller: Caller, receiver: Receiver, made: dict[str, Any]) -> None:
    """Hold that every event arrived and verifies."""
    wanted = set(events_since(caller, made))
    assert len(wanted) > 10
    assert until(lambda: wanted <= {headers["webhook-id"] for _, headers, _ in receiver.received})
    for _, headers, body in receiver.received:
        assert Webhook(made["secret"]).verify(body, headers)["id"] == headers["webhook-id"]


def test_the_embedded_service_delivers_beside_its_work_and_after_a_kill(tmp_path: Path) -> None:
    port, log = spare_port(), tmp_path / "log"
    with receiving() as receiver, raw(hang) as dead:
        allow = f"{receiver.allowed},127.0.0.1:{dead}"
        environment = settings_for(tmp_path / "home", PULLBACK_WEBHOOK_ALLOW=allow, PULLBACK_SWEEP_SECONDS="1")
        with running(environment, log, *serve(port)) as process:
            wait_for(f"http://127.0.0.1:{port}/readyz", log)
            caller = caller_of(environment, port)
            for _ in range(4):
                subscribe(caller, f"http://127.0.0.1:{dead}/")
            made = subscribe(caller, receiver.url)
            began = time.monotonic()
            check_outcome(do_main_job(caller, "AF-1"))
            check_all_arrived(caller, receiver, made)
            # An attempt with a dead receiver takes 15 s; neither gradings nor other receivers wait for one.
            assert time.monotonic() - began < 14
            end(process, signal.SIGKILL)
        arrived = len(receiver.received)
        with running(environment, log, *serve(port)) as process:
            wait_for(f"http://127.0.0.1:{port}/readyz", log)
            do_main_job(caller, "AF-2")
            check_all_arrived(caller, receiver, made)
            assert len(receiver.received) > arrived
            end(process)
            assert process.returncode == 0


def test_couriers_of_the_full_stack_deliver_what_was_committed_while_none_ran(tmp_path: Path) -> None:
    services_or_skip()
    port, log = spare_port(), tmp_path / "log"
    with receiving() as receiver, raw(hang) as dead, fresh_database(f"pullback_hooks_{os.getpid()}") as database:
        environment = full_stack(tmp_path, database, port)
        environment |= {"PULLBACK_WEBHOOK_ALLOW": f"{receiver.allowed},127.0.0.1:{dead}"}
        manage(environment, "migrate", "--noinput")
        caller = caller_of(environment, port)
        with running(environment, log, *web()), running(environment, log, *WORKER):
            wait_for(f"http://127.0.0.1:{port}/readyz", log)
            subscribe(caller, f"http://127.0.0.1:{dead}/")
            made = subscribe(caller, receiver.url)
            check_outcome(do_main_job(caller, "AF-1"))
            assert receiver.received == []
            with running(environment, log, *COURIER):
                check_all_arrived(caller, receiver, made)
