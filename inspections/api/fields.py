"""Fields that take a value as it is or refuse it: no "5" for 5, no 5 for "5", nothing dropped in silence.

They keep what was written: a number stays the Decimal that was sent, a time stays its text.
"""

import difflib
import re
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Any, Final

from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.fields import empty

from inspections.errors import Fault, Invalid
from inspections.vocabulary import Values

_TIME: Final = re.compile(r"\d{4}-\d\d-\d\d[Tt]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)")
_DAY: Final = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_NO_OFFSET: Final = timedelta(0)
_FARTHEST_OFFSET: Final = timedelta(hours=14)
_SHA256: Final = re.compile(r"[0-9a-f]{64}")


class Exact(serializers.Field):  # type: ignore[type-arg] # generic only in the stubs
    """A field whose value is kept as written. Absent and null are the same, unless it is required."""

    default_error_messages = {
        "required": "This field is required.",
        "null": "This field is required and may not be null.",
    }

    def __init__(self, **options: Any) -> None:
        if not options.get("required", False):
            options.setdefault("allow_null", True)
            options.setdefault("default", None)
            options["required"] = False
        super().__init__(**options)

    def to_representation(self, value: Any) -> Any:
        return value

    def refuse(self, code: str, detail: str) -> Any:
        """Raise the one fault of this field."""
        raise ValidationError(detail, code=code)


class Text(Exact):
    """Text of at most `longest` characters."""

    def __init__(self, *, longest: int = 200, **options: Any) -> None:
        self.longest = longest
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.refuse("not_text", "This is text; send it in quotes.")
        if not data.strip():
            self.refuse("empty_text", "This may not be empty; leave it out or send null.")
        if len(data) > self.longest:
            self.refuse("too_long", f"At most {self.longest} characters; this has {len(data)}.")
        return str(data)


class Number(Exact):
    """A number within stated bounds, kept digit for digit."""

    def __init__(
        self, *, least: str | None = None, most: str | None = None, above: str | None = None, **options: Any
    ) -> None:
        self.least = None if least is None else Decimal(least)
        self.most = None if most is None else Decimal(most)
        self.above = None if above is None else Decimal(above)
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> Decimal | int:
        if isinstance(data, bool) or not isinstance(data, (int, Decimal)):  # a union is built anew each time
            self.refuse("not_a_number", "This is a number; send it without quotes.")
        if self.above is not None and data <= self.above:
            self.refuse("too_small", f"This must be above {self.above}.")
        if self.least is not None and data < self.least:
            self.refuse("too_small", f"This must be at least {self.least}.")
        if self.most is not None and data > self.most:
            self.refuse("too_large", f"This must be at most {self.most}.")
        return data  # type: ignore[no-any-return] # narrowed above, the stubs do not see it


class Whole(Number):
    """A whole number within stated bounds."""

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int):
            self.refuse("not_a_whole_number", "This is a whole number; send it without quotes and decimals.")
        return int(super().to_internal_value(data))


class Clock(Number):
    """A position on the dial: above 0, up to 12; 12 is the crown."""

    def to_internal_value(self, data: Any) -> Decimal | int:
        value = super().to_internal_value(data)
        if not 0 < value <= 12:
            self.refuse("not_on_the_dial", "A clock position is above 0 and at most 12; 12 is the crown.")
        if isinstance(value, Decimal) and value != round(value, 2):
            self.refuse("too_fine", "A clock position has at most two decimals.")
        return value


class YesNo(Exact):
    """true or false; absent and null mean `absent`: false, unless said otherwise."""

    def __init__(self, *, absent: bool | None = False, **options: Any) -> None:
        # No `default` in the schema: generators of clients take a field with a default for one that is always there.
        self.absent = absent
        super().__init__(**options)

    def run_validation(self, data: Any = empty) -> Any:
        value = super().run_validation(data)
        return self.absent if value is None else value

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.refuse("not_yes_or_no", "This is true or false, without quotes.")
        return bool(data)


class Id(Exact):
    """The id of a record."""

    def to_internal_value(self, data: Any) -> str:
        try:
            if not isinstance(data, str):
                raise ValueError
            return str(uuid.UUID(data))
        except ValueError:
            return self.refuse("not_a_uuid", "This is the id of a record, a UUID in quotes.")  # type: ignore[no-any-return]


