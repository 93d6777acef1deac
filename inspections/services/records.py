"""Plain records (customers, properties, access points): made, replaced, changed, taken away, always in the trail."""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from inspections import documents, exact_json
from inspections.actor import Actor
from inspections.errors import Fault, Invalid, NotFound, RecordInUse, ReferenceTaken
from inspections.models import AccessPoint, Customer, Lateral, Property
from inspections.queries import find
from inspections.services import places, trail
from inspections.services.revisions import Expected, Outcome
from inspections.translate import size

Document = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of plain record: its table, its address, its documents, how a document is put into a row."""

    model: Any
    name: str
    path: str
    document: Callable[[Any], Document]
    writable: Callable[[Any], Document]
    apply: Callable[[Actor, Any, Mapping[str, Any]], None]
    made: Callable[[Actor, Any], None] = lambda actor, row: None
    unmade: Callable[[Actor, Any], None] = lambda actor, row: None
    begins: str = "made"  # what its trail and its first event call its making
    about: Callable[[Any], Document] = lambda row: {}  # what its events say beside id and revision


def record_create(*, actor: Actor, kind: Kind, document: Document, id: uuid.UUID | None = None) -> Outcome[Any]:
    """Make a record; the same source and external_ref with equal content again is the same record."""
    with transaction.atomic():
        row = kind.model(id=id or uuid.uuid4(), organisation=actor.organisation, source=actor.client)
        kind.apply(actor, row, document)
        try:
            with transaction.atomic():
                row.save(force_insert=True)
        except IntegrityError:
            return Outcome(_already_there(actor, kind, row))
        kind.made(actor, row)
        _noted(actor, kind, row, kind.begins, before=None, after=kind.writable(row))
        return Outcome(row, is_new=True, is_changed=True)


def _already_there(actor: Actor, kind: Kind, wanted: Any) -> Any:
    """Return the record whose id or external_ref kept `wanted` from being made."""
    rows, ref = kind.model.objects.filter(organisation=actor.organisation), wanted.external_ref
    same_id = rows.filter(pk=wanted.pk).first()
    if same_id is not None:
        return same_id
    found = rows.filter(source=actor.client, external_ref=ref).first()
    if ref is None or found is None:
        raise NotFound(f"There is no such {kind.name} here; check the id.")
    if kind.writable(found) != kind.writable(wanted):
        raise ReferenceTaken(f"external_ref {ref} already names {found.pk} with other content; change that one.")
    return found


def record_put(*, actor: Actor, kind: Kind, id: uuid.UUID, document: Document, expected: Expected) -> Outcome[Any]:
    """Make the record under the client's id, or replace it."""
    with transaction.atomic():
        if not kind.model.objects.filter(pk=id).exists():
            expected.hold_against_nothing()
            outcome = record_create(actor=actor, kind=kind, document=document, id=id)
            if outcome.row.pk != id:
                raise ReferenceTaken(f"external_ref {document['external_ref']} already names {outcome.row.pk}.")
            if outcome.is_new:
                return outcome
        return record_change(actor=actor, kind=kind, id=id, edit=lambda _: document, expected=expected)


def record_change(
    *, actor: Actor, kind: Kind, id: uuid.UUID, edit: Callable[[Document], Document], expected: Expected
) -> Outcome[Any]:
    """Change the record to what `edit` makes of its document; equal content changes nothing."""
    with transaction.atomic():
        row = find.one(kind.model, actor.organisation, id, lock=True)
        before = kind.writable(row)
        kind.apply(actor, row, edit(before))
        after = kind.writable(row)  # with what stands for a value that was left out
        if after == before:
            return Outcome(row)
        expected.hold_against(row.revision)
        row.revision += 1
        try:
            with transaction.atomic():
                row.save()
        except IntegrityError as error:
            raise ReferenceTaken(f"external_ref {after['external_ref']} already names another record.") from error
        _noted(actor, kind, row, "changed", before=before, after=after)
        return Outcome(row, is_changed=True)


