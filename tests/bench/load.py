"""Clients that keep a server busy over kept-alive connections, with as little work of their own as they can."""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

CONNECTIONS = 4


def per_second(port: int, requests: Sequence[bytes], *, status: int, connections: int = CONNECTIONS) -> float:
    """Send all requests over some connections at once and return how many were answered a second.

    Raises RuntimeError for an answer with another status: a refusal is fast and proves nothing.
    """
    shares = [requests[n::connections] for n in range(connections)]
    with ThreadPoolExecutor(connections) as pool:
        began = time.perf_counter()
        for sent in [pool.submit(_send, port, share, status) for share in shares]:
            sent.result()
        return len(requests) / (time.perf_counter() - began)


def _send(port: int, requests: Sequence[bytes], status: int) -> None:
    with socket.create_connection(("127.0.0.1", port)) as sock:
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        for request in requests:
            sock.sendall(request)
            answer = read_answer(sock)
            if not answer.startswith(b"HTTP/1.1 %d" % status):
                raise RuntimeError(f"not answered {status}: {answer[:1000]!r}")


def read_answer(sock: socket.socket) -> bytes:
    """Return one whole answer: head and body by its Content-Length."""
    answer = b""
    while (head := answer.find(b"\r\n\r\n")) < 0:
        answer += _more(sock)
    fields = answer[:head].lower().split(b"\r\n")
    lengths = [int(line.partition(b":")[2]) for line in fields if line.startswith(b"content-length:")]
    whole = head + 4 + (lengths[0] if lengths and b" 304 " not in answer[:13] else 0)
    while len(answer) < whole:
        answer += _more(sock)
    return answer


def _more(sock: socket.socket) -> bytes:
    piece = sock.recv(65536)
    if not piece:
        raise RuntimeError("the server hung up in the middle of an answer")
    return piece


def children(pid: int) -> list[int]:
    """Return the processes that a process started."""
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def processor_s(pids: Sequence[int]) -> float:
    """Return the processor time, user and system, that processes used so far; those that ended count as nothing."""
    ticks = 0
    for pid in pids:
        try:
            fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        except FileNotFoundError:
            continue
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")
