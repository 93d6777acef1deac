"""Shapes of the engineering checks, made from the fields and results that `scoring.checks` declares.

They only describe: a check reads and judges its own inputs, because its limits depend on the units sent.
"""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from types import UnionType
from typing import Any, Final, Literal, get_args, get_origin, get_type_hints

from rest_framework import serializers as s
from rest_framework.fields import empty

from inspections import vocabulary as words
from inspections.api.fields import ListOf, Number, OneOf, Shape, Whole, YesNo
from inspections.api.shapes.answers import Shown, number, text, word
from scoring import checks
from scoring.checks import Check
from scoring.units import Units

# The lists that other addresses use too, with their meanings.
_KNOWN_LISTS: Final[Mapping[str, words.Values]] = {
    "units": words.UNITS,
    "soil": words.SOILS,
    "material": words.MATERIALS,
}
_BOTH: Final[tuple[Units, Units]] = ("us", "si")


def request_shape(check: Check) -> type[Shape]:
    """Return the shape of a check's inputs."""
    return _shape(_class_name(check, "Check"), check.title, check.fields)


def answer_shape(check: Check) -> type[Shown]:
    """Return the shape of a check's results."""
    members = {
        "check": s.CharField(),
        "rules": s.CharField(help_text="Version of the rules that computed this."),
        "units": word(words.UNITS),
        **_result_members(check.results_type),
        "result_units": s.DictField(child=s.CharField(), help_text="The unit of each result; empty: a plain number."),
    }
    return type(_class_name(check, "Result"), (Shown,), {**members, "__doc__": check.title})


def _class_name(check: Check, ending: str) -> str:
    return "".join(part.title() for part in check.name.split("-")) + ending


def _shape(name: str, meaning: str, declared: tuple[checks.Field, ...]) -> type[Shape]:
    return type(name, (Shape,), {**{field.name: _input(field) for field in declared}, "__doc__": meaning})


def _input(field: checks.Field) -> s.Field[Any, Any, Any, Any]:
    needed: dict[str, Any] = {"required": True} if field.is_required else {}
    said = f"{field.meaning}{_default(field)}."
    match field:
        case checks.Number():
            return Number(**needed, **_widest(field), help_text=f"{said[:-1]}; {_limits(field)}.")
        case checks.Choice():
            values = _KNOWN_LISTS.get(field.name, {choice: choice for choice in field.choices})
            return OneOf(values, **needed, help_text=said)
        case checks.Whole():
            return Whole(least=str(min(field.choices)), most=str(max(field.choices)), help_text=said)
        case checks.Rows():
            row = _shape(field.row_name, field.meaning, field.fields)
            must: dict[str, Any] = {"required": True, "allow_null": False, "default": empty}
            return ListOf(child=row(), least=1, most=field.longest, **must, help_text=said)
        case _:
            return YesNo(help_text=said)


def _default(field: checks.Field) -> str:
    return "" if field.default is None else f"; {str(field.default).lower()} where nothing is said"


def _limits(field: checks.Number) -> str:
    us, si = (_span(field, units) for units in _BOTH)
    return us if us == si else f"{us}; si: {si}"


def _widest(field: checks.Number) -> dict[str, str]:
    """Return the bounds that hold in either unit system: no number beyond them is taken in any."""
    spans = [field.limits(units) for units in _BOTH]
    low, high = min(low for low, _ in spans), max(high for _, high in spans)
    return {"above" if field.is_above else "least": str(low), "most": str(high)}


def _span(field: checks.Number, units: Units) -> str:
    low, high = (checks.in_words(limit) for limit in field.limits(units))
    word_of_low = "above" if field.is_above else "from"
    return f"{word_of_low} {low} to {high} {checks.unit_of(field.measure, units)}".rstrip()


def _result_members(results_type: type[Any]) -> dict[str, s.Field[Any, Any, Any, Any]]:
    hints = get_type_hints(results_type)
    return {
        field.name: word(_KNOWN_LISTS[field.name]) if field.name in _KNOWN_LISTS else _result(hints[field.name])
        for field in fields(results_type)
    }


def _result(hint: Any) -> s.Field[Any, Any, Any, Any]:
    words_of = _literal_words(hint)
    if words_of:
        return s.ChoiceField(choices=list(words_of))
    if get_origin(hint) is tuple:
        return _listed(get_args(hint)[0])
    may_be_none = isinstance(hint, UnionType) and type(None) in get_args(hint)
    kind = next(arg for arg in get_args(hint) if arg is not type(None)) if may_be_none else hint
    plain: Mapping[Any, Any] = {
        Decimal: lambda: number() if may_be_none else s.FloatField(),
        int: lambda: s.IntegerField(allow_null=may_be_none),
        bool: lambda: s.BooleanField(allow_null=may_be_none),
        str: lambda: text() if may_be_none else s.CharField(),
    }
    return plain[kind]()  # type: ignore[no-any-return] # a KeyError names the type that has no shape yet


def _listed(kind: Any) -> s.Field[Any, Any, Any, Any]:
    if is_dataclass(kind) and isinstance(kind, type):
        row = type(kind.__name__, (Shown,), {**_result_members(kind), "__doc__": kind.__doc__})
        listed: s.Field[Any, Any, Any, Any] = row(many=True)
        return listed
    return s.ListField(child=s.CharField())


def _literal_words(hint: Any) -> tuple[str, ...]:
    """Return the words of a Literal, or of a union of Literals."""
    if get_origin(hint) is Literal:
        return get_args(hint)
    parts = [_literal_words(part) for part in get_args(hint)]
    return tuple(word for part in parts for word in part) if parts and all(parts) else ()
