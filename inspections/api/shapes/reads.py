"""The shapes of records as they are read: `fields` leaves out what it does not name, `expand` shows more in full."""

from collections.abc import Collection
from typing import Any, Final

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers as s

from inspections.api.shapes import answers, bid_answers, closing_answers, planned, report_link, webhook
from inspections.api.shapes.answers import Shown

_ID: Final = {"type": "string", "format": "uuid"}


class _Read(Shown):
    """A record as it is read: only its id is always there."""

    def get_fields(self) -> dict[str, s.Field[Any, Any, Any, Any]]:
        fields = super().get_fields()
        for name, field in fields.items():
            field.required = name == "id"
        return fields


def as_read(shape: type[Shown], *, only_expanded: Collection[str] = (), **fields: Any) -> type[Shown]:
    """Return the shape of a record as it is read; `fields` stand in place of its own, or beside them."""
    said = f"{(shape.__doc__ or '').rstrip('.')}; as it is read: with the fields asked for."
    members = {"__doc__": said, "only_expanded": frozenset(only_expanded), **fields}
    return type(f"{shape.__name__}Read", (_Read, shape), members)


def _one_or_id(name: str, *, may_be_null: bool = False) -> Any:
    nothing = [{"type": "null"}] if may_be_null else []
    schema = {"oneOf": [_ID, {"$ref": f"#/components/schemas/{name}"}, *nothing]}
    kind = extend_schema_field(schema)(type(f"{name}OrId", (s.JSONField,), {}))
    return kind(help_text="Its id, or all of it where `expand` asks for it.")


def _list_of(name: str, otherwise: dict[str, Any]) -> Any:
    schema = {"type": "array", "items": {"anyOf": [otherwise, {"$ref": f"#/components/schemas/{name}"}]}}
    kind = extend_schema_field(schema)(type(f"{name}List", (s.JSONField,), {}))
    return kind(help_text="In full where `expand` asks for them.")


def _not_yet(shape: type[Shown]) -> Any:
    return shape(allow_null=True, help_text="Only where `expand` asks for it; null: not there yet.")


Job = as_read(answers.Job, runs=_list_of("RunRead", _ID), customer_id=None, property_id=None)
Run = as_read(
    answers.Run,
    only_expanded=("grading",),
    job=_one_or_id("JobRead"),
    grading=_not_yet(answers.RunGrading),
)
Customer = as_read(answers.Customer)
Lateral = as_read(answers.Lateral, property=_one_or_id("PropertyRead"))
Property = as_read(
    answers.Property,
    only_expanded=("customer",),
    laterals=_list_of("LateralRead", {"$ref": "#/components/schemas/Named"}),
    customer=answers.Customer(allow_null=True, help_text="Only where `expand` asks for it; null: nobody is said."),
)
AccessPoint = as_read(
    answers.AccessPoint, property=_one_or_id("PropertyRead"), lateral=_one_or_id("LateralRead", may_be_null=True)
)
RepairScope = as_read(planned.RepairScope, lateral=_one_or_id("LateralRead"))
Bid = as_read(bid_answers.Bid)
Closing = as_read(closing_answers.Closing)
Calculation = as_read(answers.Calculation)
Amendment = as_read(answers.Amendment)
RunGrading = as_read(answers.RunGrading)
MatchDecision = as_read(answers.MatchDecision)
Versioned = as_read(answers.Versioned)
Import = as_read(answers.Import)
ImportedObservation = as_read(answers.ImportedObservation)
Recomputation = as_read(answers.Recomputation)
Difference = as_read(answers.Difference)
Subscription = as_read(webhook.Subscription)
Delivery = as_read(webhook.Delivery, event=_one_or_id("Event"))
Token = as_read(webhook.Token)
ReportLink = as_read(report_link.ReportLink)
