"""Reads the inputs of a check from a document by its fields and keeps every fault found on the way."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from difflib import get_close_matches
from typing import Any, Final

from scoring.checks.faults import CheckInputInvalid, Fault
from scoring.checks.fields import Choice, Field, Number, Rows, Rule, Whole, YesNo
from scoring.checks.measures import in_words, unit_of
from scoring.units import Units

# More than any measurement has; lets through what a client's floating point makes of 8 ft in metres.
_MAX_DIGITS: Final = 28
_LARGEST_EXPONENT: Final = 15
_SMALLEST_EXPONENT: Final = -30


class _Reading:
    """Reads one object by its fields and keeps every fault found on the way."""

    def __init__(self, units: Units | None) -> None:
        self.units = units
        self.faults: list[Fault] = []

    def read(self, document: Mapping[str, Any], fields: tuple[Field, ...], path: str) -> dict[str, Any]:
        known = {field.name for field in fields}
        for name in document:
            if name not in known:
                self._add(f"{path}/{_escaped(name)}", "unknown_field", _unknown(name, fields))
        values = {field.name: self._value(document.get(field.name), field, path) for field in fields}
        return {name: value for name, value in values.items() if value is not _WRONG}

    def _add(self, path: str, code: str, detail: str) -> object:
        self.faults.append(Fault(path, code, detail))
        return _WRONG

    def _value(self, raw: object, field: Field, parent: str) -> object:
        path = f"{parent}/{field.name}"
        if raw is None:
            if field.is_required:
                return self._add(path, "required", f"{field.name} is missing. Send it: {field.meaning}.")
            return field.default
        if isinstance(field, Number):
            return self._number(raw, field, path)
        if isinstance(field, Rows):
            return self._rows(raw, field, path)
        if isinstance(field, YesNo):
            if isinstance(raw, bool):
                return raw
            return self._add(path, "not_yes_or_no", f"{field.name} is a yes or a no. Send true or false.")
        return self._choice(raw, field, path)

    def _choice(self, raw: object, field: Choice | Whole, path: str) -> object:
        if isinstance(raw, Decimal) and raw.is_finite() and raw in field.choices:
            raw = int(raw)
        kind, noun = (str, "text") if isinstance(field, Choice) else (int, "a_whole_number")
        known = ", ".join(str(choice) for choice in field.choices)
        if not isinstance(raw, kind) or isinstance(raw, bool):
            words = noun.replace("_", " ")
            return self._add(path, f"not_{noun}", f"{field.name} is {words}. Send one of: {known}.")
        if raw not in field.choices:
            return self._add(path, "unknown_value", f"{field.name} is not known. Send one of: {known}.")
        return raw

    def _number(self, raw: object, field: Number, path: str) -> object:
        value = _decimal(raw)
        if value is None:
            return self._add(path, "not_a_number", f"{field.name} is a number. Send it without quotes.")
        if _is_oversized(value):
            detail = f"{field.name} has too many digits. Send at most {_MAX_DIGITS}, none past the 30th decimal."
            return self._add(path, "too_many_digits", detail)
        if self.units is not None:
            detail = _range_fault(value, field, self.units)
            if detail:
                return self._add(path, "out_of_range", detail)
        return value

    def _rows(self, raw: object, field: Rows, path: str) -> object:
        if not isinstance(raw, list | tuple):
            return self._add(path, "not_a_list", f"{field.name} is a list. Send [{{...}}]: {field.meaning}.")
        if not 1 <= len(raw) <= field.longest:
            detail = f"{field.name} has {len(raw)} entries. Send 1 to {field.longest}: {field.meaning}."
            return self._add(path, "out_of_range", detail)
        return tuple(self._row(row, field, f"{path}/{index}") for index, row in enumerate(raw))

    def _row(self, raw: object, field: Rows, path: str) -> object:
        if isinstance(raw, Mapping):
            values = self.read(raw, field.fields, path)
            return field.row_type(**values) if len(values) == len(field.fields) else None
        if hasattr(raw, "__dataclass_fields__"):
            return self._row({name: getattr(raw, name) for name in raw.__dataclass_fields__}, field, path)
        self._add(path, "not_an_object", f"{path} is no object. Send one with {_names(field.fields)}.")
        return None


_WRONG: Final = object()


def values_from(
    document: Mapping[str, Any], fields: tuple[Field, ...], rules: tuple[Rule, ...] = ()
) -> dict[str, Any]:
    """Return the inputs of a check from a document, defaults filled in.

    `rules` judge what single fields cannot; they see the values that are well-formed, None for a bad row.
    Raises `CheckInputInvalid` with every fault at once.
    """
    units = document.get("units")
    reading = _Reading(units if units in ("us", "si") else None)
    values = reading.read(document, fields, "")
    if reading.units is not None:
        for rule in rules:
            reading.faults.extend(rule(values))
    if reading.faults:
        raise CheckInputInvalid(reading.faults)
    return values


def judge(inputs: Any, fields: tuple[Field, ...], rules: tuple[Rule, ...] = ()) -> None:
    """Hold an inputs dataclass to its fields and rules. Raises `CheckInputInvalid`."""
    values_from({field.name: getattr(inputs, field.name) for field in fields}, fields, rules)


def _decimal(raw: object) -> Decimal | None:
    if isinstance(raw, bool) or not isinstance(raw, int | float | Decimal):
        return None
    value = Decimal(repr(raw)) if isinstance(raw, float) else Decimal(raw)
    return value if value.is_finite() else None


def _is_oversized(value: Decimal) -> bool:
    _, digits, exponent = value.as_tuple()
    is_long = len(digits) > _MAX_DIGITS or value.adjusted() > _LARGEST_EXPONENT
    return is_long or int(exponent) < _SMALLEST_EXPONENT


def _range_fault(value: Decimal, field: Number, units: Units) -> str:
    low, high = field.limits(units)
    if low < value <= high or (value == low and not field.is_above):
        return ""
    span = f"more than {in_words(low)} and at most" if field.is_above else f"from {in_words(low)} to"
    unit = unit_of(field.measure, units)
    why = f" ({field.reason})" if field.reason else ""
    return f"{field.name} is {value}; it must be {span} {in_words(high)} {unit}".rstrip() + f"{why}. Correct it."


def _names(fields: Iterable[Field]) -> str:
    return ", ".join(field.name for field in fields)


def _unknown(name: object, fields: tuple[Field, ...]) -> str:
    near = get_close_matches(str(name), [field.name for field in fields], n=1)
    hint = f"did you mean {near[0]}?" if near else f"known are: {_names(fields)}."
    return f"{name} is no input of this check. Leave it out; {hint}"


def _escaped(name: object) -> str:
    return str(name).replace("~", "~0").replace("/", "~1")
