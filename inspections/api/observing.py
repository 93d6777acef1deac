"""What is told of every request: a line in the log, and numbers for monitoring. Neither holds what was sent."""

import logging
import time
from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, HttpResponse
from prometheus_client import Counter, Histogram

logger = logging.getLogger("inspections.requests")
_SECONDS: Final = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
_VERBS: Final = frozenset({"GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"})

REQUESTS: Final = Counter(
    "pullback_requests", "Requests by method, address as it stands in the list of addresses, and status.",
    ["method", "route", "status"],
)  # fmt: skip
DURATION: Final = Histogram(
    "pullback_request_seconds", "How long requests took, by method and address.",
    ["method", "route"], buckets=_SECONDS,
)  # fmt: skip


class Observed:
    """Counts and times each request by its route, never by its path: ids and search words stay out."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        began = time.perf_counter()
        response = self.get_response(request)
        seconds = time.perf_counter() - began
        method = str(request.method) if request.method in _VERBS else "other"
        route = _route(request)
        REQUESTS.labels(method, route, str(response.status_code)).inc()
        DURATION.labels(method, route).observe(seconds)
        beside = {"method": method, "route": route, "status": response.status_code, "ms": round(seconds * 1000, 1)}
        logger.info("request", extra=beside)
        return response


def _route(request: HttpRequest) -> str:
    match = getattr(request, "resolver_match", None)
    return f"/{match.route}" if match is not None else "none"
