"""Liveness and readiness, for whoever watches the process."""

import shutil
from collections.abc import Callable
from typing import Final

import redis
from django.conf import settings
from django.db import DatabaseError, InterfaceError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse

from inspections import exact_json
from inspections.api import problems
from inspections.models import Organisation
from inspections.queries import queues

_known: dict[str, bool] = {"migrated": False}


def live(request: HttpRequest) -> HttpResponse:
    """Answer that the process runs; touches nothing else."""
    return JsonResponse({"status": "ok"})


def ready(request: HttpRequest) -> HttpResponse:
    """Answer whether requests can be served, part by part.

    503 where a write would fail: no database or one that only reads, migrations not applied, no room on the disk.
    A broker that is away or work that waits long is said as `degraded` and stays 200: writes are taken all the same,
    and a balancer that took all web processes out for it would lose more than it saves.
    """
    needed = {name: check() for name, check in _NEEDED.items()}
    wanted = {name: check() for name, check in _WANTED.items()} if needed["database"] == "ok" else {}
    parts = {**needed, **wanted}
    if any(said != "ok" for said in needed.values()):
        body = problems.problem(
            503,
            detail="; ".join(f"{name}: {said}" for name, said in needed.items() if said != "ok"),
            request_id=getattr(request, "request_id", ""),
        )
        answer = HttpResponse(exact_json.write({**body, **parts}), status=503, content_type=problems.MEDIA_TYPE)
        answer["Retry-After"] = "2"
        return answer
    is_whole = all(said == "ok" for said in wanted.values())
    return JsonResponse({"status": "ok" if is_whole else "degraded", **parts})


def _database() -> str:
    """Write and take it back: a database that only reads answers everything but this."""
    try:
        with transaction.atomic():
            Organisation.objects.filter(name="").update(name="")  # no such row; a read-only database refuses it anyway
            transaction.set_rollback(True)
    except (DatabaseError, InterfaceError):
        return "does not take a write"
    return "ok"


def _migrations() -> str:
    if _known["migrated"]:
        return "ok"
    try:
        executor = MigrationExecutor(connection)
        left = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except (DatabaseError, InterfaceError):
        return "cannot be read"
    _known["migrated"] = not left  # once applied they stay applied as long as this process lives
    return f"{len(left)} not applied; run manage.py migrate" if left else "ok"


def _disk() -> str:
    free_mb = shutil.disk_usage(settings.HOME).free // 1_000_000
    return "ok" if free_mb >= settings.LEAST_DISK_MB else f"{free_mb} MB left, under {settings.LEAST_DISK_MB}"


def _broker() -> str:
    if not settings.BROKER_URL.startswith(("redis://", "rediss://")):
        return "ok"
    try:
        with redis.Redis.from_url(settings.BROKER_URL, socket_connect_timeout=0.5, socket_timeout=0.5) as broker:
            broker.ping()
    except (redis.RedisError, OSError):
        return "away; the sweep rings for work that waits"
    return "ok"


def _queue() -> str:
    oldest = queues.oldest_queued_s()
    return "ok" if oldest <= settings.LONGEST_QUEUE_S else f"the oldest calculation waits for {oldest:.0f} s"


_NEEDED: Final[dict[str, Callable[[], str]]] = {"database": _database, "migrations": _migrations, "disk": _disk}
_WANTED: Final[dict[str, Callable[[], str]]] = {"broker": _broker, "queue": _queue}


def no_icon(request: HttpRequest) -> HttpResponse:
    """Answer browsers, which ask for an icon unasked, that there is none."""
    return HttpResponse(status=204)
