"""What happens to every request before and after its view."""

import random
import re
import time
import uuid
from collections.abc import Callable
from typing import Any, Final

from django.conf import settings
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse

from inspections import tracing
from inspections.api import problems
from inspections.services import deadlocks

Answer = Callable[[HttpRequest], HttpResponse]
_REQUEST_ID: Final = re.compile(r"[A-Za-z0-9._-]{1,64}")
_CHUNK: Final = 65_536


class RequestIdentity:
    """Gives each request an id, the client's own where it sent a usable one, and says it in the answer."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        sent = request.headers.get("X-Request-Id", "")
        request.request_id = sent if _REQUEST_ID.fullmatch(sent) else uuid.uuid4().hex  # type: ignore[attr-defined]
        with tracing.working_for(request.request_id):  # type: ignore[attr-defined]
            response = self.get_response(request)
        response["X-Request-Id"] = request.request_id  # type: ignore[attr-defined]
        return response


_CLOSED: Final = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
# The desk is Django's own: scripts, styles and pictures in files, none of them inside of a page; only the lists of
# choices it loads set style attributes, which can run nothing.
_DESK: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; "
    "img-src 'self' data:; font-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
# The API page sets styles from its script, and asks the API.
_DOCS: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


class ClosedUnlessSaid:
    """Tells browsers to load, run and frame nothing but what the kind of page needs; a page may say it more closely.

    What was asked for with a token or a session is kept by nobody on the way, and by a client only to ask again.
    """

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.setdefault("Content-Security-Policy", _policy(request.path))
        response.setdefault("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()")
        response.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        response.setdefault("X-Content-Type-Options", "nosniff")
        response.setdefault("X-Frame-Options", "DENY")
        response.setdefault("Referrer-Policy", "same-origin")
        if not request.path.startswith("/static"):
            is_read = request.method in ("GET", "HEAD")
            response.setdefault("Cache-Control", "private, no-cache" if is_read else "no-store")
        return response


def _policy(path: str) -> str:
    if path.startswith("/admin"):
        return _DESK
    return _DOCS if path == "/api/v1/docs" else _CLOSED


def _speaks_json(request: HttpRequest) -> bool:
    return not request.path.startswith(("/admin", "/static"))


class ProblemAnswers:
    """Turns what Django itself refuses (unknown path, bad host, failed view) from HTML into a problem."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        is_html = response.get("Content-Type", "").startswith("text/html")
        is_meant = getattr(response, "is_for_people", False)  # a view that found out that a browser asks
        if response.status_code >= 400 and is_html and not is_meant and _speaks_json(request):
            return problems.http_problem(request, response.status_code, detail=_DETAILS.get(response.status_code, ""))
        return response


_DETAILS: Final = {
    400: "The request cannot be read: its host, its parameters or its headers are not acceptable.",
    404: "There is nothing at this address; /api/v1/ lists what there is.",
}


class BodyLimits:
    """Refuses bodies that are too large or whose length is not said, in a way the client can read."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        is_chunked = "HTTP_TRANSFER_ENCODING" in request.META
        if is_chunked and request.META.get("wsgi.input_terminated"):
            _drain(request, settings.BODY_DRAIN_BYTES)  # or its rest is taken for the next request
        if is_chunked and request.META.get("CONTENT_LENGTH"):
            return problems.http_problem(request, 400, detail="The body's length is said in two ways; send one.")
        if is_chunked:
            return problems.http_problem(request, 411, detail="Send the body with Content-Length, not in chunks.")
        if request.headers.get("Content-Encoding", "identity") != "identity":
            return problems.http_problem(request, 415, detail="Send the body as it is, without Content-Encoding.")
        length = _content_length(request)
        if length is None:
            return problems.http_problem(request, 400, detail="Content-Length is not a number.")
        if length > settings.BODY_LIMIT_BYTES:
            _drain(request, length)
            detail = (
                f"The body is over {settings.BODY_LIMIT_BYTES} bytes; send it in parts: several batches or imports."
            )
            return problems.http_problem(request, 413, detail=detail)
        return self.get_response(request)


def _content_length(request: HttpRequest) -> int | None:
    text = request.META.get("CONTENT_LENGTH") or "0"
    return int(text) if text.isascii() and text.isdigit() else None


def _drain(request: HttpRequest, length: int) -> None:
    """Read a moderately large body to its end: a client still writing never reads the answer."""
    if length > settings.BODY_DRAIN_BYTES:
        return
    left = length
    try:
        while left > 0 and (chunk := request.META["wsgi.input"].read(min(_CHUNK, left))):
            left -= len(chunk)
    except (OSError, ValueError):
        return  # a client that went away, or chunks that are none: the answer stays the same


class DeadlocksTriedAgain:
    """Runs a view again whose transaction the database ended because it and another waited for each other.

    Innermost, so that nothing but the view is repeated. A view that fails left nothing behind: it is one transaction.
    """

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., HttpResponse], args: Any, kwargs: Any
    ) -> HttpResponse:
        request.is_tried_again = True  # type: ignore[attr-defined] # a view of the API lets deadlocks through then
        for _ in range(deadlocks.TRIES - 1):
            try:
                return view(request, *args, **kwargs)
            except OperationalError as error:
                if not deadlocks.is_deadlock(error):
                    raise
                time.sleep(random.uniform(0, 0.1))  # nosec B311 # two that met must not meet again
        request.is_tried_again = False  # type: ignore[attr-defined] # same
        return view(request, *args, **kwargs)
