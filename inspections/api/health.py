"""Liveness and readiness, for whoever watches the process."""

from django.db import DatabaseError, InterfaceError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse

from inspections.api import problems


def live(request: HttpRequest) -> HttpResponse:
    """Answer that the process runs; touches nothing else."""
    return JsonResponse({"status": "ok"})


def ready(request: HttpRequest) -> HttpResponse:
    """Answer whether requests can be served: the database answers."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            cursor.fetchone()
    except (DatabaseError, InterfaceError):
        return problems.http_problem(request, 503, detail="The database does not answer.")
    return JsonResponse({"status": "ok", "database": "ok"})


def no_icon(request: HttpRequest) -> HttpResponse:
    """Answer browsers, which ask for an icon unasked, that there is none."""
    return HttpResponse(status=204)
