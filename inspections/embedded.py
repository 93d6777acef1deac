"""The whole service in one process: web server and Celery worker in threads, SQLite, in-memory broker."""

import fcntl
import logging
import threading
import time
import uuid
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Final

from celery import current_app
from celery.worker import WorkController, state
from cheroot.wsgi import Server
from django.conf import settings
from django.core.management import call_command
from django.core.wsgi import get_wsgi_application
from django.db import connection, transaction
from django.urls import get_resolver

from inspections.services import calculations, deliveries
from inspections.tasks import sweep_until

logger = logging.getLogger(__name__)

_STOP_WITHIN_SECONDS: Final = 10.0
_COURIERS: Final = 16


class PortTaken(Exception):
    """Another program listens there."""


class HomeTaken(Exception):
    """Another process serves from this home: SQLite and the in-memory broker belong to one process."""


def _only_process(home: Path) -> IO[str]:
    """Hold the home for this process, for as long as it lives, however it ends."""
    home.mkdir(parents=True, exist_ok=True)
    lock = (home / "serve.lock").open("w")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        lock.close()
        raise HomeTaken(str(home)) from error
    return lock


def migrate() -> None:
    """Bring the tables up to date, all or nothing: a process killed on the way must not leave half of them, and one
    that comes meanwhile, as when a token is asked for while the service still starts, waits for the whole.

    A migration and the note that it ran are two transactions otherwise. SQLite cannot alter tables while it checks
    their references, nor end the checks inside a transaction.
    """
    connection.disable_constraint_checking()
    try:
        with transaction.atomic():
            call_command("migrate", verbosity=0, interactive=False)
    finally:
        connection.enable_constraint_checking()


class EmbeddedService:
    """Start with `with EmbeddedService(port=8000) as service:`; everything ends with the block."""

    def __init__(self, *, port: int, host: str = "127.0.0.1", threads: int = 8) -> None:
        self._server = Server((host, port), get_wsgi_application(), numthreads=threads, server_name="pullback")
        # Twice the body limit: a larger body is still read and answered in words (see BodyLimits).
        self._server.max_request_body_size = 4 * settings.BODY_DRAIN_BYTES
        self._threads: list[threading.Thread] = []
        self._stopping = threading.Event()

    @property
    def address(self) -> str:
        """Where the service listens, also when port 0 left the choice to the system."""
        host, port = self._server.bind_addr[:2]
        return f"http://{host}:{port}"

    def __enter__(self) -> "EmbeddedService":
        get_resolver().url_patterns  # noqa: B018 # what cannot be imported fails here, not at the first request
        self._lock = _only_process(settings.HOME)
        migrate()
        # Whoever held these is gone with the process that was here before.
        calculations.release_running()
        deliveries.release_delivering()
        try:
            self._server.prepare()
        except OSError as error:
            raise PortTaken(str(error)) from error
        state.should_stop = None
        self._start_worker("worker", settings.CELERY_TASK_DEFAULT_QUEUE, pool="solo", concurrency=1)
        # Couriers wait for other people's servers; they do so beside the worker, never instead of it.
        self._start_worker("couriers", settings.DELIVERY_QUEUE, pool="threads", concurrency=_COURIERS)
        self._start(self._server.serve, "web")
        self._start(lambda: sweep_until(self._stopping), "sweep")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._server.stop()
        self._stopping.set()
        state.should_stop = 0  # type: ignore[assignment] # read by the worker's loop; what it is computing is finished first
        calculations.ring(uuid.UUID(int=0))  # rings for nothing, so that the loop looks at once instead of in 2 s
        until = time.monotonic() + _STOP_WITHIN_SECONDS
        for thread in self._threads:
            thread.join(max(0.0, until - time.monotonic()))
        self._lock.close()

    def _start(self, target: Any, name: str) -> None:
        thread = threading.Thread(target=target, name=name, daemon=True)
        thread.start()
        self._threads.append(thread)

    def _start_worker(self, name: str, queue: str, *, pool: str, concurrency: int) -> None:
        """Start a real Celery worker: its own loop, its own messages, nothing eager."""
        ready = threading.Event()
        worker: Any = current_app.WorkController(
            pool_cls=pool,
            concurrency=concurrency,
            hostname=f"{name}@pullback",
            ready_callback=lambda consumer: ready.set(),
            without_heartbeat=True,
            without_mingle=True,
            without_gossip=True,
            queues=[queue],
        )
        if not isinstance(worker, WorkController):
            raise TypeError("Celery gave no worker")
        self._start(worker.start, name)
        if not ready.wait(_STOP_WITHIN_SECONDS):
            raise TimeoutError(f"the {name} did not get ready")