class Moment(Exact):
    """A time by RFC 3339 with its offset, kept as it was written."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str) or not _TIME.fullmatch(data):
            is_local = isinstance(data, str) and _TIME.fullmatch(data + "Z")
            code, hint = ("no_offset", "add its offset") if is_local else ("not_a_time", "send RFC 3339")
            self.refuse(code, f"This is a time with date and offset; {hint}, for example 2027-03-01T08:00:00-05:00.")
        try:
            moment = datetime.fromisoformat(data.upper())
        except ValueError:
            self.refuse("not_a_time", "There is no such day or time.")
        if not 1950 <= moment.year <= 2200:
            self.refuse("not_a_time", "The year must lie between 1950 and 2200.")
        # Databases refuse offsets that no clock on earth has.
        if abs(moment.utcoffset() or _NO_OFFSET) > _FARTHEST_OFFSET:
            self.refuse("not_a_time", "An offset from UTC is at most 14 hours.")
        return str(data)


class Day(Exact):
    """A day of the calendar, YYYY-MM-DD, kept as it was written."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str) or not _DAY.fullmatch(data):
            self.refuse("not_a_day", "This is a day without a time, for example 2027-03-01.")
        try:
            day = date.fromisoformat(data)
        except ValueError:
            self.refuse("not_a_day", "There is no such day.")
        if not 1950 <= day.year <= 2200:
            self.refuse("not_a_day", "The year must lie between 1950 and 2200.")
        return str(data)


class AnyObject(Exact):
    """An object whose members are checked where it is put to use."""

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        if not isinstance(data, dict):
            self.refuse("not_an_object", "This is an object; send {...}.")
        return dict(data)


