"""Addresses of exports: all records of a kind, streamed from one state of the database."""

from collections.abc import Iterator
from typing import Final

from django.http import StreamingHttpResponse
from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request

from inspections.api.pages import SPANS
from inspections.api.schema import described
from inspections.api.views import ResourceView, moment_of
from inspections.errors import NotFound, TooManyExports
from inspections.queries.snapshot import Snapshot
from inspections.services.exporting import EXPORTS, FORMS, count, pieces

NAMES: Final = tuple(f"{name}.{form}" for name in EXPORTS for form in FORMS)
_NAME: Final = OpenApiParameter("name", str, OpenApiParameter.PATH, enum=NAMES, description="What, and in which form.")


class _Stream:
    """The pieces of an export; its snapshot ends with it, also when the client goes away or never listens."""

    def __init__(self, snapshot: Snapshot, lines: Iterator[bytes]) -> None:
        self._snapshot = snapshot
        self._lines = lines

    def __iter__(self) -> Iterator[bytes]:
        return self

    def __next__(self) -> bytes:
        return next(self._lines)

    def close(self) -> None:
        """End the snapshot."""
        self._snapshot.close()


class Export(ResourceView):
    """One export."""

    parameters = frozenset(SPANS)

    @described(
        "Read all records of a kind as of one moment",
        forms={"application/x-ndjson": str, "text/csv": str},
        filters=tuple(SPANS),
        in_path=(_NAME,),
        refuses=(TooManyExports,),
        carries=("Content-Disposition",),
    )
    def get(self, request: Request, name: str) -> StreamingHttpResponse:
        if name not in NAMES:
            raise NotFound(f"There is no such export; there are {', '.join(NAMES)}.")
        what, _, form = name.rpartition(".")
        spans = {
            SPANS[span]: moment_of(span, request.query_params[span]) for span in SPANS if span in request.query_params
        }
        snapshot = Snapshot(self.actor.organisation.id)
        kind, organisation = EXPORTS[what], self.actor.organisation
        try:
            records = count(kind, organisation, spans, snapshot)
        except BaseException:
            snapshot.close()
            raise
        stream = _Stream(snapshot, pieces(kind, form, organisation, spans, snapshot))
        response = StreamingHttpResponse(stream, content_type=FORMS[form])
        response["Records"] = str(records)
        response["Content-Disposition"] = f'attachment; filename="{name}"'
        return response
