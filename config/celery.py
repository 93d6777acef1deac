"""The Celery application. Rows in the database are the truth; a message is only a doorbell."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("pullback")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["inspections"])
