"""Addresses that close a repair scope after the work."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import closing_answers, examples
from inspections.api.shapes import reads as shapes
from inspections.api.shapes.closings import ClosingRequest
from inspections.api.views import once, parsed_id
from inspections.errors import ReferenceTaken, ScopeNotComputed
from inspections.models import Closing, RepairScope
from inspections.queries import find
from inspections.services import closings

CLOSINGS = Reading(
    called="closings",
    shape=shapes.Closing,
    rows=lambda organisation, expanded: Closing.objects.filter(organisation=organisation).select_related(
        "calculation", "repair_scope__lateral"
    ),
    document=lambda view, row: documents.closing(row, view.units(row.units)),
    filters=named("plan", "outcome", "external_ref", state="calculation__state"),
    takes_units=True,
    is_covered=False,
)


class Closings(Many):
    """The closings of one scope; the newest one counts."""

    scopes_needed = {"POST": "repair-scopes:write"}
    reading = CLOSINGS

    @lists(CLOSINGS, "List the closings of a repair scope")
    def get(self, request: Request, id: str) -> Response:
        scope = find.one(RepairScope, self.actor.organisation, parsed_id(id))
        return self.page(request, self.rows().filter(repair_scope=scope))

    @described(
        "Report a plan as carried out and have it judged by runs and pressure tests made after the work",
        body=ClosingRequest,
        answer=closing_answers.ClosingAccepted,
        makes=True,
        status=202,
        refuses=(ReferenceTaken, ScopeNotComputed),
        examples=examples.shown("Both sections done, one air test", examples.CLOSING),
    )
    @once(key_required=True)
    def post(self, request: Request, id: str) -> Response:
        scope = find.one(RepairScope, self.actor.organisation, parsed_id(id))
        document = ClosingRequest.checked(request.data)
        row = closings.closing_request(actor=self.actor, scope=scope, document=document)
        calculation = {"id": str(row.calculation_id), "url": f"/api/v1/calculations/{row.calculation_id}"}
        response = self.found({"id": str(row.id), "calculation": calculation}, row.revision, status=202)
        response["Location"] = f"/api/v1/closings/{row.id}"
        return response


class OneClosing(One):
    """One closing."""

    reading = CLOSINGS

    @reads(CLOSINGS, "Read what was found of a plan after the work")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)
