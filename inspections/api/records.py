"""Addresses of customers, properties and access points: plain records, all made and changed in the same way."""

from typing import Any, ClassVar, Final

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Shape
from inspections.api.pages import page
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.shapes.access_point import AccessPointShape
from inspections.api.shapes.job import CustomerShape
from inspections.api.shapes.property import OwnedProperty
from inspections.api.views import ResourceView, once, parsed_id
from inspections.merge import merged
from inspections.models import Property
from inspections.queries import find, history
from inspections.services import records
from inspections.services.records import Kind
from inspections.services.revisions import Outcome

_FILTERS: Final = ("external_ref", "created_after", "created_before", "updated_after")


class _Records(ResourceView):
    kind: ClassVar[Kind]
    shape: ClassVar[type[Shape]]
    scopes_needed = {"POST": "jobs:write"}
    parameters = frozenset({"limit", "cursor", "sort", *_FILTERS})

    def _list(self, request: Request) -> Response:
        rows = self.kind.model.objects.filter(organisation=self.actor.organisation)
        if self.kind.model is Property:
            rows = rows.prefetch_related("laterals")
        return page(request, rows, self.kind.document, self.parameters)

    def _make(self, request: Request) -> Response:
        document = self.shape.checked(request.data)
        return _answer(self, self.kind, records.record_create(actor=self.actor, kind=self.kind, document=document))


class _OneRecord(ResourceView):
    kind: ClassVar[Kind]
    shape: ClassVar[type[Shape]]
    scopes_needed = {"PUT": "jobs:write", "PATCH": "jobs:write", "DELETE": "jobs:write"}

    parameters = frozenset({"at"})

    def _read(self, id: str) -> Response:
        if self.at is not None:
            read = history.property_ if self.kind.model is Property else history.record
            then = read(self.actor.organisation, self.kind.model, self.kind.name, parsed_id(id), self.at)
            return self.found(then, then["revision"])
        row = find.one(self.kind.model, self.actor.organisation, parsed_id(id))
        return self.found(self.kind.document(row), row.revision)

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


def _addresses(kind: Kind, shape: type[Shape], one: Any, many: Any, called: str) -> tuple[Any, Any]:
    """Return the two views of a kind of record: all of them, and one."""

    class Many(_Records):
        @described(f"List {kind.path}", answer=many, page_of=kind.path, filters=_FILTERS, named=("sort",))
        def get(self, request: Request) -> Response:
            return self._list(request)

        @described(f"Make {called}", body=shape, answer=one, makes=True, needs_key=False)
        @once
        def post(self, request: Request) -> Response:
            return self._make(request)

    class One(_OneRecord):
        @described(f"Read {called}", answer=one, takes_at=True)
        def get(self, request: Request, id: str) -> Response:
            return self._read(id)

        @described(f"Make or replace {called} under your own id", body=shape, answer=one, makes=True)
        def put(self, request: Request, id: str) -> Response:
            return self._put(request, id)

        @described(f"Change {called}", body=shape, answer=one, patches=True)
        def patch(self, request: Request, id: str) -> Response:
            return self._patch(request, id)

        @described(f"Take {called} away, where nothing depends on it", deletes=True)
        def delete(self, request: Request, id: str) -> Response:
            return self._delete(id)

    for view in (Many, One):
        view.kind, view.shape = kind, shape
        view.__doc__ = documents.__doc__
    return Many, One


Customers, OneCustomer = _addresses(records.CUSTOMER, CustomerShape, answers.Customer, answers.Customers, "a customer")
Properties, OneProperty = _addresses(
    records.PROPERTY, OwnedProperty, answers.Property, answers.Properties, "a property"
)
AccessPoints, OneAccessPoint = _addresses(
    records.ACCESS_POINT, AccessPointShape, answers.AccessPoint, answers.AccessPoints, "an access point"
)
