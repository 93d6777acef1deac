"""The start page of the API: what there is, what every word means, what every problem means."""

from typing import Any

from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularJSONAPIView, SpectacularSwaggerSplitView
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.problems import CODES, STATUS_OF, TITLES
from inspections.api.views import ResourceView
from inspections.errors import NotFound
from inspections.vocabulary import DEGREE_LIST_OF_KIND, LISTS, MEASURES_OF_KIND


class OpenAPI(SpectacularJSONAPIView):
    """The OpenAPI document."""

    authentication_classes = []
    permission_classes = []


class Docs(SpectacularSwaggerSplitView):
    """The human page, its script apart so that nothing inside of the page runs."""

    authentication_classes = []
    permission_classes = []


class Start(ResourceView):
    """What there is, and what the words mean."""

    authentication_classes = []
    permission_classes = []

    @extend_schema(summary="What there is, and what the words mean", responses={200: dict[str, Any]}, auth=[])
    def get(self, request: Request) -> Response:
        names = [
            "jobs",
            "runs",
            "calculations",
            "laterals",
            "customers",
            "properties",
            "access-points",
            "grading-schemes",
            "rate-books",
            "rule-sets",
            "code-maps",
            "imports",
            "recomputations",
            "events",
            "subscriptions",
            "deliveries",
            "tokens",
            "audit-entries",
            "batches",
        ]
        return Response(
            {
                "service": "Pullback",
                "version": "1",
                "docs": request.build_absolute_uri("/api/v1/docs"),
                "openapi": request.build_absolute_uri("/api/v1/openapi.json"),
                "addresses": {name: request.build_absolute_uri(f"/api/v1/{name}") for name in names},
                "values": LISTS,
                "degrees_of_kind": {kind: DEGREE_LIST_OF_KIND.get(kind, "other") for kind in LISTS["defect_kinds"]},
                "measures_of_kind": {kind: sorted(MEASURES_OF_KIND.get(kind, ())) for kind in LISTS["defect_kinds"]},
            }
        )


class ProblemPage(ResourceView):
    """What a problem's code means: the address in its `type`."""

    authentication_classes = []
    permission_classes = []

    @extend_schema(summary="What a problem's code means", responses={200: dict[str, Any]}, auth=[])
    def get(self, request: Request, code: str) -> Response:
        for kind, status in STATUS_OF.items():
            if kind.code == code:
                return Response({"code": code, "status": status, "title": TITLES[status], "meaning": kind.__doc__})
        for status, plain in CODES.items():
            if plain == code:
                return Response({"code": code, "status": status, "title": TITLES[status], "meaning": TITLES[status]})
        raise NotFound("There is no problem of that code.")
