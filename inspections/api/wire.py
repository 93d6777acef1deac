"""Bodies in and out: strict JSON in, exact JSON out, JSON also where the client asked for something else."""

from collections.abc import Iterable, Mapping
from typing import IO, Any, Final

from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.parsers import BaseParser
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request

from inspections import exact_json

NDJSON: Final = "application/x-ndjson"
CSV: Final = "text/csv"


class StrictJSONParser(BaseParser):
    """Reads `application/json`; every other body is 415."""

    media_type = "application/json"

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        return exact_json.read(stream.read())


class MergePatchParser(StrictJSONParser):
    """Reads the body of a PATCH (RFC 7396)."""

    media_type = "application/merge-patch+json"


class NDJSONParser(BaseParser):
    """Hands over lines of JSON as they are: each is read, and answered, by itself."""

    media_type = NDJSON

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        return stream.read()


class CSVParser(NDJSONParser):
    """Hands over a table as it is."""

    media_type = CSV


class ExactJSONRenderer(BaseRenderer):
    """Writes decimals as numbers, digit for digit."""

    media_type = "application/json"
    format = "json"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        return b"" if data is None else exact_json.write(data)


class JSONUnlessAsked(DefaultContentNegotiation):
    """Answers with the view's first form when nothing the client accepts is on offer.

    A program that sends `Accept: text/html` by habit wants its data or its error, not a 406.
    """

    def select_renderer(
        self, request: Request, renderers: Iterable[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        try:
            chosen: tuple[BaseRenderer, str] = super().select_renderer(request, renderers, format_suffix)
        except Exception:  # NotAcceptable, or an Accept header that cannot be read
            first = next(iter(renderers))
            return first, str(first.media_type)
        return chosen
