"""The address that compares an earlier and a later inspection of a lateral."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.views import ResourceView, parsed_id
from inspections.errors import NothingInspected, NothingToCompare
from inspections.models import Lateral
from inspections.queries import find, results
from inspections.services import comparing


class LateralComparison(ResourceView):
    """Then and now."""

    parameters = frozenset({"units", "earlier", "later"})

    @described(
        "Compare an earlier and a later inspection: new, grown, unchanged, repaired, not seen",
        answer=answers.Comparison,
        takes_units=True,
        named=("earlier", "later"),
        refuses=(NothingInspected, NothingToCompare),
    )
    def get(self, request: Request, id: str) -> Response:
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        reconciled = results.reconciled(lateral)
        units = self.units(reconciled.units if reconciled else "us")
        named = {name: request.query_params.get(name) for name in ("earlier", "later")}
        compared = comparing.comparison_of(lateral, **named)
        return self.found(comparing.in_units(compared.document, units), f"{compared.inputs_sha256[:16]}-{units}")
