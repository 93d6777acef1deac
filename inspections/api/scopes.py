"""Addresses of repair scopes and of calculations."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Nothing
from inspections.api.laterals import SCOPES
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.shapes import reads as shapes
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import StateNotReachable
from inspections.models import Calculation
from inspections.queries import find
from inspections.services import calculations

CALCULATIONS = Reading(
    called="calculations",
    shape=shapes.Calculation,
    rows=lambda organisation, expanded: Calculation.objects.filter(organisation=organisation),
    document=lambda view, row: documents.calculation(row),
    filters=named("state", "kind", "subject"),
    is_covered=False,
)


class Scopes(Many):
    """All repair scopes of the organisation."""

    reading = SCOPES

    @lists(SCOPES, "List repair scopes")
    def get(self, request: Request) -> Response:
        return self.page(request)


class OneScope(One):
    """One repair scope."""

    reading = SCOPES

    @reads(SCOPES, "Read a repair scope")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)


class Calculations(Many):
    """All calculations of the organisation."""

    reading = CALCULATIONS

    @lists(CALCULATIONS, "List calculations")
    def get(self, request: Request) -> Response:
        return self.page(request)


class OneCalculation(One):
    """One calculation, to be followed until it is done."""

    reading = CALCULATIONS

    @reads(CALCULATIONS, "Follow a calculation")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)


class CalculationAgain(ResourceView):
    """Another try for a calculation that failed."""

    scopes_needed = {"POST": "runs:write"}

    @described(
        "Queue a failed calculation again",
        answer=answers.Calculation,
        status=202,
        acts=True,
        refuses=(StateNotReachable,),
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        Nothing.checked(request.data)
        row = find.one(Calculation, self.actor.organisation, parsed_id(id))
        calculations.calculation_run_again(actor=self.actor, row=row)
        row.refresh_from_db()
        document = documents.calculation(row)
        return self.found(document, self.tag(document), status=202)
