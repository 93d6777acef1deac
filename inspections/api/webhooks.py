"""Addresses of subscriptions and of their deliveries."""

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Nothing
from inspections.api.reading import Many, One, Reading, lists, named
from inspections.api.reading import reads as reading_one
from inspections.api.schema import described
from inspections.api.shapes import examples, reads
from inspections.api.shapes import webhook as shapes
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import ReferenceTaken, StateNotReachable, SubscriptionDisabled
from inspections.merge import merged
from inspections.models import Delivery, Subscription
from inspections.services import deliveries, subscriptions, webhook_secrets
from inspections.services.revisions import Outcome

_EXAMPLE = examples.shown("Runs and laterals, to one receiver", examples.SUBSCRIPTION)
_ADMIN = dict.fromkeys(("GET", "POST", "PUT", "PATCH", "DELETE"), "admin")


SUBSCRIPTIONS = Reading(
    called="subscriptions",
    shape=reads.Subscription,
    rows=lambda organisation, expanded: Subscription.objects.filter(organisation=organisation),
    document=lambda view, row: subscriptions.subscription_document(row),
    filters=named("external_ref", "is_enabled"),
)
DELIVERIES = Reading(
    called="deliveries",
    shape=reads.Delivery,
    rows=lambda organisation, expanded: Delivery.objects.filter(organisation=organisation).select_related("event"),
    document=lambda view, row: documents.delivery(row),
    filters=named("subscription", "state", event="event__id", event_type="event__type"),
    expansions={"event": lambda view, row: documents.event(row.event)},
    is_covered=False,
)


class Subscriptions(Many):
    """All subscriptions of the organisation."""

    scopes_needed = _ADMIN
    reading = SUBSCRIPTIONS

    @lists(SUBSCRIPTIONS, "List subscriptions")
    def get(self, request: Request) -> Response:
        return self.page(request)

    @described(
        "Subscribe to events",
        body=shapes.SubscriptionShape,
        answer=shapes.SubscriptionMade,
        makes=True,
        refuses=(ReferenceTaken,),
        examples=_EXAMPLE,
    )
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        document = shapes.SubscriptionShape.checked(request.data)
        return _answer(self, subscriptions.subscription_create(actor=self.actor, document=document))


class OneSubscription(One):
    """One subscription."""

    scopes_needed = _ADMIN
    reading = SUBSCRIPTIONS

    @reading_one(SUBSCRIPTIONS, "Read a subscription")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)

    @described(
        "Make or replace a subscription under your own id",
        body=shapes.SubscriptionShape,
        answer=shapes.SubscriptionMade,
        makes=True,
        refuses=(ReferenceTaken,),
        examples=_EXAMPLE,
    )
    def put(self, request: Request, id: str) -> Response:
        document = shapes.SubscriptionShape.checked(request.data)
        outcome = subscriptions.subscription_put(
            actor=self.actor, id=parsed_id(id), document=document, expected=self.expected
        )
        return _answer(self, outcome)

    @described(
        "Change a subscription",
        body=shapes.SubscriptionShape,
        answer=shapes.Subscription,
        patches=True,
        refuses=(ReferenceTaken,),
        examples=examples.shown("Gradings only", examples.SUBSCRIPTION_CHANGE),
    )
    def patch(self, request: Request, id: str) -> Response:
        def edit(document: dict[str, Any]) -> dict[str, Any]:
            return shapes.SubscriptionShape.checked(merged(document, request.data))

        outcome = subscriptions.subscription_change(
            actor=self.actor, id=parsed_id(id), edit=edit, expected=self.expected
        )
        return _answer(self, outcome)

    @described("Take a subscription away, with what waits for it", deletes=True)
    def delete(self, request: Request, id: str) -> Response:
        subscriptions.subscription_delete(actor=self.actor, id=parsed_id(id), expected=self.expected)
        return Response(status=204)


class SubscriptionRotation(ResourceView):
    """A new secret for a subscription."""

    scopes_needed = _ADMIN

    @described(
        "Replace the secret; the one before signs too for a while",
        body=shapes.RotationShape,
        answer=shapes.SubscriptionSecret,
        acts=True,
        examples=examples.shown("Two days for the receiver to change over", examples.ROTATION),
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        hours = shapes.RotationShape.checked(request.data)["keep_previous_hours"]
        row, secret = subscriptions.secret_rotate(
            actor=self.actor, id=parsed_id(id), keep_previous_hours=24 if hours is None else hours
        )
        body = {"id": str(row.id), "secret": secret, "previous_secret_until": row.previous_until}
        return self.found(body, row.revision)


class SubscriptionTest(ResourceView):
    """An event made for a test."""

    scopes_needed = _ADMIN

    @described(
        "Send a test event to the receiver",
        answer=shapes.Delivery,
        status=202,
        acts=True,
        refuses=(SubscriptionDisabled,),
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        Nothing.checked(request.data)
        row = subscriptions.subscription_test(actor=self.actor, id=parsed_id(id))
        return _delivery_answer(self, row, status=202)


class Deliveries(Many):
    """All deliveries of the organisation."""

    scopes_needed = _ADMIN
    reading = DELIVERIES

    @lists(DELIVERIES, "List deliveries")
    def get(self, request: Request) -> Response:
        return self.page(request)


class OneDelivery(One):
    """One delivery."""

    scopes_needed = _ADMIN
    reading = DELIVERIES

    @reading_one(DELIVERIES, "Read a delivery")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)


class DeliveryReplay(ResourceView):
    """Another round for a delivery that ended."""

    scopes_needed = _ADMIN

    @described(
        "Send a delivery that ended again, under the same id",
        answer=shapes.Delivery,
        status=202,
        acts=True,
        refuses=(StateNotReachable, SubscriptionDisabled),
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        Nothing.checked(request.data)
        row = deliveries.delivery_replay(actor=self.actor, id=parsed_id(id))
        return _delivery_answer(self, row, status=202)


def _answer(view: ResourceView, outcome: Outcome[Subscription]) -> Response:
    row = outcome.row
    document = subscriptions.subscription_document(row)
    if outcome.is_new:
        document["secret"] = webhook_secrets.secret_of(row)
    response = view.found(document, row.revision, status=201 if outcome.is_new else 200)
    if outcome.is_new:
        response["Location"] = f"/api/v1/subscriptions/{row.id}"
    return response


def _delivery_answer(view: ResourceView, row: Delivery, *, status: int) -> Response:
    document = documents.delivery(row)
    return view.found(document, view.tag(document), status=status)
