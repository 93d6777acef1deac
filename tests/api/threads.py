"""Many clients at once, each in a thread with a database connection of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.db import connection


def at_once(count: int, act: Callable[[int], Any], *, threads: int = 8) -> list[Any]:
    """Do `act(0)`, `act(1)` ... at the same time and return what each gave."""
    start = threading.Barrier(min(count, threads))

    def one(number: int) -> Any:
        try:
            if number < start.parties:
                start.wait(timeout=20)
            return act(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(one, range(count)))
