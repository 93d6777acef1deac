"""Settings, URLs, Celery and WSGI: the only package that knows how the service is deployed."""

from config.celery import app as celery_app

__all__ = ["celery_app"]
