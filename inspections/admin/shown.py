"""Records in words: documents as outlines, changes as from and to, measures with their units. All text is escaped."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from django.db.models import Model
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inspections import exact_json
from scoring.units import Units, length_in, plain

NOTHING: Final = "-"
_MOST_DIFFERENCES: Final = 200


@dataclass(frozen=True, slots=True)
class Difference:
    """One place of a document before and after a change."""

    place: str
    before: str
    after: str


def moment(time: datetime) -> str:
    """Return a time in the zone of the desk, which it names."""
    return date_format(timezone.localtime(time), "DATETIME_FORMAT")


def words(name: Any) -> str:
    """Return a value of a closed list, or the name of a field, as words."""
    return str(name).replace("_", " ") if name not in (None, "") else NOTHING


def said(value: Any) -> str:
    """Return one value of a document as a reader says it."""
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:f}" if isinstance(value, Decimal) else str(value)


def place(path: Iterable[str | int]) -> str:
    """Return a place in a document in words; entries of lists count from 1."""
    said = ""
    for step in path:
        said += f" {step + 1}" if isinstance(step, int) else f"{', ' if said else ''}{words(step)}"
    return said.removeprefix("document, ") or "all"


def length(value_m: Decimal | None, units: str) -> str:
    """Return a length in the units its record was written in."""
    if value_m is None:
        return NOTHING
    held: Units = "us" if units == "us" else "si"
    return f"{plain(length_in(value_m, held))} {'ft' if held == 'us' else 'm'}"


def outline(document: Any) -> SafeString:
    """Return a document as nested tables, one row a value; entries of lists count from 1."""
    if isinstance(document, dict) and document:
        return _rows((words(name), value) for name, value in document.items())
    if isinstance(document, list) and any(isinstance(value, dict | list) for value in document):
        return _rows((str(number), value) for number, value in enumerate(document, start=1))
    if isinstance(document, dict | list):
        return format_html("{}", ", ".join(said(value) for value in document) or NOTHING)
    return format_html("{}", said(document))


def _rows(pairs: Iterable[tuple[str, Any]]) -> SafeString:
    row = '<tr><th scope="row">{}</th><td>{}</td></tr>'
    return format_html("<table>{}</table>", format_html_join("", row, ((name, outline(one)) for name, one in pairs)))


def kept(text: str | None) -> SafeString:
    """Return a document kept as JSON text as an outline."""
    return outline(exact_json.load(text)) if text else format_html("{}", NOTHING)


def listing(lines: list[str]) -> SafeString:
    """Return lines one under the other."""
    return format_html_join("", "<div>{}</div>", ((line,) for line in lines)) or format_html("{}", NOTHING)


def differences(before: Any, after: Any) -> list[Difference]:
    """Return what changed between two documents, place by place."""
    old, new = dict(_leaves(before)), dict(_leaves(after))
    places = [*old, *(place for place in new if place not in old)]
    found = [
        Difference(place or "all", old.get(place, NOTHING), new.get(place, NOTHING))
        for place in places
        if old.get(place) != new.get(place)
    ]
    if len(found) > _MOST_DIFFERENCES:
        rest = f"{len(found) - _MOST_DIFFERENCES} more places"
        return [*found[:_MOST_DIFFERENCES], Difference(rest, "...", "...")]
    return found


def _leaves(document: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Yield every value of a document with its place in words; entries of lists count from 1."""
    if isinstance(document, dict):
        for name, value in document.items():
            yield from _leaves(value, f"{place}, {words(name)}" if place else words(name))
    elif isinstance(document, list):
        for number, value in enumerate(document, start=1):
            yield from _leaves(value, f"{place} {number}".strip())
    elif document is not None:
        yield place, said(document)


def link(row: Model | None, label: Any = None) -> SafeString:
    """Return a link to the page of a record, or its name where it has no page."""
    if row is None:
        return format_html("{}", NOTHING)
    return link_to(row._meta.model_name or "", row.pk, str(row) if label is None else str(label))


def link_to(model_name: str, key: Any, label: str) -> SafeString:
    """Return a link to the page of a record that need not be read for it."""
    try:
        address = reverse(f"admin:inspections_{model_name}_change", args=[key])
    except NoReverseMatch:
        return format_html("{}", label)
    return format_html('<a href="{}">{}</a>', address, label)
