"""How records of a kind are read, declared once: their list and one alone take the same words and show the same.

A list and a single read differ in nothing but how many rows they show. What `?fields=`, `?expand=` and the filters
may name is a whitelist; the rows come with all that their documents need, in a constant number of queries.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, ClassVar, Final

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.pages import SPANS, page
from inspections.api.schema import described
from inspections.api.shapes.answers import Shown, page_of
from inspections.api.views import ResourceView, parsed_id
from inspections.models import Organisation
from inspections.queries import find

Document = dict[str, Any]
_OF_PAGES: Final = frozenset({"limit", "cursor", "sort"})
# The filters of every record with times; where they point is said in pages.SPANS.
TIMES: Final[Mapping[str, str]] = SPANS


def named(*columns: str, **lookups: str) -> dict[str, str]:
    """Return filters: columns under their own names, others under the name callers know them by; and the times."""
    return {**{name: name for name in columns}, **lookups, **TIMES}


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One kind of record as it is read.

    `filters`: by the name a caller uses, the column they look at. `expansions`: by the member they fill, what is
    shown there in full. `is_covered`: the record's revision goes up with every change of what is shown.
    """

    called: str
    shape: type[Shown]
    rows: Callable[[Organisation, Collection[str]], QuerySet[Any]]
    document: Callable[[ResourceView, Any], Document]
    filters: Mapping[str, str] = field(default_factory=dict)
    expansions: Mapping[str, Callable[[ResourceView, Any], Any]] = field(default_factory=dict)
    takes_units: bool = False
    is_covered: bool = True

    @property
    def page(self) -> type[Shown]:
        """The shape of a page of them."""
        return page_of(self.shape, f"{self.shape.__name__}Page")

    @cached_property
    def fields(self) -> tuple[str, ...]:
        """What `?fields=` may name: all members that are there without being asked for."""
        members: Mapping[str, Any] = self.shape().fields
        return tuple(name for name in members if name not in self.shape.only_expanded)

    @property
    def words(self) -> frozenset[str]:
        """The parameters that a list and a single read share."""
        words = {"fields"} | ({"expand"} if self.expansions else set()) | ({"units"} if self.takes_units else set())
        return frozenset(words)

    def shown(self, view: ResourceView, row: Any) -> Document:
        """Return a record with what is asked to be shown in full, and without what is not asked for."""
        document = view.selected(self.document(view, row))
        for name in self.expansions:
            if name in view.expanded:
                document[name] = self.expansions[name](view, row)
        return document


def lists(reading: Reading, summary: str, **more: Any) -> Callable[..., Any]:
    """Describe the list of a kind of record."""
    return described(
        summary,
        answer=reading.page,
        page_of=reading.called,
        filters=tuple(reading.filters),
        takes_units=reading.takes_units,
        fields=reading.fields,
        expansions=tuple(reading.expansions),
        **{"named": ("sort",), **more},
    )


def reads(reading: Reading, summary: str, **more: Any) -> Callable[..., Any]:
    """Describe the read of one record."""
    return described(
        summary,
        answer=reading.shape,
        takes_units=reading.takes_units,
        fields=reading.fields,
        expansions=tuple(reading.expansions),
        **more,
    )


class _View(ResourceView):
    reading: ClassVar[Reading]
    own_words: ClassVar[frozenset[str]] = frozenset()  # parameters of this address alone

    def __init_subclass__(cls, **options: Any) -> None:
        super().__init_subclass__(**options)
        if "reading" in vars(cls):
            cls.parameters = cls.reading.words | cls._words_of(cls.reading) | cls.own_words
            cls.fields_known, cls.expansions = cls.reading.fields, tuple(cls.reading.expansions)

    @classmethod
    def _words_of(cls, reading: Reading) -> frozenset[str]:
        return frozenset()

    def rows(self) -> QuerySet[Any]:
        """Return the rows of the organisation, with all that is to be shown of them."""
        return self.reading.rows(self.actor.organisation, self.expanded)


class Many(_View):
    """The records of a kind, a page at a time."""

    @classmethod
    def _words_of(cls, reading: Reading) -> frozenset[str]:
        return _OF_PAGES | frozenset(reading.filters)

    def page(self, request: Request, rows: QuerySet[Any] | None = None) -> Response:
        """Return one page of the organisation's records, or of these rows."""
        found = self.rows() if rows is None else rows
        return page(request, found, lambda row: self.reading.shown(self, row), self.reading.filters)


class One(_View):
    """One record of a kind."""

    def read(self, id: str) -> Response:
        """Return one record of the organisation under its tag. Raises NotFound."""
        row = find.among(self.rows(), parsed_id(id))
        document = self.reading.shown(self, row)
        return self.found(document, self.tag(document, row.revision if self.reading.is_covered else None))
