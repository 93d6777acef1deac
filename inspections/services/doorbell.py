"""Rings the broker, which only says that work is there. A broker that is away is no error: the sweeps ring again."""

import logging
import time
import uuid
from typing import Any, Final

from celery import current_app

logger = logging.getLogger(__name__)

_AWAY_S: Final = 2.0
_IN_ANY_CASE: Final = 5
_broker: dict[str, float] = {"away_until": 0.0}


def lacking(queue: str, waiting: int) -> int:
    """Return for how many of those that wait a sweep rings again: as many as lack a bell that nobody heard yet.

    A bell for work that is done costs a worker a look. Without this bound a backlog was rung for as a whole at every
    sweep, until workers did little else. A few are rung for in any case: their own bells may be what was lost.
    """
    return min(waiting, max(_IN_ANY_CASE, waiting - _unheard(queue)))


def _unheard(queue: str) -> int:
    """Return how many bells wait in a queue; none where the broker is away or nobody rang yet."""
    try:
        with current_app.connection_for_write() as connection:
            channel: Any = connection.default_channel  # every transport has `queue_declare`, the stubs do not know it
            return int(channel.queue_declare(queue=queue, passive=True).message_count)
    except Exception:  # as in `ring`; and a queue that nobody declared is refused
        return 0


def ring(task: str, id: uuid.UUID) -> None:
    """Tell those who do this task that something waits for them under this id."""
    if time.monotonic() < _broker["away_until"]:
        return  # one refused connection is enough for a while: a request must not pay for each of its rings
    try:
        current_app.send_task(task, args=[str(id)], ignore_result=True)
    except Exception as error:  # kombu, redis and the socket each raise their own kind
        _broker["away_until"] = time.monotonic() + _AWAY_S
        logger.warning("the broker did not take a ring of %s for %s (%s); the sweep rings again", task, id, error)