class Sha256(Exact):
    """A SHA-256 digest, 64 hex digits in lower case."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str) or not _SHA256.fullmatch(data):
            self.refuse("not_a_digest", "This is a SHA-256 digest: 64 hex digits in lower case.")
        return str(data)


class OneOf(serializers.ChoiceField):
    """One word of a closed list."""

    def __init__(self, values: Values, **options: Any) -> None:
        self.values = values
        if not options.get("required", False):
            options.setdefault("allow_null", True)
            options.setdefault("default", None)
            options["required"] = False
        super().__init__(choices=[(value, meaning) for value, meaning in values.items()], **options)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            raise ValidationError("This is text; send it in quotes.", code="not_text")
        if data not in self.values:
            near = difflib.get_close_matches(data, self.values, n=1)
            hint = f"Did you mean {near[0]}? " if near else ""
            raise ValidationError(f"{hint}Known are: {', '.join(self.values)}.", code="unknown_value")
        return data


class FaultsFound(ValidationError):
    """Every fault inside one value, and what was right in it, so that checks between fields still run."""

    def __init__(self, faults: Sequence[Fault], partial: Any) -> None:
        super().__init__([fault.detail for fault in faults])
        self.faults = tuple(faults)
        self.partial = partial


def faults_of(error: ValidationError, path: tuple[str | int, ...]) -> Iterator[Fault]:
    """Yield the faults of a refused value that stands at `path`."""
    if isinstance(error, FaultsFound):
        for fault in error.faults:
            yield Fault((*path, *fault.path), fault.code, fault.detail)
        return
    details = error.detail if isinstance(error.detail, list) else [error.detail]
    for detail in details:
        yield Fault(path, getattr(detail, "code", "invalid"), str(detail))


class ListOf(serializers.ListField):
    """A list of values of one kind. Absent and null mean an empty list, or null where `optional`."""

    def __init__(self, *, least: int = 0, most: int = 5000, optional: bool = False, **options: Any) -> None:
        self.least = least
        self.most = most
        self.absent: Any = None if optional else []
        usual = {"required": True} if least else {"required": False, "allow_null": True, "default": None}
        bounds = {"min_length": least, "max_length": most} if least else {"max_length": most}
        super().__init__(**(usual | bounds | options))

    def run_validation(self, data: Any = empty) -> Any:
        if data is None or data is empty:
            if self.least:
                raise ValidationError("This field is required.", code="required")
            return self.absent
        return self.to_internal_value(data)

    def to_internal_value(self, data: Any) -> list[Any]:
        if not isinstance(data, list):
            raise ValidationError("This is a list; send [...].", code="not_a_list")
        if len(data) > self.most:
            raise ValidationError(f"At most {self.most} entries; this has {len(data)}.", code="too_many")
        if len(data) < self.least:
            raise ValidationError(f"At least {self.least} entry is needed.", code="too_few")
        values: list[Any] = []
        faults: list[Fault] = []
        for position, item in enumerate(data):
            try:
                values.append(self.child.run_validation(item))
            except ValidationError as error:
                faults.extend(faults_of(error, (position,)))
                values.append(getattr(error, "partial", None))
        if faults:
            raise FaultsFound(faults, values)
        return values


class Shape(serializers.Serializer):  # type: ignore[type-arg] # generic only in the stubs
    """The shape of a JSON object. Finds every fault at once, and refuses keys it does not know."""

    def __init__(self, *args: Any, **options: Any) -> None:
        if options.pop("optional", False):
            options |= {"required": False, "allow_null": True, "default": None}
        super().__init__(*args, **options)

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        if not isinstance(data, Mapping):
            raise ValidationError("This is an object; send {...}.", code="not_an_object")
        fields = {str(field.field_name): field for field in self._writable_fields}
        faults = [self._unknown(name, fields) for name in data if name not in fields]
        values: dict[str, Any] = {}
        for name, field in fields.items():
            try:
                values[name] = field.run_validation(data.get(name, empty))
            except ValidationError as error:
                faults.extend(faults_of(error, (name,)))
                if isinstance(error, FaultsFound):
                    values[name] = error.partial
        faults.extend(self.cross_faults(values))
        if faults:
            raise FaultsFound(faults, values)
        return values

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        """Yield what is wrong between fields; a field that is wrong by itself is missing from `values`."""
        yield from ()

    @staticmethod
    def _unknown(name: str, known: Mapping[str, Any]) -> Fault:
        near = difflib.get_close_matches(name, known, n=1)
        hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}."
        return Fault((name,), "unknown_field", f"There is no such field; {hint}")

    @classmethod
    def checked(cls, data: Any, *, at: tuple[str | int, ...] = ()) -> dict[str, Any]:
        """Return a document of this shape as it was written. Raises Invalid with every fault.

        `at`: where in the request the document stands.
        """
        try:
            return sound(cls, data)
        except ValidationError:
            pass  # only now every fault is looked for
        try:
            return dict(cls().run_validation(data))
        except ValidationError as error:
            raise Invalid(
                "The document has faults; each is named with its place.", faults=tuple(faults_of(error, at))
            ) from error


# --- the same rules in one pass that stops at the first fault: most of what is sent has none -----------------


def sound(shape: type[Shape], data: Any) -> dict[str, Any]:
    """Return a document as its shape takes it. Raises ValidationError at the first fault, without its place."""
    return _taker(shape)(data)


@cache
def _taker(shape: type[Shape]) -> Callable[[Any], dict[str, Any]]:
    return _take_shape(shape())


def _take_shape(shape: Shape) -> Callable[[Any], dict[str, Any]]:
    """Return the one-pass reader of a shape, made of its own fields and its own `cross_faults`."""
    if type(shape).to_internal_value is not Shape.to_internal_value:
        return shape.run_validation  # it has a reading of its own
    fields = {str(field.field_name): field for field in shape._writable_fields}
    takers = {name: _take(field) for name, field in fields.items()}
    required = frozenset(name for name, field in fields.items() if _is_demanded(field))
    absent = {name: None if name in required else field.run_validation(empty) for name, field in fields.items()}
    lists = tuple(name for name, value in absent.items() if isinstance(value, list))

    def take(data: Any) -> dict[str, Any]:
        if not isinstance(data, dict) or not required <= data.keys():
            raise ValidationError("faulty")
        values = absent.copy()
        for name in lists:
            values[name] = []
        for name, value in data.items():
            if value is not None:
                taker = takers.get(name)
                if taker is None:
                    raise ValidationError("faulty")
                values[name] = taker(value)
            elif name in required or name not in takers:
                raise ValidationError("faulty")
        for _ in shape.cross_faults(values):
            raise ValidationError("faulty")
        return values

    return take


def _is_demanded(field: Any) -> bool:
    return bool(field.required or (isinstance(field, ListOf) and field.least))


def _take(field: Any) -> Callable[[Any], Any]:
    """Return what reads a value that is not null; a field that does more than its own check is asked as a whole."""
    if isinstance(field, Shape):
        return _take_shape(field)
    if isinstance(field, ListOf):
        return _take_list(field)
    if isinstance(field, Exact | OneOf) and not field.validators:
        return field.to_internal_value
    return field.run_validation  # type: ignore[no-any-return] # a field's own method


def _take_list(field: ListOf) -> Callable[[Any], list[Any]]:
    taker, least, most = _take(field.child), field.least, field.most

    def take(data: Any) -> list[Any]:
        if not isinstance(data, list) or not least <= len(data) <= most or None in data:
            raise ValidationError("faulty")
        return [taker(item) for item in data]

    return take


class Nothing(Shape):
    """The body of a request that acts and says no more: none, or an empty object."""
