"""The Celery application. Rows in the database are the truth; a message is only a doorbell."""

import os
from typing import Any

from celery import Celery
from celery.signals import setup_logging

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("pullback")
app.config_from_object("django.conf:settings", namespace="CELERY")


@setup_logging.connect
def _as_the_settings_say(**_: Any) -> None:
    """Keep Celery from setting up logging of its own."""


app.autodiscover_tasks(["inspections"])
