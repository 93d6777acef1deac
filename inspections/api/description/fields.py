"""How the service's own fields look in JSON Schema: with every bound that they hold."""

from decimal import Decimal
from typing import Any, Final

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from rest_framework import serializers as s

from inspections.api import fields

Schema = dict[str, Any]

_OF_ANSWERS: Final = ("type", "format", "additionalProperties")


class OwnField(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call] # registers itself
    """Any field that takes a value as it is or refuses it."""

    target_class = "inspections.api.fields.Exact"
    match_subclasses = True

    def map_serializer_field(self, auto_schema: Any, direction: str) -> Schema:
        schema = _schema(self.target)
        # What is sent is held to bounds; what is answered was held to them when it came, under older ones perhaps.
        return schema if direction == "request" else {name: schema[name] for name in _OF_ANSWERS if name in schema}


def _schema(field: s.Field[Any, Any, Any, Any]) -> Schema:
    match field:
        case fields.Sha256():
            return {"type": "string", "pattern": "^[0-9a-f]{64}$"}
        case fields.Text():
            return {"type": "string", "minLength": 1, "maxLength": field.longest, "pattern": r"\S"}
        case fields.Clock():
            return {"type": "number", "exclusiveMinimum": 0, "maximum": 12}
        case fields.Number():
            return {"type": "integer" if isinstance(field, fields.Whole) else "number", **_bounds(field)}
        case fields.YesNo():
            return {"type": "boolean"}
        case fields.Id():
            return {"type": "string", "format": "uuid"}
        case fields.Moment():
            return {"type": "string", "format": "date-time"}
        case fields.Day():
            return {"type": "string", "format": "date"}
        case fields.AnyObject():
            return {"type": "object", "additionalProperties": {}}
    raise TypeError(f"Nobody said how {type(field).__name__} looks in the OpenAPI document.")


def _bounds(field: fields.Number) -> Schema:
    named: Final = (("minimum", field.least), ("exclusiveMinimum", field.above), ("maximum", field.most))
    return {name: _plain(bound) for name, bound in named if bound is not None}


def _plain(bound: Decimal) -> int | float:
    return int(bound) if bound == bound.to_integral_value() else float(bound)
