"""Pages that stay stable under inserts: keyset pagination over (created_at, id)."""

import base64
import binascii
import difflib
import re
import uuid
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from django.db.models import BooleanField, Q, QuerySet, UUIDField
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import exact_json
from inspections.api.views import moment_of
from inspections.errors import Fault, Invalid, Malformed

MOST: Final = 200
USUAL: Final = 50
_BOX: Final = re.compile(r"-?\d{1,3}(\.\d{1,15})?(,-?\d{1,3}(\.\d{1,15})?){3}", re.ASCII)
SPANS: Final = {
    "created_after": "created_at__gt",
    "created_before": "created_at__lt",
    "updated_after": "updated_at__gt",
}
_SIDES: Final = ("__gt", "__lt")
_SORTS: Final = ("created_at", "-created_at")
BOX: Final = "bbox"
_EDGE: Final = Decimal(180)
_ORDER: Final = "Send west,south,east,north in degrees"


def page(
    request: Request, rows: QuerySet[Any], document: Callable[[Any], Any], columns: Mapping[str, str]
) -> Response:
    """Return one page of records; oldest first where not said. `columns`: what each filter looks at."""
    filters = {name: request.query_params[name] for name in sorted(columns) if name in request.query_params}
    for name, value in filters.items():
        rows = _filtered(rows, name, columns[name], value)
    limit = _limit(request)
    sort = request.query_params.get("sort", "created_at")
    if sort not in _SORTS:
        near = "created_at" if "at" in sort or "created" in sort else None
        _refuse("sort", "unknown_value", f"{f'Did you mean {near}? ' if near else ''}Known are: {', '.join(_SORTS)}.")
    listed = exact_json.digest({"path": request.path, "filters": filters, "sort": sort})[:12]
    after = _read_cursor(request.query_params.get("cursor"), listed)
    if after is not None:
        rows = _behind(rows, *after, "lt" if sort.startswith("-") else "gt")
    found = list(rows.order_by(sort, "-id" if sort.startswith("-") else "id")[: limit + 1])
    following = _next_url(request, found[limit - 1], listed) if len(found) > limit else None
    headers = {"Link": f'<{following}>; rel="next"'} if following else {}
    return Response({"items": [document(row) for row in found[:limit]], "next": following}, headers=headers)


def _behind(rows: QuerySet[Any], at: datetime, id: uuid.UUID, side: str) -> QuerySet[Any]:
    # Written so that the index is walked from the cursor on; the plain OR scans to it.
    rows = rows.filter(**{f"created_at__{side}e": at})
    return rows.filter(Q(**{f"created_at__{side}": at}) | Q(**{f"id__{side}": id}))


def _filtered(rows: QuerySet[Any], name: str, lookup: str, value: str) -> QuerySet[Any]:
    if name == BOX:
        return _within(rows, value)
    column, _, test = lookup.rpartition("__") if lookup.endswith(_SIDES) else (lookup, "", "")
    if test:
        return rows.filter(**{lookup: moment_of(name, value)})
    return rows.filter(**{column: _value(_column(rows.model, column), name, value)})


def _column(model: Any, path: str) -> Any:
    """Return the column at the end of a path, as `calculation__state`."""
    *steps, last = path.split("__")
    for step in steps:
        model = model._meta.get_field(step).related_model
    return model._meta.get_field(last)


def _value(column: Any, name: str, text: str) -> Any:
    """Return what a filter says, as its column holds it. Raises Invalid, naming the filter."""
    if column.choices:
        known = [word for word, _ in column.flatchoices]
        if text not in known:
            near = difflib.get_close_matches(text[:100], known, n=1)
            hint = f"Did you mean {near[0]}? " if near else ""
            _refuse(name, "unknown_value", f"{hint}Known are: {', '.join(known)}.")
    elif isinstance(column, BooleanField):
        if text not in ("true", "false"):
            _refuse(name, "not_yes_or_no", "This is true or false.")
        return text == "true"
    elif column.is_relation or isinstance(column, UUIDField):
        try:
            return uuid.UUID(text)
        except ValueError:
            _refuse(name, "not_a_uuid", "This is the id of a record, a UUID.")
    return text_parameter(name, text)


def _within(rows: QuerySet[Any], text: str) -> QuerySet[Any]:
    """Return the rows inside a box; west over east is a box across the antimeridian (RFC 7946, 5.2)."""
    if not _BOX.fullmatch(text):
        _refuse(BOX, "not_a_box", f"{_ORDER}, as -72.3,41.4,-72.1,41.6.")
    west, south, east, north = (Decimal(one) for one in text.split(","))
    for edge, degrees, most in (("west", west, 180), ("south", south, 90), ("east", east, 180), ("north", north, 90)):
        if abs(degrees) > most:
            swapped = "; latitude and longitude are swapped" if most == 90 and abs(degrees) <= 180 else ""
            _refuse(BOX, "not_a_box", f"The {edge} ({degrees}) lies beyond {most}{swapped}. {_ORDER}.")
    if south > north:
        _refuse(BOX, "not_a_box", f"The south ({south}) lies north of the north ({north}). {_ORDER}.")
    inside = Q(lon__gte=west, lon__lte=east) if west <= east else Q(lon__gte=west) | Q(lon__lte=east)
    if east == _EDGE:  # 180 and -180 are one meridian
        inside |= Q(lon=-_EDGE)
    if west == -_EDGE:
        inside |= Q(lon=_EDGE)
    return rows.filter(inside, lat__gte=south, lat__lte=north)


def text_parameter(name: str, value: str) -> str:
    """Return a parameter that is searched for as it is. Raises Invalid for what no text column holds."""
    if "\x00" in value:
        _refuse(name, "unusable_character", "The text holds a NUL; take it out.")
    return value


def _refuse(name: str, code: str, detail: str) -> None:
    raise Invalid("A parameter has a value that means nothing here.", faults=[Fault((name,), code, detail)])


def _limit(request: Request) -> int:
    text = request.query_params.get("limit", str(USUAL))
    if not (text.isascii() and text.isdigit() and len(text) < 6 and 1 <= int(text) <= MOST):
        raise Malformed(f"limit is a whole number from 1 to {MOST}.", faults=[Fault(("limit",), "not_a_limit", text)])
    return int(text)


def _next_url(request: Request, last: Any, listed: str) -> str:
    position = [last.created_at.isoformat(), str(last.id), listed]
    cursor = base64.urlsafe_b64encode(exact_json.write(position)).decode().rstrip("=")
    query = request.query_params.copy()
    query["cursor"] = cursor
    return request.build_absolute_uri(f"{request.path}?{query.urlencode()}")


def _read_cursor(text: str | None, listed: str) -> tuple[datetime, uuid.UUID] | None:
    """Return the position in a cursor. `listed` stands for the address and its filters, which it belongs to."""
    if text is None:
        return None
    try:
        at, id, of = exact_json.read(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
        position = datetime.fromisoformat(at), uuid.UUID(id)
        if position[0].utcoffset() != timedelta(0):  # as this service writes it; databases refuse some others
            raise ValueError(at)
    except (ValueError, TypeError, AttributeError, binascii.Error, Malformed) as error:
        raise Malformed("The cursor is not one of this service; follow `next` as it is.") from error
    if of != listed:
        raise Malformed("The cursor belongs to another list or filter; begin again without it.")
    return position