def record_delete(*, actor: Actor, kind: Kind, id: uuid.UUID, expected: Expected) -> None:
    """Take a record away. Raises RecordInUse when others depend on it."""
    with transaction.atomic():
        row = find.one(kind.model, actor.organisation, id, lock=True)
        expected.hold_against(row.revision)
        before = {**kind.writable(row), "created_at": row.created_at}
        try:
            kind.unmade(actor, row)
            row.delete()
        except ProtectedError as error:
            raise RecordInUse(f"Other records depend on this {kind.name}; take those away first.") from error
        row.id = id
        _noted(actor, kind, row, "deleted", before=before, after=None)


def _noted(actor: Actor, kind: Kind, row: Any, action: str, *, before: Any, after: Any) -> None:
    trail.entry(
        actor=actor,
        record_type=kind.name,
        record_id=row.id,
        action=action,
        before=before,
        after=after,
        at=None if after is None else row.updated_at,
    )
    data = {"id": str(row.id), "external_ref": row.external_ref, "revision": row.revision, **kind.about(row)}
    trail.event(
        organisation=actor.organisation,
        type=f"{kind.name}.{action}",
        subject=f"{kind.path}/{row.id}",
        data=data,
    )


def _named(model: Any, actor: Actor, field: str, id: str | None, faults: list[Fault]) -> Any:
    if id is None:
        return None
    try:
        return find.one(model, actor.organisation, id)
    except NotFound as error:
        faults.append(Fault((field,), "no_such_record", error.detail))
        return None


def _hold(faults: list[Fault]) -> None:
    if faults:
        raise Invalid("The record names what is not there.", faults=faults)


def _apply_property(actor: Actor, row: Property, document: Mapping[str, Any]) -> None:
    faults: list[Fault] = []
    row.customer = _named(Customer, actor, "customer_id", document["customer_id"], faults)
    _hold(faults)
    places.property_apply(row, document)


def _apply_access_point(actor: Actor, row: AccessPoint, document: Mapping[str, Any]) -> None:
    faults: list[Fault] = []
    property = _named(Property, actor, "property", document["property"], faults)
    row.lateral = _named(Lateral, actor, "lateral", document["lateral"], faults)
    _hold(faults)
    row.property = property
    if row.lateral is not None and row.lateral.property_id != row.property.id:
        detail = "This lateral belongs to another property; name one of this property's."
        raise Invalid(detail, faults=[Fault(("lateral",), "lateral_of_other_property", detail)])
    for name in ("external_ref", "units", "kind", "label", "how_to_find"):
        setattr(row, name, document[name])
    row.size_mm = size(document["size"], document["units"])
    location = document["location"]
    row.lat, row.lon = (location["lat"], location["lon"]) if location else (None, None)
    row.written = exact_json.write_text({name: document[name] for name in ("size", "ties", "location")})


def _property_made(actor: Actor, row: Property) -> None:
    places.lateral_made(actor=actor, property=row)


def _property_unmade(actor: Actor, row: Property) -> None:
    """Take away the laterals of a property and their empty sites. Raises ProtectedError or RecordInUse."""
    for lateral in row.laterals.select_related("site"):
        if lateral.site.revision > 0:
            raise RecordInUse("The site of this property's lateral is described; the property stays.")
        lateral_id, before = lateral.id, {"property": str(row.id), "name": lateral.name}
        lateral.site.delete()
        lateral.delete()
        trail.entry(actor=actor, record_type="lateral", record_id=lateral_id, action="deleted", before=before)


def _property_writable(row: Property) -> Document:
    customer_id = str(row.customer_id) if row.customer_id else None
    return {**documents.property_writable(row), "customer_id": customer_id}


CUSTOMER: Final = Kind(
    Customer,
    "customer",
    "customers",
    documents.customer,
    documents.customer_writable,
    lambda actor, row, document: places.customer_apply(row, document),
)
PROPERTY: Final = Kind(
    Property,
    "property",
    "properties",
    documents.property_,
    _property_writable,
    _apply_property,
    _property_made,
    _property_unmade,
)
ACCESS_POINT: Final = Kind(
    AccessPoint,
    "access_point",
    "access-points",
    documents.access_point,
    documents.access_point_writable,
    _apply_access_point,
)
