"""The report of a lateral as HTML, PDF or SVG, by Accept."""

from collections.abc import Mapping
from typing import Any

from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import exact_json, reports
from inspections.api.schema import described
from inspections.api.views import ResourceView, parsed_id
from inspections.errors import Fault, Invalid, NotGradedYet
from inspections.models import Lateral
from inspections.queries import find, results
from inspections.reports import ReportInput
from inspections.services import reporting


class _Rendered(BaseRenderer):
    """A renderer whose data are a ReportInput; a problem passes as it is."""

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> Any:
        if not isinstance(data, ReportInput):
            return exact_json.write(data)
        page = (renderer_context or {})["request"].query_params.get("page", "letter")
        return self.drawn(data, page)

    def drawn(self, data: ReportInput, page: str) -> str | bytes:
        """Return the report in this form."""
        raise NotImplementedError


class HTML(_Rendered):
    """The report as one self-contained page."""

    media_type = "text/html"
    format = "html"

    def drawn(self, data: ReportInput, page: str) -> str | bytes:
        return reports.report_html(data)


class PDF(_Rendered):
    """The report on paper."""

    media_type = "application/pdf"
    format = "pdf"
    charset = None
    render_style = "binary"

    def drawn(self, data: ReportInput, page: str) -> str | bytes:
        return reports.report_pdf(data, page="a4" if page == "a4" else "letter")


class SVG(_Rendered):
    """The drawing of the pipe alone."""

    media_type = "image/svg+xml"
    format = "svg"

    def drawn(self, data: ReportInput, page: str) -> str | bytes:
        return reports.drawing_svg(data)


class LateralReport(ResourceView):
    """The report of a lateral."""

    renderer_classes = [HTML, PDF, SVG]
    parameters = frozenset({"units", "page", "scope"})

    @described(
        "Read the report",
        forms={"text/html": str, "application/pdf": bytes, "image/svg+xml": str},
        takes_units=True,
        filters=("page", "scope"),
        carries=("Content-Security-Policy",),
        refuses=(NotGradedYet,),
    )
    def get(self, request: Request, id: str) -> Response:
        if request.query_params.get("page", "letter") not in ("letter", "a4"):
            detail = "Use letter or a4."
            raise Invalid("The page is not known.", faults=[Fault(("page",), "unknown_value", detail)])
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        found = results.reconciled(lateral)
        units = self.units(found.units if found else "us")
        scope = request.query_params.get("scope")
        headers = {"Content-Security-Policy": reports.content_security_policy()}
        content = reporting.report_input(lateral, units, scope_id=parsed_id(scope) if scope else None)
        return Response(content, headers=headers)
