"""What a link to a report opens, for people without an account: the report, or a page that says why not."""

import logging
from typing import Final

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from inspections import limits, reports
from inspections.api import problems
from inspections.api.problems import STATUS_OF, TITLES
from inspections.errors import LinkEnded, NotFound, Refused, TooManyRequests
from inspections.models import ReportLink
from inspections.services import report_links

logger = logging.getLogger(__name__)

_HTML: Final = "text/html"
_FORMS: Final = {"html": _HTML, "pdf": "application/pdf", "svg": "image/svg+xml"}
_CHARSETS: Final = {"html": "; charset=utf-8"}
# A reader turns pages and prints; a program that asks faster is not one. By link, whoever holds it.
_RATE: Final = limits.Limit(interval_us=2_000_000, burst=60)
_PHONE: Final = ("mobile", "android", "iphone", "ipad")
# The address is the key: it stays out of other sites' logs, of shared caches and of search engines.
_HEADERS: Final = {
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
    "Cache-Control": "no-store, private",
}


@require_safe
def shared_report(request: HttpRequest, key: str) -> HttpResponse:
    """Show the report that a link leads to: HTML, or by `?form=` or Accept as PDF or drawing."""
    try:
        response = _report(request, key)
    except Refused as error:
        response = _refusal(request, error)
    except (OperationalError, InterfaceError) as error:
        # Never the path: it holds the key.
        logger.error("a shared report could not be read: %s", type(error).__name__)
        response = problems.http_problem(request, 503)
    for name, value in _HEADERS.items():
        response[name] = value
    return response


def _report(request: HttpRequest, key: str) -> HttpResponse:
    row = report_links.link_holding(key=key)
    spent = limits.count(f"report-link:{row.pk}", _RATE)
    if not spent.is_allowed:
        raise TooManyRequests("This link is opened too often; wait a moment.", retry_after_s=spent.retry_after_s)
    form = _form(request)
    if request.method == "HEAD":  # nobody has read anything
        return HttpResponse(content_type=f"{_FORMS[form]}{_CHARSETS.get(form, '')}")
    source = report_links.link_report(row)
    body = _drawn(source, form, request.GET.get("page", "letter"))
    _opened(request, row, form, source)
    response = HttpResponse(body, content_type=f"{_FORMS[form]}{_CHARSETS.get(form, '')}")
    response["Content-Security-Policy"] = reports.content_security_policy()
    if form == "pdf":
        response["Content-Disposition"] = 'inline; filename="drain-inspection.pdf"'
    return response


def _form(request: HttpRequest) -> str:
    """Return the form asked for. What else stands in the address is left alone: messengers add to links."""
    if request.GET.get("form") in _FORMS:
        return request.GET["form"]
    wanted = request.get_preferred_type(list(_FORMS.values()))
    return next((form for form, media_type in _FORMS.items() if media_type == wanted), "html")


def _drawn(source: reports.ReportInput, form: str, page: str) -> str | bytes:
    if form == "pdf":
        return reports.report_pdf(source, page="a4" if page == "a4" else "letter")
    return reports.drawing_svg(source) if form == "svg" else reports.report_html(source)


def _opened(request: HttpRequest, row: ReportLink, form: str, source: reports.ReportInput) -> None:
    report_links.link_opened(
        row=row,
        form=form,
        reader=_reader(request.headers.get("User-Agent", "")),
        shown=source,
        request_id=getattr(request, "request_id", ""),
    )


def _reader(agent: str) -> str:
    """Return the kind of program that reads, as coarse as it is of use to know."""
    said = agent.lower()
    if not said.startswith("mozilla/"):
        return "program"
    if "bot" in said or "preview" in said:
        return "preview"
    return "phone" if any(word in said for word in _PHONE) else "browser"


def _refusal(request: HttpRequest, error: Refused) -> HttpResponse:
    """Say why there is no report: to people in words, to programs as a problem."""
    status = STATUS_OF[type(error)]
    wanted = request.get_preferred_type([problems.MEDIA_TYPE, "application/json", _HTML])
    if wanted == _HTML:
        response = _page(error, status)
    else:
        response = problems.http_problem(request, status, code=error.code, detail=error.detail)
    if isinstance(error, TooManyRequests):
        response["Retry-After"] = str(error.retry_after_s)
    return response


def _page(error: Refused, status: int) -> HttpResponse:
    title = _SAID.get(type(error), TITLES[status])
    response = HttpResponse(reports.page_of_words(title, [error.detail]), status=status)
    response.is_for_people = True  # type: ignore[attr-defined] # read by the middleware that answers problems
    response["Content-Security-Policy"] = reports.content_security_policy()
    return response


_SAID: Final = {NotFound: "There is no report at this link", LinkEnded: "This link has ended"}
