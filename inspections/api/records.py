"""Addresses of customers, properties and access points: plain records, all made and changed in the same way."""

from typing import Any, ClassVar, Final

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Shape
from inspections.api.laterals import lateral_answer
from inspections.api.maps import MEDIA_TYPE, GeoJSON, on_the_map
from inspections.api.pages import BOX
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes import reads as shapes
from inspections.api.shapes.access_point import AccessPointShape
from inspections.api.shapes.job import CustomerShape
from inspections.api.shapes.property import OwnedProperty
from inspections.api.views import ResourceView, once, parsed_id
from inspections.api.wire import ExactJSONRenderer
from inspections.errors import CustomerErased, RecordInUse, ReferenceTaken
from inspections.measures import converted
from inspections.merge import merged
from inspections.models import Customer, Property
from inspections.queries import history, pages
from inspections.services import records
from inspections.services.records import Kind
from inspections.services.revisions import Outcome


class _Records(Many):
    kind: ClassVar[Kind]
    shape: ClassVar[type[Shape]]
    scopes_needed = {"POST": "jobs:write"}

    def _make(self, request: Request) -> Response:
        document = self.shape.checked(request.data)
        return _answer(self, self.kind, records.record_create(actor=self.actor, kind=self.kind, document=document))


class _OneRecord(One):
    kind: ClassVar[Kind]
    shape: ClassVar[type[Shape]]
    scopes_needed = {"PUT": "jobs:write", "PATCH": "jobs:write", "DELETE": "jobs:write"}
    own_words = frozenset({"at"})

    def read(self, id: str) -> Response:
        if self.at is not None:
            self.hold_to_one("at", "expand")
            read = history.property_ if self.kind.model is Property else history.record
            then = read(self.actor.organisation, self.kind.model, self.kind.name, parsed_id(id), self.at)
            units = then.get("units", "us")
            return self.found(self.selected(converted(then, units, self.units(units))), then["revision"])
        return super().read(id)

    def _put(self, request: Request, id: str) -> Response:
        outcome = records.record_put(
            actor=self.actor,
            kind=self.kind,
            id=parsed_id(id),
            document=self.shape.checked(request.data),
            expected=self.expected,
        )
        return _answer(self, self.kind, outcome)

    def _patch(self, request: Request, id: str) -> Response:
        def edit(document: dict[str, Any]) -> dict[str, Any]:
            return self.shape.checked(merged(document, request.data))

        outcome = records.record_change(
            actor=self.actor, kind=self.kind, id=parsed_id(id), edit=edit, expected=self.expected
        )
        return _answer(self, self.kind, outcome)

    def _delete(self, id: str) -> Response:
        records.record_delete(actor=self.actor, kind=self.kind, id=parsed_id(id), expected=self.expected)
        return Response(status=204)


def _answer(view: ResourceView, kind: Kind, outcome: Outcome[Any]) -> Response:
    row = outcome.row
    response = view.found(kind.document(row), row.revision, status=201 if outcome.is_new else 200)
    if outcome.is_new:
        response["Location"] = f"/api/v1/{kind.path}/{row.pk}"
    return response


CUSTOMERS = Reading(
    called="customers",
    shape=shapes.Customer,
    rows=lambda organisation, expanded: Customer.objects.filter(organisation=organisation),
    document=lambda view, row: documents.customer(row),
    filters=named("external_ref", "kind"),
)
PROPERTIES = Reading(
    called="properties",
    shape=shapes.Property,
    rows=pages.properties,
    document=lambda view, row: documents.property_(row),
    filters=named("external_ref", "locality", "postal_code", customer_id="customer", bbox=BOX),
    expansions={
        "customer": lambda view, row: documents.customer(row.customer) if row.customer else None,
        "laterals": lambda view, row: [lateral_answer(view, one) for one in documents.in_order(row.laterals.all())],
    },
    takes_units=True,
)
ACCESS_POINTS = Reading(
    called="access-points",
    shape=shapes.AccessPoint,
    rows=pages.access_points,
    document=lambda view, row: converted(documents.access_point(row), row.units, view.units(row.units)),
    filters=named("external_ref", "property", "lateral", "kind", bbox=BOX),
    expansions={
        "property": lambda view, row: documents.property_(row.property),
        "lateral": lambda view, row: lateral_answer(view, row.lateral) if row.lateral else None,
    },
    takes_units=True,
)


_REFUSES: Final = (CustomerErased, ReferenceTaken)


def _addresses(kind: Kind, known: Reading, shape: type[Shape], one: Any, called: str) -> tuple[Any, Any]:
    """Return the two views of a kind of record: all of them, and one."""
    on_map = {MEDIA_TYPE: answers.FeatureCollection} if BOX in known.filters else None
    example, change = examples.RECORDS[kind.path]

    class Many(_Records):
        reading = known
        renderer_classes = [ExactJSONRenderer, GeoJSON] if on_map else [ExactJSONRenderer]

        @lists(known, f"List {kind.path}", also=on_map)
        def get(self, request: Request) -> Response:
            is_map = isinstance(request.accepted_renderer, GeoJSON)
            return on_the_map(self, request) if is_map else self.page(request)

        @described(
            f"Make {called}",
            body=shape,
            answer=one,
            makes=True,
            needs_key=False,
            refuses=_REFUSES,
            examples=examples.shown("An example", example),
        )
        @once
        def post(self, request: Request) -> Response:
            return self._make(request)

    class One(_OneRecord):
        reading = known

        @reads(known, f"Read {called}", takes_at=True)
        def get(self, request: Request, id: str) -> Response:
            return self.read(id)

        @described(
            f"Make or replace {called} under your own id",
            body=shape,
            answer=one,
            makes=True,
            refuses=_REFUSES,
            examples=examples.shown("An example", example),
        )
        def put(self, request: Request, id: str) -> Response:
            return self._put(request, id)

        @described(
            f"Change {called}",
            body=shape,
            answer=one,
            patches=True,
            refuses=_REFUSES,
            examples=examples.shown("A change", change),
        )
        def patch(self, request: Request, id: str) -> Response:
            return self._patch(request, id)

        @described(f"Take {called} away, where nothing depends on it", deletes=True, refuses=(RecordInUse,))
        def delete(self, request: Request, id: str) -> Response:
            return self._delete(id)

    for view in (Many, One):
        view.kind, view.shape = kind, shape
        view.__doc__ = documents.__doc__
    return Many, One


Customers, OneCustomer = _addresses(records.CUSTOMER, CUSTOMERS, CustomerShape, answers.Customer, "a customer")
Properties, OneProperty = _addresses(records.PROPERTY, PROPERTIES, OwnedProperty, answers.Property, "a property")
AccessPoints, OneAccessPoint = _addresses(
    records.ACCESS_POINT, ACCESS_POINTS, AccessPointShape, answers.AccessPoint, "an access point"
)


def _map_of(kind: Kind, known: Reading) -> Any:
    class Map(Many):
        reading = known
        renderer_classes = [GeoJSON]

        @described(
            f"See {kind.path} on the map",
            forms={MEDIA_TYPE: answers.FeatureCollection},
            page_of=kind.path,
            filters=tuple(known.filters),
            named=("sort",),
            takes_units=True,
            fields=known.fields,
            expansions=tuple(known.expansions),
        )
        def get(self, request: Request) -> Response:
            return on_the_map(self, request)

    return Map


PropertyMap = _map_of(records.PROPERTY, PROPERTIES)
AccessPointMap = _map_of(records.ACCESS_POINT, ACCESS_POINTS)
