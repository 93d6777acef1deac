"""Addresses of recomputations: a scheme tried on all records, or applied to them."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.fields import Shape, Text, YesNo
from inspections.api.pages import page
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import Fault, Invalid
from inspections.models import Recomputation
from inspections.queries import find
from inspections.services import recomputing


class RecomputationRequest(Shape):
    """Which scheme, and whether its gradings are kept."""

    scheme = Text(longest=100, required=True, help_text="Code of a scheme (its newest version) or its id.")
    apply = YesNo(help_text="false: only say what would change. true: keep the new gradings beside the old ones.")


class Recomputations(ResourceView):
    """All recomputations of the organisation."""

    scopes_needed = {"POST": "admin"}
    parameters = frozenset({"limit", "cursor"})

    @described("List recomputations", answer=answers.Recomputations, page_of="recomputations")
    def get(self, request: Request) -> Response:
        rows = Recomputation.objects.filter(organisation=self.actor.organisation)
        rows = rows.select_related("scheme", "against", "calculation")
        return page(request, rows, recomputing.recomputation_document, self.parameters)

    @described(
        "Try a scheme on all laterals, or apply it",
        body=RecomputationRequest,
        answer=answers.Recomputation,
        makes=True,
        status=202,
    )
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        asked = RecomputationRequest.checked(request.data)
        row = recomputing.recomputation_request(actor=self.actor, document=asked)
        response = self.found(recomputing.recomputation_document(row), row.revision, status=202)
        response["Location"] = f"/api/v1/recomputations/{row.pk}"
        return response


class OneRecomputation(ResourceView):
    """How far one is."""

    @described("Follow a recomputation", answer=answers.Recomputation)
    def get(self, request: Request, id: str) -> Response:
        row = find.one(Recomputation, self.actor.organisation, parsed_id(id))
        document = recomputing.recomputation_document(row)
        return self.found(document, f"{row.revision}-{document['state']}-{row.done}")


class Differences(ResourceView):
    """What a scheme changes, lateral by lateral."""

    parameters = frozenset({"limit", "cursor", "changed_only"})

    @described(
        "Read what changes on each lateral", answer=answers.Differences, page_of="differences", named=("changed_only",)
    )
    def get(self, request: Request, id: str) -> Response:
        row = find.one(Recomputation, self.actor.organisation, parsed_id(id))
        rows = row.differences.all()
        wanted = request.query_params.get("changed_only", "false")
        if wanted not in ("true", "false"):
            detail = "This is true or false."
            raise Invalid(detail, faults=[Fault(("changed_only",), "not_yes_or_no", detail)])
        if wanted == "true":
            rows = rows.filter(is_changed=True)
        return page(request, rows, recomputing.difference_document, frozenset({"limit", "cursor"}))
