"""The drawing and the report of a lateral, opened from the desk."""

import uuid

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inspections import exact_json, reports
from inspections.admin import roles
from inspections.models import Lateral
from inspections.queries import results
from inspections.services import reporting
from inspections.translate import Document


def report_view(request: HttpRequest, id: uuid.UUID) -> HttpResponse:
    """Show the report of a lateral: HTML, or with `?form=pdf` on paper (`&page=a4` or letter)."""
    source = _report_input(request, id)
    if request.GET.get("form") == "pdf":
        page: reports.Page = "a4" if request.GET.get("page") == "a4" else "letter"
        return HttpResponse(reports.report_pdf(source, page), content_type="application/pdf")
    return _closed(HttpResponse(reports.report_html(source)))


def drawing_view(request: HttpRequest, id: uuid.UUID) -> HttpResponse:
    """Show the drawing of a lateral alone."""
    drawn = reports.drawing_svg(_report_input(request, id))
    return _closed(HttpResponse(drawn, content_type="image/svg+xml"))


def _report_input(request: HttpRequest, id: uuid.UUID) -> reports.ReportInput:
    rows = Lateral.objects.select_related("site", "organisation", "property__customer").filter(pk=id)
    lateral = roles.visible(request, rows, "organisation").first() if roles.may(request, "see", Lateral) else None
    if lateral is None:
        raise Http404("There is no such lateral here.")
    found = results.reconciled(lateral)
    return reporting.report_input(lateral, "us" if found is None or found.units == "us" else "si")


def _closed(response: HttpResponse) -> HttpResponse:
    """Let a page of words from outside load and run nothing."""
    response["Content-Security-Policy"] = reports.content_security_policy()
    return response


def lateral_alarms(lateral: Lateral) -> list[Document]:
    """Return what must not wait on a lateral, as its newest grading says."""
    found = results.reconciled(lateral)
    graded = results.side_by_side(found)[:1] if found else []
    alarms: list[Document] = [alarm for one in graded for alarm in exact_json.load(one.document)["alarms"]]
    return alarms


def drawing(lateral: Lateral | None) -> SafeString:
    """Return the drawing of a lateral with the links to its report."""
    if lateral is None or not lateral.inputs_revision:
        return format_html("{}", "not inspected yet")
    return format_html(
        '<a href="{}"><img src="{}" width="900" alt="{}"></a><p>{}</p>',
        reverse("admin:lateral_report", args=[lateral.pk]),
        reverse("admin:lateral_drawing", args=[lateral.pk]),
        "The pipe from the side, to scale; the report says the same in words.",
        links(lateral),
    )


def links(lateral: Lateral) -> SafeString:
    """Return the links to a lateral's report."""
    address = reverse("admin:lateral_report", args=[lateral.pk])
    return format_html('<a href="{}">report</a>, <a href="{}?form=pdf">PDF</a>', address, address)
