"""Receivers of webhooks for tests: one that writes down what it is sent and answers as told, and raw ones."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

Reply = tuple[int, dict[str, str], bytes]


@dataclass
class Receiver:
    """What came in, and what is answered: the replies in turn, then the last one for ever."""

    port: int = 0
    delay_s: float = 0
    replies: list[Reply] = field(default_factory=lambda: [(200, {}, b"thanks")])
    received: list[tuple[str, dict[str, str], bytes]] = field(default_factory=list)

    @property
    def allowed(self) -> str:
        """How its place is named in PULLBACK_WEBHOOK_ALLOW."""
        return f"127.0.0.1:{self.port}"

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"http://{self.allowed}/hook?of=town"


@contextmanager
def receiving(*replies: Reply, context: ssl.SSLContext | None = None) -> Iterator[Receiver]:
    """Run a receiver on loopback."""
    receiver = Receiver()
    if replies:
        receiver.replies = list(replies)

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            headers = {name.lower(): value for name, value in self.headers.items()}
            receiver.received.append((self.path, headers, body))
            status, more, content = receiver.replies[min(len(receiver.received), len(receiver.replies)) - 1]
            time.sleep(receiver.delay_s)
            self.send_response(status)
            for name, value in {"Content-Length": str(len(content)), **more}.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    receiver.port = server.server_address[1]
    if context is not None:
        server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        server.server_close()
        thread.join(5)


@contextmanager
def raw(answer: Callable[[socket.socket, threading.Event], None]) -> Iterator[int]:
    """Listen on loopback, hand each connection to `answer` in a thread; give the port."""
    ended = threading.Event()
    listener = socket.create_server(("127.0.0.1", 0))
    listener.settimeout(0.05)

    def accept() -> None:
        while not ended.is_set():
            try:
                connection, _ = listener.accept()
            except TimeoutError:
                continue
            threading.Thread(target=serve, args=(connection,), daemon=True).start()

    def serve(connection: socket.socket) -> None:
        # The caller hangs up, which is what the tests want to see.
        with connection, suppress(OSError):
            answer(connection, ended)

    thread = threading.Thread(target=accept, daemon=True)
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        ended.set()
        thread.join(5)
        listener.close()
