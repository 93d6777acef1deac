"""Pages that stay stable under inserts: keyset pagination over (created_at, id)."""

import base64
import binascii
import re
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from django.db.models import Q, QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import exact_json
from inspections.api.views import moment_of
from inspections.errors import Fault, Invalid, Malformed
from inspections.models import User

MOST: Final = 200
USUAL: Final = 50
_OWN: Final = frozenset({"limit", "cursor", "units", "sort", "fields", "expand"})
_BOX: Final = re.compile(r"-?\d{1,3}(\.\d{1,15})?(,-?\d{1,3}(\.\d{1,15})?){3}", re.ASCII)
SPANS: Final = {
    "created_after": "created_at__gt",
    "created_before": "created_at__lt",
    "updated_after": "updated_at__gt",
}
_SORTS: Final = ("created_at", "-created_at")


def page(
    request: Request, rows: QuerySet[Any], document: Callable[[Any], Any], parameters: frozenset[str]
) -> Response:
    """Return one page of records, filtered by the parameters that name columns; oldest first where not said."""
    filters = {name: request.query_params[name] for name in sorted(parameters - _OWN) if name in request.query_params}
    for name, value in filters.items():
        rows = _filtered(rows, name, value)
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


def _filtered(rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
    if name == "bbox":
        return _within(rows, value)
    if name in SPANS:
        return rows.filter(**{SPANS[name]: moment_of(name, value)})
    column = rows.model._meta.get_field(name)
    if column.related_model is User:
        return rows.filter(**{f"{name}__username": text_parameter(name, value)})
    if column.choices and value not in dict(column.flatchoices):
        _refuse(name, "unknown_value", f"Known are: {', '.join(word for word, _ in column.flatchoices)}.")
    if column.is_relation:
        try:
            return rows.filter(**{f"{name}_id": uuid.UUID(value)})
        except ValueError:
            _refuse(name, "not_a_uuid", "This is the id of a record, a UUID.")
    return rows.filter(**{name: text_parameter(name, value)})


def _within(rows: QuerySet[Any], text: str) -> QuerySet[Any]:
    """Return the rows inside a box; west over east is a box across the antimeridian (RFC 7946, 5.2)."""
    if not _BOX.fullmatch(text):
        _refuse("bbox", "not_a_box", "Send west,south,east,north in degrees, as -72.3,41.4,-72.1,41.6.")
    west, south, east, north = (Decimal(one) for one in text.split(","))
    if max(abs(west), abs(east)) > 180 or max(abs(south), abs(north)) > 90 or south > north:
        _refuse("bbox", "not_a_box", "Longitudes lie within 180, latitudes within 90, the south before the north.")
    rows = rows.filter(lat__gte=south, lat__lte=north)
    if west <= east:
        return rows.filter(lon__gte=west, lon__lte=east)
    return rows.filter(Q(lon__gte=west) | Q(lon__lte=east))


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
