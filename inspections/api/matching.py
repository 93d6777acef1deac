"""Addresses of decisions on matches between the runs of a lateral."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Shape, Text
from inspections.api.reading import Many, Reading, lists, named
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes import reads as shapes
from inspections.api.shapes.matching import DecisionRequest
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import StateNotReachable
from inspections.models import Calculation, Lateral, MatchDecision
from inspections.queries import find
from inspections.services import matching

DECISIONS = Reading(
    called="decisions",
    shape=shapes.MatchDecision,
    rows=lambda organisation, expanded: MatchDecision.objects.filter(organisation=organisation),
    document=lambda view, row: documents.match_decision(row),
    filters=named("state", "action"),
)


class MatchDecisions(Many):
    """All decisions on one lateral, also those withdrawn."""

    scopes_needed = {"POST": "runs:write"}
    reading = DECISIONS

    @lists(DECISIONS, "List the decisions on matches")
    def get(self, request: Request, id: str) -> Response:
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        return self.page(request, self.rows().filter(lateral=lateral))

    @described(
        "Decide that two findings of two runs are one thing (pin) or two (reject)",
        body=DecisionRequest,
        answer=answers.DecisionMade,
        makes=True,
        status=201,
        examples=examples.shown("One crack, seen from both ends", examples.DECISION),
    )
    @once(key_required=True)
    def post(self, request: Request, id: str) -> Response:
        row, calculation = matching.decision_make(
            actor=self.actor, lateral_id=parsed_id(id), document=DecisionRequest.checked(request.data)
        )
        response = _answer(self, row, calculation, status=201)
        response["Location"] = f"/api/v1/laterals/{row.lateral_id}/match-decisions/{row.id}"
        return response


class _Because(Shape):
    reason = Text(longest=2000, required=True)


class OneMatchDecision(ResourceView):
    """One decision."""

    scopes_needed = {"DELETE": "runs:write"}
    parameters = frozenset({"reason"})

    @described("Read a decision on a match", answer=answers.MatchDecision)
    def get(self, request: Request, id: str, decision: str) -> Response:
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        row = matching.decision_of(lateral, parsed_id(decision))
        return self.found(documents.match_decision(row), row.revision)

    @described(
        "Withdraw a decision, with the reason",
        answer=answers.DecisionMade,
        named=("reason",),
        refuses=(StateNotReachable,),
    )
    def delete(self, request: Request, id: str, decision: str) -> Response:
        reason = _Because.checked(request.query_params.dict())["reason"]
        row, calculation = matching.decision_withdraw(
            actor=self.actor,
            lateral_id=parsed_id(id),
            id=parsed_id(decision),
            reason=reason,
            expected=self.expected,
        )
        return _answer(self, row, calculation, status=200)


def _answer(view: ResourceView, row: MatchDecision, calculation: Calculation, *, status: int) -> Response:
    link = {"id": str(calculation.id), "url": f"/api/v1/calculations/{calculation.id}"}
    return view.found({**documents.match_decision(row), "calculation": link}, row.revision, status=status)
