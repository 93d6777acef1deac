"""A batch: many requests in one, in order."""

from collections.abc import Iterator, Mapping
from typing import Any, Final
from urllib.parse import SplitResult, unquote, urlsplit

from django.urls import Resolver404, ResolverMatch, resolve

from inspections.api.fields import AnyObject, ListOf, OneOf, Shape, Text
from inspections.api.lists import BATCH_METHODS, BATCH_MODES, ENTRY_MEDIA
from inspections.errors import Fault

BASE: Final = "/api/v1"
MOST_ENTRIES: Final = 500
BATCHES: Final = "batches"  # the name of their own address in the list of all addresses


class EntryHeaders(Shape):
    """The headers an entry may carry; who calls is said once, by the batch."""

    locals()["If-Match"] = Text(longest=1000)
    locals()["Idempotency-Key"] = Text(longest=255, help_text="Honoured as if the entry had come by itself.")
    locals()["Content-Type"] = OneOf(ENTRY_MEDIA)

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        """Read headers whatever the case of their names, as HTTP does."""
        if not isinstance(data, Mapping):
            return super().to_internal_value(data)
        own = {str(name).lower(): str(name) for name in self.fields}
        named = {own.get(name.lower(), name): value for name, value in data.items()}
        return super().to_internal_value(named if len(named) == len(data) else data)


class EntryShape(Shape):
    """One request of a batch."""

    method = OneOf(BATCH_METHODS, required=True)
    path = Text(longest=2000, required=True, help_text="As `/runs/{id}` or `/api/v1/runs/{id}`, with its parameters.")
    headers = EntryHeaders(optional=True)
    body = AnyObject(help_text="What the request would send by itself; leave it out where it sends nothing.")

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        path = values.get("path")
        if path is None:
            return
        if not path.startswith("/") or path.startswith("//") or "#" in path:
            yield Fault(("path",), "not_an_address", "Send the path of an address of this API, as `/runs/{id}`.")
            return
        match = address(path)
        if match is not None and match.url_name == BATCHES:
            yield Fault(("path",), "nested_batch", "A batch holds no batches; put their entries here.")


class BatchShape(Shape):
    """Many requests in one, answered in order."""

    mode = OneOf(BATCH_MODES, required=True)
    entries = ListOf(child=EntryShape(), least=1, most=MOST_ENTRIES)


def split(path: str) -> SplitResult:
    """Return the path and the parameters of an entry, below the base of the API."""
    return urlsplit(path.removeprefix(BASE))


def address(path: str) -> ResolverMatch | None:
    """Return what answers at the path of an entry, or None."""
    try:
        return resolve(unquote(split(path).path), urlconf="inspections.api.urls")
    except Resolver404:
        return None
