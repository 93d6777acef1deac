"""The start page of the API: what there is, what every word means, what every problem means."""

from collections.abc import Mapping
from typing import Any, Final

from django.conf import settings
from drf_spectacular.views import SpectacularJSONAPIView, SpectacularSwaggerSplitView
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import exact_json
from inspections.api import exports, imports, pages, record_imports
from inspections.api.lifecycle import NOTICE
from inspections.api.problems import CODES, STATUS_OF, TITLES
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.shapes.batch import MOST_ENTRIES
from inspections.api.views import ResourceView
from inspections.errors import NotFound
from inspections.fault_codes import FAULT_CODES
from inspections.queries.snapshot import MOST_AT_ONCE
from inspections.services import kept_answers
from inspections.vocabulary import DEGREE_LIST_OF_KIND, EVENT_TYPES, LISTS, MEASURES_OF_KIND
from scoring.checks import CHECKS


class OpenAPI(SpectacularJSONAPIView):
    """The OpenAPI document."""

    authentication_classes = []
    permission_classes = []


class Docs(SpectacularSwaggerSplitView):
    """The human page, its script apart so that nothing inside of the page runs."""

    authentication_classes = []
    permission_classes = []


RESOURCES: Final[Mapping[str, str]] = {
    "jobs": "visits asked for",
    "runs": "passes of a camera, as they were written",
    "calculations": "work that is queued, under way or done",
    "laterals": "reconciled pipes, with their site, gradings, comparison and report beneath",
    "repair-scopes": "what to repair, at what price",
    "customers": "who asked",
    "properties": "addresses with their laterals",
    "properties.geojson": "properties on the map",
    "access-points": "where a camera or a crew gets in",
    "access-points.geojson": "access points on the map",
    "inspectors": "who can be sent to a job",
    "grading-schemes": "from findings to grades, in versions",
    "rate-books": "unit prices, in versions",
    "rule-sets": "what a jurisdiction or programme demands, in versions",
    "code-maps": "what a customer's own codes mean, in versions",
    **{f"checks/{name}": check.title for name, check in CHECKS.items()},
    "imports": "rows of observations in, an answer a line",
    **{
        f"imports/{kind}": f"{kind} in, an answer a line"
        for kind in ("customers", "properties", "access-points", "jobs", "runs")
    },
    "batches": "many requests in one",
    "recomputations": "a scheme tried on all records, or applied to them",
    "events": "every committed change, in order",
    "subscriptions": "who is sent events as webhooks",
    "deliveries": "events on their way to receivers",
    "tokens": "what clients sign in with",
    "audit-entries": "who changed what, when and why",
    "audit-entries/export": "the trail, to be verified by others",
}


def limits() -> dict[str, dict[str, Any]]:
    """Return every limit a client can meet, with what it counts."""
    said = {
        "body_bytes": (settings.BODY_LIMIT_BYTES, "of one request; send more in parts"),
        "depth": (exact_json.DEPTH_LIMIT, "levels a document is nested"),
        "number": (int(exact_json.NUMBER_LIMIT), "numbers lie within plus and minus this"),
        "digits": (exact_json.DIGITS_LIMIT, "digits of a decimal"),
        "parameters": (settings.DATA_UPLOAD_MAX_NUMBER_FIELDS, "parameters of an address"),
        "page_records": (pages.MOST, f"records a page; {pages.USUAL} where nothing is said"),
        "batch_entries": (MOST_ENTRIES, "requests in a batch"),
        "import_lines": (imports.MOST_LINES, "lines of one import; send more in several, under keys of their own"),
        "import_records": (record_imports.MOST_LINES, "lines of one import of records; send more in several"),
        "import_runs": (imports.MOST_RUNS, "runs that the lines of one import belong to; sort the lines by run"),
        "exports_at_once": (MOST_AT_ONCE, "exports of an organisation that are read at the same time"),
        "requests_per_second": (settings.RATE_PER_SECOND, "of a token, in the long run; 0: no limit"),
        "requests_at_once": (settings.RATE_BURST, "of a token, before it has to slow down"),
        "key_days": (kept_answers.KEPT_DAYS, "that an answer is kept under its Idempotency-Key, at least"),
        "deprecation_days": (NOTICE.days, "that an address goes on after it was deprecated, at least"),
    }
    return {name: {"value": value, "meaning": text} for name, (value, text) in said.items()}


class Start(ResourceView):
    """What there is, and what the words mean."""

    authentication_classes = []
    permission_classes = []

    @described("What there is, and what the words mean", answer=answers.StartPage, is_public=True, tagged=False)
    def get(self, request: Request) -> Response:
        base = request.build_absolute_uri("/api/v1/")
        return Response(
            {
                "service": "Pullback",
                "version": "1",
                "docs": f"{base}docs",
                "openapi": f"{base}openapi.json",
                "addresses": {name: f"{base}{name}" for name in RESOURCES},
                "resources": RESOURCES,
                "exports": [f"{base}exports/{name}" for name in exports.NAMES],
                "limits": limits(),
                "event_types": EVENT_TYPES,
                "problems": {code: {"status": one[0], "meaning": one[1]} for code, one in sorted(problems().items())},
                "fault_codes": FAULT_CODES,
                "values": LISTS,
                "degrees_of_kind": {kind: DEGREE_LIST_OF_KIND.get(kind, "other") for kind in LISTS["defect_kinds"]},
                "measures_of_kind": {kind: sorted(MEASURES_OF_KIND.get(kind, ())) for kind in LISTS["defect_kinds"]},
            }
        )


def problems() -> dict[str, tuple[int, str]]:
    """Return status and meaning of every problem by its code."""
    plain = {code: (status, TITLES[status]) for status, code in CODES.items()}
    return plain | {kind.code: (status, kind.__doc__ or TITLES[status]) for kind, status in STATUS_OF.items()}


class ProblemPage(ResourceView):
    """What a problem's code means: the address in its `type`."""

    authentication_classes = []
    permission_classes = []

    @described("What a problem's code means", answer=answers.ProblemMeaning, is_public=True, tagged=False)
    def get(self, request: Request, code: str) -> Response:
        known = problems()
        if code not in known:
            raise NotFound("There is no problem of that code; /api/v1/ lists them.")
        status, meaning = known[code]
        return Response({"code": code, "status": status, "title": TITLES[status], "meaning": meaning})
