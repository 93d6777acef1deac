"""Jobs, customers and properties, as scheduling software sends them."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from inspections import vocabulary as words
from inspections.api.fields import Id, Moment, Number, OneOf, Shape, Text, Whole
from inspections.errors import Fault


class Window(Shape):
    """When somebody may come."""

    start = Moment()
    end = Moment()

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        start, end = values.get("start"), values.get("end")
        if start and end and datetime.fromisoformat(end.upper()) < datetime.fromisoformat(start.upper()):
            yield Fault(("end",), "end_before_start", "The window ends before it starts; swap the times.")


class CustomerShape(Shape):
    """Who asked."""

    external_ref = Text(longest=200, help_text="Your own key for the customer; a known one is found, not made.")
    name = Text(longest=200, required=True)
    kind = OneOf(words.CUSTOMER_KINDS, help_text="household where nothing is said.")
    email = Text(longest=254)
    phone = Text(longest=50)


class ErasureRequest(Shape):
    """Why a customer's personal data are erased."""

    reason = Text(longest=2000, required=True, help_text="Kept in the trail; name no person in it.")


class Address(Shape):
    """A postal address."""

    line1 = Text(longest=200, required=True)
    line2 = Text(longest=200)
    locality = Text(longest=100)
    region = Text(longest=100)
    postal_code = Text(longest=20)
    country = Text(longest=100)


class Location(Shape):
    """A point on the earth, degrees (WGS 84)."""

    lat = Number(least="-90", most="90", required=True)
    lon = Number(least="-180", most="180", required=True)


class PropertyShape(Shape):
    """An address. A new property starts with one lateral."""

    external_ref = Text(longest=200, help_text="Your own key for the property; a known one is found, not made.")
    address = Address(required=True)
    year_built = Whole(least="1600", most="2200")
    rule_set = Text(longest=100, help_text="Code of the rule set that holds there.")
    location = Location(optional=True)


class JobShape(Shape):
    """One visit asked for at one property."""

    external_ref = Text(longest=200, required=True, help_text="Your own key; the same key is the same job.")
    purpose = OneOf(words.PURPOSES, required=True)
    window = Window(optional=True)
    instructions = Text(longest=4000)
    customer = CustomerShape(optional=True)
    customer_id = Id(help_text="Instead of customer: one that is here already.")
    property = PropertyShape(optional=True)
    property_id = Id(help_text="Instead of property: one that is here already.")

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        for name in ("customer", "property"):
            if name not in values or f"{name}_id" not in values:
                continue
            given = [key for key in (name, f"{name}_id") if values[key] is not None]
            if not given:
                yield Fault((name,), "required", f"Send {name}, or {name}_id of one that is here already.")
            if len(given) == 2:
                yield Fault((f"{name}_id",), "one_of_two", f"Send {name} or {name}_id, not both.")


class JobChange(JobShape):
    """A job as PATCH and PUT see it: also the state, and who goes there."""

    state = OneOf(words.JOB_STATES)
    inspector = Text(longest=150, help_text="Username of the inspector who goes there.")
