"""Errors as RFC 9457 problem documents: one shape for every 4xx and 5xx, whoever refuses."""

import logging
import sys
from typing import Any, Final

from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.db import DatabaseError, DataError, InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.views.defaults import server_error
from rest_framework import exceptions as drf
from rest_framework.response import Response

from inspections import errors, exact_json
from inspections.errors import Fault, Refused

logger = logging.getLogger(__name__)

MEDIA_TYPE: Final = "application/problem+json"

STATUS_OF: Final[dict[type[Refused], int]] = {
    errors.Malformed: 400,
    errors.KeyRequired: 400,
    errors.NotSignedIn: 401,
    errors.ScopeMissing: 403,
    errors.NotFound: 404,
    errors.NotGradedYet: 404,
    errors.NotReadyYet: 404,
    errors.RunAlreadySubmitted: 409,
    errors.RunIsSealed: 409,
    errors.RunIsDraft: 409,
    errors.RunNotSubmitted: 409,
    errors.ReferenceTaken: 409,
    errors.RecordInUse: 409,
    errors.CustomerErased: 409,
    errors.StateNotReachable: 409,
    errors.VersionExists: 409,
    errors.SubscriptionDisabled: 409,
    errors.NothingInspected: 409,
    errors.NothingToCompare: 409,
    errors.ScopeNotComputed: 409,
    errors.KeyInFlight: 409,
    errors.LinkEnded: 410,
    errors.RevisionStale: 412,
    errors.Invalid: 422,
    errors.RunIncomplete: 422,
    errors.KeyReused: 422,
    errors.BatchNotDone: 422,
    errors.RevisionRequired: 428,
    errors.TooManyRequests: 429,
    errors.TooManyExports: 429,
}

TITLES: Final = {
    400: "The request cannot be read",
    401: "Not signed in",
    403: "Not allowed",
    404: "No such thing here",
    405: "Method not allowed",
    409: "Not in this state",
    410: "No longer here",
    411: "Length required",
    412: "The record has changed",
    413: "The body is too large",
    415: "Media type not supported",
    422: "The content is wrong",
    424: "Not done",
    428: "A revision is required",
    429: "Too many requests",
    500: "An error of the service",
    503: "Not available just now",
}

CODES: Final = {
    400: "malformed",
    401: "not_signed_in",
    403: "not_allowed",
    404: "not_found",
    405: "method_not_allowed",
    411: "length_required",
    413: "body_too_large",
    415: "media_type_not_supported",
    429: "too_many_requests",
    500: "service_error",
    503: "not_available",
}

_NO_DATABASE: Final = "The database does not answer just now; send the same request again."

# Faults of form: the value cannot be read as what the field holds. All others are faults of content.
FORM_FAULTS: Final = frozenset(
    {
        "unknown_field",
        "unknown_parameter",
        "not_an_object",
        "not_a_list",
        "not_text",
        "not_a_number",
        "not_a_whole_number",
        "not_yes_or_no",
        "not_a_uuid",
        "not_a_time",
        "not_a_day",
        "no_offset",
        "unusable_character",
        "duplicate_key",
        "too_deep",
        "number_too_large",
        "too_many_digits",
    }
)


def problem(
    status: int,
    *,
    code: str | None = None,
    detail: str = "",
    faults: tuple[Fault, ...] = (),
    request_id: str = "",
) -> dict[str, Any]:
    """Return a problem document."""
    code = code or CODES.get(status, "refused")
    return {
        "type": f"/api/v1/problems/{code}",
        "title": TITLES.get(status, "Refused"),
        "status": status,
        "code": code,
        "detail": detail or TITLES.get(status, "Refused") + ".",
        "errors": [{"pointer": f.pointer, "code": f.code, "detail": f.detail} for f in faults],
        "request_id": request_id,
    }


def http_problem(request: HttpRequest, status: int, *, code: str | None = None, detail: str = "") -> HttpResponse:
    """Return a problem as a plain Django response, for what never reaches a view of the API."""
    body = problem(status, code=code, detail=detail, request_id=getattr(request, "request_id", ""))
    content = exact_json.write(body)
    response = HttpResponse(content, status=status, content_type=MEDIA_TYPE)
    response["Content-Length"] = str(len(content))
    if status == 503:
        response["Retry-After"] = "2"
    return response


def failed(request: HttpRequest) -> HttpResponse:
    """Answer for what failed outside the views of the API (handler500): 503 where the database did not answer."""
    if isinstance(sys.exc_info()[1], OperationalError | InterfaceError):
        return http_problem(request, 503, detail=_NO_DATABASE)
    return server_error(request)


def answer(exc: Exception, context: dict[str, Any]) -> Response:
    """Turn whatever a view raised into a problem (the EXCEPTION_HANDLER of DRF)."""
    request = context.get("request")
    request_id = getattr(getattr(request, "_request", None), "request_id", "")
    status, code, detail, faults = _described(exc)
    detail = _way_on(exc, context.get("view")) or detail
    if status >= 500:
        logger.error("request %s failed", request_id, exc_info=exc)
    body = problem(status, code=code, detail=detail, faults=faults, request_id=request_id)
    body |= getattr(exc, "extension", {})
    return Response(body, status=status, headers=_headers(exc, status), content_type=MEDIA_TYPE)


def _way_on(exc: Exception, view: Any) -> str:
    """Return what to do next where only the address knows it: the methods it answers, the bodies it takes."""
    if isinstance(exc, drf.MethodNotAllowed) and view is not None:
        known = ", ".join(method for method in view.allowed_methods if method != "OPTIONS")
        return f"{exc.detail} Use {known} here; /api/v1/docs shows what each does."
    if isinstance(exc, drf.UnsupportedMediaType) and view is not None:
        known = " or ".join(parser.media_type for parser in view.parser_classes)
        return f"{exc.detail} Send {known}, and say so in Content-Type."
    return ""


def _described(exc: Exception) -> tuple[int, str | None, str, tuple[Fault, ...]]:
    if isinstance(exc, Refused):
        status = STATUS_OF[type(exc)]
        if isinstance(exc, errors.Invalid) and any(fault.code in FORM_FAULTS for fault in exc.faults):
            return 400, "malformed", exc.detail, exc.faults
        return status, exc.code, exc.detail, exc.faults
    if isinstance(exc, Http404):
        return 404, None, "There is nothing at this address.", ()
    if isinstance(exc, SuspiciousOperation):
        return 400, None, "The request cannot be read: it has too many parameters, or a host that is not served.", ()
    if isinstance(exc, PermissionDenied):
        return 403, None, str(exc), ()
    if isinstance(exc, drf.MethodNotAllowed | drf.UnsupportedMediaType | drf.ParseError | drf.Throttled):
        return exc.status_code, None, str(exc.detail), ()
    if isinstance(exc, DataError):  # sent again it would be refused again
        return 422, "invalid", "A value is beyond what is kept; check the largest numbers and longest texts.", ()
    if isinstance(exc, OperationalError | InterfaceError | DatabaseError):
        return 503, None, _NO_DATABASE, ()
    return 500, None, "This is an error of the service; tell its keepers the request_id.", ()


def _headers(exc: Exception, status: int) -> dict[str, str]:
    if status == 401:
        return {"WWW-Authenticate": 'Bearer realm="pullback"'}
    if status == 503:
        return {"Retry-After": "2"}
    if isinstance(exc, errors.TooManyRequests):
        return {"Retry-After": str(exc.retry_after_s)}
    return {}
