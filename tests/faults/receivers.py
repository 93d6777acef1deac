"""Receivers of webhooks that hang, drip, send elsewhere, send without end: they fail in time and delay nobody."""

from __future__ import annotations

import socket
import threading
import time
import uuid
from contextlib import ExitStack
from pathlib import Path
from subprocess import Popen
from typing import Any

from tests.faults.clients import Client
from tests.faults.load import job
from tests.faults.outcome import Outcome
from tests.faults.stack import Servers, Stack, stack, until
from tests.receivers import raw, receiving

_HEAD = b"HTTP/1.1 200 OK\r\nContent-Type: text/plain\r\n"
_GIGABYTE = 1_000_000_000
_ATTEMPT_S = 15.0
_GROWTH_KB = 60_000


def hang(connection: socket.socket, ended: threading.Event) -> None:
    """Take the request and say nothing."""
    connection.recv(65_536)
    ended.wait(120)


def drip(connection: socket.socket, ended: threading.Event) -> None:
    """Answer a byte a second, never coming to the end of the head."""
    connection.recv(65_536)
    for byte in _HEAD + b"X-Long: " + b"a" * 1000:
        connection.sendall(bytes([byte]))
        if ended.wait(1):
            return


def flood(connection: socket.socket, ended: threading.Event) -> None:
    """Answer with a gigabyte, as long as somebody reads it."""
    connection.recv(65_536)
    connection.sendall(_HEAD + f"Content-Length: {_GIGABYTE}\r\n\r\n".encode())
    piece, sent = b"x" * 1_000_000, 0
    while sent < _GIGABYTE and not ended.is_set():
        connection.sendall(piece)
        sent += len(piece)


def flood_of_heads(connection: socket.socket, ended: threading.Event) -> None:
    """Answer with headers without end."""
    connection.recv(65_536)
    connection.sendall(_HEAD)
    for _ in range(_GIGABYTE // 1_000):
        if ended.is_set():
            return
        connection.sendall(b"X-More: " + b"a" * 990 + b"\r\n")


def bad(servers: Servers, seed: int, *, events: int) -> Outcome:
    """Subscribe receivers of every bad kind and one that is well; let events happen."""
    outcome = Outcome("receiver hangs, drips, redirects, floods", seed)
    with ExitStack() as all_of_it:
        elsewhere = all_of_it.enter_context(receiving())
        target = {"Location": f"http://{elsewhere.allowed}/stolen"}
        redirecting = all_of_it.enter_context(receiving((307, target, b"")))
        well = all_of_it.enter_context(receiving())
        ports = {act.__name__: all_of_it.enter_context(raw(act)) for act in (hang, drip, flood, flood_of_heads)}
        urls = {name: f"http://127.0.0.1:{port}/" for name, port in ports.items()}
        urls |= {"redirecting": redirecting.url, "well": well.url}
        allow = ",".join([*(f"127.0.0.1:{port}" for port in ports.values()), redirecting.allowed, well.allowed])
        allow += f",{elsewhere.allowed}"  # it may be reached, and yet nothing follows a redirect there
        made = all_of_it.enter_context(stack(servers, PULLBACK_WEBHOOK_ALLOW=allow))
        all_of_it.enter_context(made.web(PULLBACK_WEB_PROCESSES="1"))
        courier = all_of_it.enter_context(made.worker(16, queue="deliveries"))
        client = made.client()
        ids = {name: _subscribe(client, url) for name, url in urls.items()}
        _happen(client)
        until(lambda: bool(well.received), 30)  # the courier is there, with all it needs in memory
        before = _memory_kb(courier)
        began, posted = time.monotonic(), [_happen(client) for _ in range(events)]
        told = until(lambda: set(posted) <= _jobs_in(well.received), _ATTEMPT_S - 1)
        if told is None:
            outcome.wrong.append(f"the receiver that is well waited for the others: {len(well.received)} arrived")
        slow = until(lambda: not _never_tried(made, ids), _ATTEMPT_S * 2 + 10)
        if slow is None:
            outcome.wrong.append(f"no attempt ended: {_never_tried(made, ids)}")
        outcome.wrong += _wrong_ends(made, ids)
        grown = _memory_kb(courier) - before
        outcome.wrong += [] if grown < _GROWTH_KB else [f"the courier grew by {grown} kB"]
        outcome.wrong += [] if not elsewhere.received else ["a redirect was followed"]
        outcome.wrong += made.wrong
        outcome.rounds = events
        first = -1 if told is None else time.monotonic() - began if slow is None else told
        outcome.note = f"all told the one that is well in {first:.1f} s, courier {grown:+d} kB"
    return outcome.ended()


def _subscribe(client: Client, url: str) -> str:
    answer = client.ask("POST", "/subscriptions", {"url": url, "event_types": ["job.*"]})
    assert answer.status == 201, answer.body
    return str(answer.document["id"])


def _happen(client: Client) -> str:
    return str(client.insist("POST", "/jobs", job(uuid.uuid4().hex)).document["id"])


def _jobs_in(received: list[Any]) -> set[str]:
    return {id for _, _, body in received for id in [body.decode().partition('"subject":"jobs/')[2][:36]]}


def _attempts(made: Stack, id: str) -> list[tuple[Any, ...]]:
    return made.effects.rows(
        "SELECT state, attempt, last_status, last_error FROM inspections_delivery WHERE subscription_id = %s"
        " AND (last_error IS NOT NULL OR state = 'delivered')",
        id,
    )


def _never_tried(made: Stack, ids: dict[str, str]) -> list[str]:
    return [name for name, id in ids.items() if not _attempts(made, id)]


def _wrong_ends(made: Stack, ids: dict[str, str]) -> list[str]:
    """Return whose deliveries did not end as they had to: a status that was read is an answer, silence is not."""
    wanted = {
        "hang": ("queued", None),
        "drip": ("queued", None),
        "flood": ("delivered", 200),  # the status was said; what follows it is not read
        "flood_of_heads": ("queued", None),
        "redirecting": ("queued", 307),
        "well": ("delivered", 200),
    }
    found = []
    for name, (state, status) in wanted.items():
        ends = {(one[0] if one[0] != "delivering" else "queued", one[2]) for one in _attempts(made, ids[name])}
        if ends != {(state, status)}:
            found.append(f"{name}: {ends}, not {(state, status)}")
    return found


def _memory_kb(process: Popen[bytes]) -> int:
    status = Path(f"/proc/{process.pid}/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0])
