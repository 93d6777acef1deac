"""One state of the whole database, held while an export is read from it, at most a few at once per organisation.

The snapshot has a connection of its own. It only reads, so it holds up no writer; when it is closed, or its process
dies, its place is free again.
"""

import copy
import hashlib
import threading
import uuid
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.utils import load_backend
from psycopg import IsolationLevel

from inspections.errors import TooManyExports

MOST_AT_ONCE: Final = 5
_open: Counter[uuid.UUID] = Counter()  # of this process; the embedded service has one
_counting: Final = threading.Lock()


class Snapshot:
    """The database as it is now, until `close`."""

    def __init__(self, organisation: uuid.UUID) -> None:
        self._organisation = organisation
        self._connection = _connection()
        self._is_open = False
        try:
            self._take_place()
            self._is_open = True
            self._begin()
        except BaseException:
            self.close()
            raise

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Let all that this thread reads inside the block come from the snapshot."""
        usual = connections[DEFAULT_DB_ALIAS]
        connections[DEFAULT_DB_ALIAS] = self._connection
        try:
            yield
        finally:
            connections[DEFAULT_DB_ALIAS] = usual

    def close(self) -> None:
        """Give the connection and the place back; a second time is no fault."""
        self._connection.close()
        if self._is_open and self._connection.vendor != "postgresql":
            with _counting:
                _open[self._organisation] -= 1
        self._is_open = False

    def _take_place(self) -> None:
        if self._connection.vendor == "postgresql":
            is_free = any(self._lock(place) for place in range(MOST_AT_ONCE))
        else:
            with _counting:
                is_free = _open[self._organisation] < MOST_AT_ONCE
                _open[self._organisation] += is_free
        if not is_free:
            raise TooManyExports(
                f"{MOST_AT_ONCE} exports of your organisation are being read; wait until one has ended.",
                retry_after_s=5,
            )

    def _lock(self, place: int) -> bool:
        """Take a place that all web processes know of; it ends with the connection."""
        digest = hashlib.sha256(f"export/{self._organisation}/{place}".encode()).digest()
        with self._connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock(%s)", [int.from_bytes(digest[:8], "big", signed=True)])
            return bool(cursor.fetchone()[0])

    def _begin(self) -> None:
        with self._connection.cursor() as cursor:
            if self._connection.vendor == "postgresql":
                cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            else:
                cursor.execute("BEGIN DEFERRED")
            cursor.execute("SELECT 1 FROM inspections_organisation LIMIT 1")  # the first read fixes the state


def _connection() -> Any:
    settings = copy.deepcopy(connections[DEFAULT_DB_ALIAS].settings_dict)
    if settings["ENGINE"].endswith("sqlite3"):
        settings["NAME"] = f"file:{settings['NAME']}?mode=ro"
        settings["OPTIONS"] = {"timeout": settings["OPTIONS"].get("timeout", 20)}
    else:
        settings["OPTIONS"]["isolation_level"] = IsolationLevel.REPEATABLE_READ
    backend: Any = load_backend(settings["ENGINE"])
    connection = backend.DatabaseWrapper(settings, DEFAULT_DB_ALIAS)
    connection.inc_thread_sharing()  # whoever gives up the answer may close it from another thread
    return connection
