"""Addresses of bids on a repair scope, and of their comparison."""

from datetime import date
from typing import Any, Final

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Day, Shape
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import bid_answers, examples
from inspections.api.shapes import reads as shapes
from inspections.api.shapes.bids import BidShape, Withdrawal
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import ReferenceTaken, ScopeNotComputed, StateNotReachable
from inspections.merge import merged
from inspections.models import Bid, RepairScope
from inspections.queries import find
from inspections.services import bid_comparing, bids
from inspections.services.revisions import Outcome

_REFUSES: Final = (ReferenceTaken, ScopeNotComputed, StateNotReachable)
BIDS = Reading(
    called="bids",
    shape=shapes.Bid,
    rows=lambda organisation, expanded: Bid.objects.filter(organisation=organisation),
    document=lambda view, row: documents.bid(row),
    filters=named("state", "plan", "bidder", "external_ref"),
)


def _scope(view: ResourceView, id: str) -> RepairScope:
    return find.one(RepairScope, view.actor.organisation, parsed_id(id))


class Bids(Many):
    """All bids on one scope, also those withdrawn."""

    scopes_needed = {"POST": "repair-scopes:write"}
    reading = BIDS

    @lists(BIDS, "List the bids on a repair scope")
    def get(self, request: Request, id: str) -> Response:
        return self.page(request, self.rows().filter(repair_scope=_scope(self, id)))

    @described(
        "Enter a bid on one plan of a repair scope, as it was written",
        body=BidShape,
        answer=bid_answers.Bid,
        makes=True,
        refuses=_REFUSES,
        examples=examples.shown("Unit prices and a lump sum", examples.BID),
    )
    @once(key_required=True)
    def post(self, request: Request, id: str) -> Response:
        scope = _scope(self, id)
        outcome = bids.bid_receive(actor=self.actor, scope=scope, document=BidShape.checked(request.data))
        return _answer(self, outcome)


class OneBid(One):
    """One bid."""

    scopes_needed = {"PUT": "repair-scopes:write", "PATCH": "repair-scopes:write"}
    reading = BIDS

    @reads(BIDS, "Read a bid")
    def get(self, request: Request, id: str, bid: str) -> Response:
        row = find.among(self.rows().filter(repair_scope=_scope(self, id)), parsed_id(bid))
        return self.found(self.reading.shown(self, row), row.revision)

    @described(
        "Enter or replace a bid under your own id",
        body=BidShape,
        answer=bid_answers.Bid,
        makes=True,
        refuses=_REFUSES,
        examples=examples.shown("Unit prices and a lump sum", examples.BID),
    )
    def put(self, request: Request, id: str, bid: str) -> Response:
        outcome = bids.bid_put(
            actor=self.actor,
            scope=_scope(self, id),
            id=parsed_id(bid),
            document=BidShape.checked(request.data),
            expected=self.expected,
        )
        return _answer(self, outcome)

    @described(
        "Correct a bid that was entered wrongly",
        body=BidShape,
        answer=bid_answers.Bid,
        patches=True,
        refuses=_REFUSES,
        examples=examples.shown("A slip of the pen", examples.BID_CHANGE),
    )
    def patch(self, request: Request, id: str, bid: str) -> Response:
        outcome = bids.bid_change(
            actor=self.actor,
            scope=_scope(self, id),
            id=parsed_id(bid),
            edit=lambda now: BidShape.checked(merged(now, request.data)),
            expected=self.expected,
        )
        return _answer(self, outcome)


class BidWithdrawal(ResourceView):
    """A bid taken back."""

    scopes_needed = {"POST": "repair-scopes:write"}

    @described(
        "Withdraw a bid, with the reason",
        body=Withdrawal,
        answer=bid_answers.Bid,
        acts=True,
        may_match=True,
        refuses=(StateNotReachable,),
        examples=examples.shown("Taken back", examples.WITHDRAWAL),
    )
    @once
    def post(self, request: Request, id: str, bid: str) -> Response:
        row = bids.bid_withdraw(
            actor=self.actor,
            scope=_scope(self, id),
            id=parsed_id(bid),
            reason=Withdrawal.checked(request.data)["reason"],
            expected=self.expected,
        )
        return self.found(documents.bid(row), row.revision)


class _On(Shape):
    on = Day()


class BidComparison(ResourceView):
    """All bids on one plan, held against the scope and each other."""

    parameters = frozenset({"units", "plan", "on"})

    @described(
        "Compare the bids on a plan line by line: what differs, what is missing, who is lowest, who pays",
        answer=bid_answers.BidComparison,
        takes_units=True,
        named=("plan", "on"),
        refuses=(ScopeNotComputed,),
    )
    def get(self, request: Request, id: str) -> Response:
        scope = _scope(self, id)
        on: Any = _On.checked({name: v for name, v in request.query_params.items() if name == "on"})["on"]
        units = self.units(scope.units)
        compared = bid_comparing.comparison_of(
            scope,
            plan=request.query_params.get("plan"),
            on=on and date.fromisoformat(on),
            units=units,
        )
        return self.found(compared.document, f"{compared.inputs_sha256[:16]}-{units}")


def _answer(view: ResourceView, outcome: Outcome[Bid]) -> Response:
    row = outcome.row
    response = view.found(documents.bid(row), row.revision, status=201 if outcome.is_new else 200)
    if outcome.is_new:
        response["Location"] = f"/api/v1/repair-scopes/{row.repair_scope_id}/bids/{row.pk}"
    return response
