"""Addresses of links to reports: made, listed, withdrawn. What a link opens is in `shared_reports`."""

from datetime import datetime
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Nothing
from inspections.api.reading import Many, One, Reading, lists
from inspections.api.reading import reads as reading_one
from inspections.api.schema import described
from inspections.api.shapes import examples, reads
from inspections.api.shapes import report_link as shapes
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import NothingInspected
from inspections.models import Lateral, ReportLink
from inspections.queries import find
from inspections.services import report_links
from inspections.services.report_links import address_of

LINKS = Reading(
    called="links",
    shape=reads.ReportLink,
    rows=lambda organisation, expanded: ReportLink.objects.filter(organisation=organisation),
    document=lambda view, row: documents.report_link(row),
    filters={"created_after": "created_at__gt", "created_before": "created_at__lt"},
    is_covered=False,
)


class LateralReportLinks(Many):
    """Links to the report of a lateral."""

    scopes_needed = {"POST": "jobs:write"}
    reading = LINKS

    @lists(LINKS, "List the links to a report")
    def get(self, request: Request, id: str) -> Response:
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        return self.page(request, self.rows().filter(lateral=lateral))

    @described(
        "Make a link that shows the report without an account; its address is shown this once",
        body=shapes.ReportLinkShape,
        answer=shapes.ReportLinkMade,
        makes=True,
        status=201,
        examples=examples.shown("For two weeks", examples.REPORT_LINK),
        refuses=(NothingInspected,),
    )
    @once(key_required=True)
    def post(self, request: Request, id: str) -> Response:
        asked: dict[str, Any] = shapes.ReportLinkShape.checked(request.data)
        ends = asked["expires_at"]
        asked["expires_at"] = datetime.fromisoformat(ends.upper()) if ends else None
        row, key = report_links.link_make(actor=self.actor, lateral_id=parsed_id(id), asked=asked)
        url = request.build_absolute_uri(address_of(key))
        document = documents.report_link(row)
        response = self.found({**document, "url": url}, self.tag(document), status=201)
        response["Location"] = f"/api/v1/report-links/{row.id}"
        return response


class OneReportLink(One):
    """One link."""

    reading = LINKS

    @reading_one(LINKS, "Read what became of a link")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)


class ReportLinkRevocation(ResourceView):
    """The end of a link."""

    scopes_needed = {"POST": "jobs:write"}

    @described("Withdraw a link: it shows nothing any more", answer=shapes.ReportLink, acts=True)
    @once
    def post(self, request: Request, id: str) -> Response:
        Nothing.checked(request.data)
        row = find.one(ReportLink, self.actor.organisation, parsed_id(id))
        report_links.link_revoke(actor=self.actor, row=row)
        row.refresh_from_db()
        document = documents.report_link(row)
        return self.found(document, self.tag(document))
