"""What the broker can ring for. The work itself is in the services."""

import logging
import os
import signal
import threading
import time
import uuid
from typing import Any

from billiard import active_children
from celery import shared_task
from celery.signals import worker_ready, worker_shutting_down
from django.conf import settings
from django.db import close_old_connections, connection

from inspections.services import calculations, couriers, deliveries, kept_answers, outbox, work

logger = logging.getLogger(__name__)
_stopping = threading.Event()


@shared_task(name=calculations.TASK, ignore_result=True)
def calculate(calculation_id: str) -> None:
    """Do one calculation, if it is still to be had."""
    work.perform(uuid.UUID(calculation_id))


@shared_task(name=outbox.TASK, ignore_result=True)
def deliver(subscription_id: str) -> None:
    """Send what waits for one receiver."""
    couriers.deliver(uuid.UUID(subscription_id))


def sweep_until(stopping: threading.Event) -> None:
    """Ring again and again for work whose message was lost; every worker does, none depends on a clock process."""
    while True:
        try:
            close_old_connections()
            work.sweep()
            deliveries.sweep()
            kept_answers.sweep()
        except Exception as error:  # the sweep must outlive any outage of the database
            logger.warning("the sweep failed (%s); it tries again", error)
        if stopping.wait(settings.SWEEP_SECONDS):
            connection.close()
            return


@worker_ready.connect
def _start_sweeping(**_: Any) -> None:
    _stopping.clear()
    threading.Thread(target=sweep_until, args=(_stopping,), name="sweep", daemon=True).start()


@worker_shutting_down.connect
def _stop_in_time(**_: Any) -> None:
    """Stop sweeping, and end this worker the hard way where it has not ended by itself after its time.

    What it had is not lost: the row's lease runs out and another worker takes it.
    """
    _stopping.set()
    threading.Thread(target=_end_after, args=(settings.STOP_SECONDS,), name="hard limit", daemon=True).start()


def _end_after(seconds: float) -> None:
    time.sleep(seconds)
    logger.warning("the worker did not end within %s s of being told to; it is ended", seconds)
    for child in active_children():
        os.kill(child.pid, signal.SIGKILL)  # type: ignore[arg-type] # an active one has a pid
    os._exit(1)
