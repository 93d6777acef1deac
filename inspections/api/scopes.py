"""Addresses of repair scopes and of calculations."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Nothing
from inspections.api.pages import page
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.views import ResourceView, once, parsed_id
from inspections.models import Calculation, RepairScope
from inspections.queries import find
from inspections.services import calculations


class OneScope(ResourceView):
    """One repair scope."""

    parameters = frozenset({"units"})

    @described("Read a repair scope", answer=answers.RepairScope, takes_units=True)
    def get(self, request: Request, id: str) -> Response:
        row = find.one(RepairScope, self.actor.organisation, parsed_id(id))
        document = documents.repair_scope(row, self.units(row.units))
        return self.found(document, f"{row.revision}-{document['state']}-{document['is_current']}-{document['units']}")


class Calculations(ResourceView):
    """All calculations of the organisation."""

    parameters = frozenset({"limit", "cursor", "state", "kind"})

    @described("List calculations", answer=answers.Calculations, page_of="calculations", filters=("state", "kind"))
    def get(self, request: Request) -> Response:
        rows = Calculation.objects.filter(organisation=self.actor.organisation)
        return page(request, rows, documents.calculation, self.parameters)


class OneCalculation(ResourceView):
    """One calculation, to be followed until it is done."""

    @described("Follow a calculation", answer=answers.Calculation)
    def get(self, request: Request, id: str) -> Response:
        row = find.one(Calculation, self.actor.organisation, parsed_id(id))
        return self.found(documents.calculation(row), f"{row.state}-{row.attempts}")


class CalculationAgain(ResourceView):
    """Another try for a calculation that failed."""

    scopes_needed = {"POST": "runs:write"}

    @described("Queue a failed calculation again", answer=answers.Calculation, status=202, acts=True)
    @once
    def post(self, request: Request, id: str) -> Response:
        Nothing.checked(request.data)
        row = find.one(Calculation, self.actor.organisation, parsed_id(id))
        calculations.calculation_run_again(actor=self.actor, row=row)
        row.refresh_from_db()
        return self.found(documents.calculation(row), f"{row.state}-{row.attempts}", status=202)
