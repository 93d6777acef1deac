"""Addresses of recomputations: a scheme tried on all records, or applied to them."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.fields import Shape, Text, YesNo
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes import reads as shapes
from inspections.api.views import once, parsed_id
from inspections.errors import Fault, Invalid
from inspections.models import LateralDifference, Recomputation
from inspections.queries import find
from inspections.services import recomputing


class RecomputationRequest(Shape):
    """Which scheme, and whether its gradings are kept."""

    scheme = Text(longest=100, required=True, help_text="Code of a scheme (its newest version) or its id.")
    apply = YesNo(help_text="false: only say what would change. true: keep the new gradings beside the old ones.")


RECOMPUTATIONS = Reading(
    called="recomputations",
    shape=shapes.Recomputation,
    rows=lambda organisation, expanded: Recomputation.objects.filter(organisation=organisation).select_related(
        "scheme", "against", "calculation"
    ),
    document=lambda view, row: recomputing.recomputation_document(row),
    filters=named("apply", "scheme", state="calculation__state"),
    is_covered=False,
)
DIFFERENCES = Reading(
    called="differences",
    shape=shapes.Difference,
    rows=lambda organisation, expanded: LateralDifference.objects.filter(organisation=organisation),
    document=lambda view, row: recomputing.difference_document(row),
    filters={"lateral": "lateral"},
)


class Recomputations(Many):
    """All recomputations of the organisation."""

    scopes_needed = {"POST": "admin"}
    reading = RECOMPUTATIONS

    @lists(RECOMPUTATIONS, "List recomputations")
    def get(self, request: Request) -> Response:
        return self.page(request)

    @described(
        "Try a scheme on all laterals, or apply it",
        body=RecomputationRequest,
        answer=answers.Recomputation,
        makes=True,
        status=202,
        examples=examples.shown("The default scheme, tried", examples.RECOMPUTATION),
    )
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        asked = RecomputationRequest.checked(request.data)
        row = recomputing.recomputation_request(actor=self.actor, document=asked)
        response = self.found(recomputing.recomputation_document(row), row.revision, status=202)
        response["Location"] = f"/api/v1/recomputations/{row.pk}"
        return response


class OneRecomputation(One):
    """How far one is."""

    reading = RECOMPUTATIONS

    @reads(RECOMPUTATIONS, "Follow a recomputation")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)


class Differences(Many):
    """What a scheme changes, lateral by lateral."""

    reading = DIFFERENCES
    own_words = frozenset({"changed_only"})

    @lists(DIFFERENCES, "Read what changes on each lateral", named=("sort", "changed_only"))
    def get(self, request: Request, id: str) -> Response:
        row = find.one(Recomputation, self.actor.organisation, parsed_id(id))
        rows = self.rows().filter(recomputation=row)
        wanted = request.query_params.get("changed_only", "false")
        if wanted not in ("true", "false"):
            detail = "This is true or false."
            raise Invalid(detail, faults=[Fault(("changed_only",), "not_yes_or_no", detail)])
        if wanted == "true":
            rows = rows.filter(is_changed=True)
        return self.page(request, rows)
