"""Rings the broker, which only says that work is there. A broker that is away is no error: the sweeps ring again."""

import logging
import time
import uuid
from typing import Final

from celery import current_app

logger = logging.getLogger(__name__)

_AWAY_S: Final = 2.0
_broker: dict[str, float] = {"away_until": 0.0}


def ring(task: str, id: uuid.UUID) -> None:
    """Tell those who do this task that something waits for them under this id."""
    if time.monotonic() < _broker["away_until"]:
        return  # one refused connection is enough for a while: a request must not pay for each of its rings
    try:
        current_app.send_task(task, args=[str(id)], ignore_result=True)
    except Exception as error:  # kombu, redis and the socket each raise their own kind
        _broker["away_until"] = time.monotonic() + _AWAY_S
        logger.warning("the broker did not take a ring of %s for %s (%s); the sweep rings again", task, id, error)
