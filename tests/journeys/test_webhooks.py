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

import redis
from standardwebhooks.webhooks import Webhook

from inspections.verify_trail import verify
from tests.journeys.main_job import Caller, check_outcome, do_main_job
from tests.journeys.test_embedded import serve
from tests.journeys.test_full_stack import WORKER, full_stack, web
from tests.processes import (
    REDIS,
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


def check_all_arrived(caller: Caller, receiver: Receiver, made: dict[str, Any], within: float = 20) -> None:
    """Hold that every event arrived and verifies."""
    wanted = set(events_since(caller, made))
    assert len(wanted) > 10
    assert until(lambda: wanted <= {headers["webhook-id"] for _, headers, _ in receiver.received}, within)
    for _, headers, body in receiver.received:
        assert Webhook(made["secret"]).verify(body, headers)["id"] == headers["webhook-id"]


def check_export(caller: Caller) -> None:
    """Hold that the trail, as it leaves a real web server, verifies without access."""
    status, content = caller.call("GET", "/audit-entries/export")
    assert status == 200
    entries, chains, _ = verify(content.decode().rstrip("\n").split("\n"))
    assert entries > chains > 5


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
            check_export(caller)
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
            with running(environment, log, *COURIER) as courier:
                check_all_arrived(caller, receiver, made)
                end(courier, signal.SIGKILL)  # it waits for the dead receiver
            check_export(caller)


def test_every_event_arrives_though_couriers_are_killed_and_the_broker_forgets(tmp_path: Path) -> None:
    """At least once, with the same id; nothing is lost with a courier or with what Redis held."""
    services_or_skip()
    port, log = spare_port(), tmp_path / "log"
    with receiving() as receiver, fresh_database(f"pullback_hooks_{os.getpid()}") as database:
        receiver.delay_s = 0.05
        environment = full_stack(tmp_path, database, port)
        environment |= {"PULLBACK_WEBHOOK_ALLOW": receiver.allowed, "PULLBACK_DELIVERY_LEASE_SECONDS": "18"}
        manage(environment, "migrate", "--noinput")
        caller = caller_of(environment, port)
        with running(environment, log, *web()):
            wait_for(f"http://127.0.0.1:{port}/readyz", log)
            made = subscribe(caller, receiver.url)
            for number in range(40):
                status, _ = caller.call("POST", "/customers", {"name": f"Rowan {number}", "kind": "household"})
                assert status == 201
            for arrived in (5, 20):
                with running(environment, log, *COURIER) as courier:
                    assert until(lambda least=arrived: len(receiver.received) >= least)  # type: ignore[misc]
                    end(courier, signal.SIGKILL)
                with redis.Redis.from_url(REDIS) as broker:
                    broker.delete("deliveries", "unacked", "unacked_index")
            with running(environment, log, *COURIER) as courier:
                check_all_arrived(caller, receiver, made, within=40)
                end(courier, signal.SIGKILL)
            assert len({body for _, _, body in receiver.received}) == len(events_since(caller, made))
