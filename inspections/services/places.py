"""Customers, properties with their laterals, access points."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError, transaction

from inspections import documents, exact_json
from inspections.actor import Actor
from inspections.errors import CustomerErased
from inspections.models import Customer, Lateral, Property, Site
from inspections.services import trail


def customer_found_or_made(*, actor: Actor, document: Mapping[str, Any]) -> Customer:
    """Return the customer this source calls by that external_ref, or make one."""
    row: Customer = _found_or_made(Customer, actor, document, _customer_made)
    return row


def property_found_or_made(*, actor: Actor, document: Mapping[str, Any], customer: Customer) -> Property:
    """Return the property this source calls by that external_ref, or make one, with its first lateral."""
    row: Property = _found_or_made(Property, actor, document, lambda a, d: _property_made(a, d, customer))
    return row


def _found_or_made(model: Any, actor: Actor, document: Mapping[str, Any], made: Any) -> Any:
    ref = document["external_ref"]
    known = model.objects.filter(organisation=actor.organisation, source=actor.client, external_ref=ref)
    row = known.first() if ref is not None else None
    if row is not None:
        return row
    try:
        with transaction.atomic():
            return made(actor, document)
    except IntegrityError:
        # Another request made it between the look and the insert.
        row = known.first() if ref is not None else None
        if row is None:
            raise
        return row


def _customer_made(actor: Actor, document: Mapping[str, Any]) -> Customer:
    row = Customer(id=uuid.uuid4(), organisation=actor.organisation, source=actor.client)
    customer_apply(row, document)
    row.save(force_insert=True)
    trail.entry(
        actor=actor,
        record_type="customer",
        record_id=row.id,
        action="made",
        after=documents.customer_writable(row),
        at=row.updated_at,
    )
    return row


def _property_made(actor: Actor, document: Mapping[str, Any], customer: Customer | None) -> Property:
    row = Property(id=uuid.uuid4(), organisation=actor.organisation, source=actor.client, customer=customer)
    property_apply(row, document)
    row.save(force_insert=True)
    trail.entry(
        actor=actor,
        record_type="property",
        record_id=row.id,
        action="made",
        after={**documents.property_writable(row), "customer_id": str(row.customer_id) if row.customer_id else None},
        at=row.updated_at,
    )
    lateral_made(actor=actor, property=row)
    return row


def lateral_made(*, actor: Actor, property: Property, name: str = "main drain") -> Lateral:
    """Make a lateral of a property, with its empty site."""
    lateral = Lateral.objects.create(
        organisation=property.organisation, source=actor.client, property=property, name=name
    )
    site = Site.objects.create(lateral=lateral, organisation=property.organisation)
    after = {"property": str(property.id), "name": name}
    trail.entry(
        actor=actor, record_type="lateral", record_id=lateral.id, action="made", after=after, at=site.updated_at
    )
    return lateral


def hold_not_erased(row: Customer) -> None:
    """Raise CustomerErased where the customer's personal data were erased: nothing fills them in again."""
    if row.erased_at is not None:
        raise CustomerErased(
            f"Customer {row.pk} was erased on request and stays so; make another under a new external_ref."
        )


def customer_apply(row: Customer, document: Mapping[str, Any]) -> None:
    """Set the columns of a customer from its document. Raises CustomerErased."""
    hold_not_erased(row)
    for name in ("external_ref", "name", "email", "phone"):
        setattr(row, name, document[name])
    row.kind = document["kind"] or "household"


def property_apply(row: Property, document: Mapping[str, Any]) -> None:
    """Set the columns of a property from its document."""
    for name in ("external_ref", "year_built", "rule_set"):
        setattr(row, name, document[name])
    for name in ("line1", "line2", "locality", "region", "postal_code", "country"):
        setattr(row, name, document["address"][name])
    location = document["location"]
    row.location_written = exact_json.write_text(location)
    row.lat, row.lon = (location["lat"], location["lon"]) if location else (None, None)
