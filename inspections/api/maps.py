"""Addresses of records on the map, as GeoJSON (RFC 7946): those whose place is known."""

from typing import Any, ClassVar, Final

from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.pages import page
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.views import ResourceView
from inspections.api.wire import ExactJSONRenderer
from inspections.services import records
from inspections.services.records import Kind

MEDIA_TYPE: Final = "application/geo+json"
_FILTERS: Final = ("external_ref", "created_after", "created_before", "updated_after")


class GeoJSON(ExactJSONRenderer):
    """JSON under its own name; a problem keeps its."""

    media_type = MEDIA_TYPE
    format = "geojson"
    charset = None


class _Map(ResourceView):
    kind: ClassVar[Kind]
    renderer_classes = [GeoJSON]
    parameters = frozenset({"limit", "cursor", "sort", "bbox", *_FILTERS})

    def _map(self, request: Request) -> Response:
        rows = self.kind.model.objects.filter(organisation=self.actor.organisation, lat__isnull=False)
        if self.kind is records.PROPERTY:
            rows = rows.prefetch_related("laterals")
        found = page(request, rows, lambda row: _feature(self.kind.document(row)), self.parameters)
        data: Any = found.data
        collection = {"type": "FeatureCollection", "features": data["items"], "next": data["next"]}
        return Response(collection, headers={name: found[name] for name in ("Link",) if found.has_header(name)})


def _feature(document: dict[str, Any]) -> dict[str, Any]:
    location = document.pop("location")
    point = {"type": "Point", "coordinates": [location["lon"], location["lat"]]}
    return {"type": "Feature", "id": document["id"], "geometry": point, "properties": document}


def _map_of(kind: Kind) -> Any:
    class Map(_Map):
        @described(
            f"See {kind.path} on the map",
            forms={MEDIA_TYPE: answers.FeatureCollection},
            page_of=kind.path,
            filters=_FILTERS,
            named=("sort", "bbox"),
        )
        def get(self, request: Request) -> Response:
            return self._map(request)

    Map.kind = kind
    return Map


PropertyMap = _map_of(records.PROPERTY)
AccessPointMap = _map_of(records.ACCESS_POINT)
