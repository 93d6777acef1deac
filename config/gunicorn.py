"""gunicorn for the full stack: `gunicorn -c config/gunicorn.py config.wsgi`."""

import os
import shutil
import socket
import tempfile
from typing import Any

from gunicorn import util

# Numbers of all web processes are added up through files, whose place the library looks up as it is imported.
_METRICS = os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", tempfile.mkdtemp(prefix="pullback-metrics-"))

from prometheus_client import multiprocess  # noqa: E402


def child_exit(server: Any, worker: Any) -> None:
    """Let the numbers of a process that ended be added up without it."""
    multiprocess.mark_process_dead(worker.pid)  # type: ignore[no-untyped-call] # of the library


def on_exit(server: Any) -> None:
    """Take the files of the numbers away with the server."""
    shutil.rmtree(_METRICS, ignore_errors=True)


bind = os.environ.get("PULLBACK_BIND", "127.0.0.1:8000")
workers = int(os.environ.get("PULLBACK_WEB_PROCESSES", "2"))
threads = int(os.environ.get("PULLBACK_WEB_THREADS", "8"))
worker_class = "gthread"
timeout = 30
graceful_timeout = 20  # a stop lets running requests end
keepalive = 15
limit_request_line = 8190
worker_tmp_dir = "/dev/shm" if os.path.isdir("/dev/shm") else None  # nosec B108 # gunicorn makes its own file there
control_socket_disable = True  # nobody steers this server but its process


def _write_problem(sock: socket.socket, status_int: int, reason: str, mesg: str) -> None:
    """Answer what never reaches the application (a broken request line or header) in the one shape of errors."""
    body = (
        f'{{"type":"/api/v1/problems/malformed","title":"{reason}","status":{status_int},"code":"malformed",'
        '"detail":"The request line or a header cannot be read.","errors":[],"request_id":""}'
    )
    head = f"HTTP/1.1 {status_int} {reason}\r\nConnection: close\r\nContent-Type: application/problem+json\r\n"
    util.write_nonblock(sock, f"{head}Content-Length: {len(body)}\r\n\r\n{body}".encode("latin1"))


# gunicorn has no setting for the page it sends here, and writes HTML.
util.write_error = _write_problem
