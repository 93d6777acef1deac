"""Bytes no well-behaved client sends, to both real web servers: always an answer in the one shape of errors."""

from __future__ import annotations

import json
import os
import socket
import sys
from collections.abc import Iterator

import pytest

from tests.journeys.test_full_stack import full_stack, web
from tests.processes import fresh_database, manage, running, services_or_skip, settings_for, spare_port, wait_for

ORGANISATION = ("token", "--organisation", "Alder Falls Drain Cameras", "--create")


@pytest.fixture(scope="module")
def embedded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, str]]:
    """The embedded server's port and a token."""
    home = tmp_path_factory.mktemp("raw")
    environment, port = settings_for(home), spare_port()
    with running(environment, home / "log", sys.executable, "manage.py", "serve", "--port", str(port)):
        wait_for(f"http://127.0.0.1:{port}/readyz", home / "log")
        yield port, manage(environment, *ORGANISATION)


@pytest.fixture(scope="module")
def gunicorn(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, str]]:
    """gunicorn's port and a token."""
    services_or_skip()
    home, port = tmp_path_factory.mktemp("raw"), spare_port()
    with fresh_database(f"pullback_raw_{os.getpid()}") as database:
        environment = full_stack(home, database, port)
        manage(environment, "migrate", "--noinput")
        token = manage(environment, *ORGANISATION)
        with running(environment, home / "log", *web()):
            wait_for(f"http://127.0.0.1:{port}/readyz", home / "log")
            yield port, token


def cases(port: int, token: str) -> dict[str, tuple[bytes, set[int]]]:
    """What is sent, and the statuses that are right."""
    head = f"Host: 127.0.0.1:{port}\r\nAuthorization: Bearer {token}\r\nIdempotency-Key: k\r\n".encode()
    post = b"POST /api/v1/jobs HTTP/1.1\r\n" + head + b"Content-Type: application/json\r\n"
    get = b" HTTP/1.1\r\n" + head + b"\r\n"
    chunk = b'\r\n5\r\n{"a":\r\n0\r\n\r\n'
    return {
        "a chunked body": (post + b"Transfer-Encoding: chunked\r\n" + chunk, {411}),
        "two lengths": (post + b"Transfer-Encoding: chunked\r\nContent-Length: 5\r\n" + chunk, {400}),
        "a body over the limit": (post + b"Content-Length: 5000001\r\n\r\n" + b"x" * 5_000_001, {413}),
        "a negative length": (post + b"Content-Length: -5\r\n\r\n", {400}),
        "a packed body": (post + b"Content-Length: 3\r\nContent-Encoding: gzip\r\n\r\nabc", {415}),
        "a body that is no UTF-8": (post + b"Content-Length: 4\r\n\r\n\xff\xfe{}", {400}),
        "1,200 parameters": (b"GET /api/v1/jobs?" + b"a=1&" * 1200 + get, {400}),
        "a host that is not ours": (b"GET /api/v1/jobs HTTP/1.1\r\nHost: elsewhere.example\r\n\r\n", {400}),
        "a path that is no text": (b"GET /api/v1/%ff%00" + get, {404}),
        "a parameter that is no text": (b"GET /api/v1/jobs?cursor=%ff%00" + get, {400}),
        "an unknown verb": (b"BREW /api/v1/jobs" + get, {405, 400}),
        "a token that is no text": (
            b"GET /api/v1/jobs HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer \xff\r\n\r\n",
            {401},
        ),
    }


def answer_to(port: int, raw: bytes) -> tuple[int, dict[str, object]]:
    """Send bytes and return the status and the problem document of the answer."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as connection:
        connection.sendall(raw)
        received = b""
        while b"\r\n\r\n" not in received or len(received.partition(b"\r\n\r\n")[2]) < length_of(received):
            part = connection.recv(65536)
            if not part:
                break
            received += part
    head, _, body = received.partition(b"\r\n\r\n")
    assert b"application/problem+json" in head.lower(), head
    return int(head.split()[1]), json.loads(body)


def length_of(received: bytes) -> int:
    head = received.partition(b"\r\n\r\n")[0].lower()
    lengths = [line.split(b":")[1] for line in head.split(b"\r\n") if line.startswith(b"content-length:")]
    return int(lengths[0]) if lengths else 0


@pytest.mark.parametrize("name", list(cases(0, "")))
@pytest.mark.parametrize("server", ["embedded", "gunicorn"])
def test_the_answer_is_a_problem_and_never_a_500(request: pytest.FixtureRequest, server: str, name: str) -> None:
    port, token = request.getfixturevalue(server)
    raw, expected = cases(port, token)[name]
    status, problem = answer_to(port, raw)
    assert status in expected
    assert problem["status"] == status
    assert problem["code"]
