"""Records on the map, as GeoJSON (RFC 7946): those whose place is known."""

from typing import Any, Final

from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.pages import page
from inspections.api.reading import Many
from inspections.api.wire import ExactJSONRenderer

MEDIA_TYPE: Final = "application/geo+json"


class GeoJSON(ExactJSONRenderer):
    """JSON under its own name; a problem keeps its."""

    media_type = MEDIA_TYPE
    format = "geojson"
    charset = None


def on_the_map(view: Many, request: Request) -> Response:
    """Return one page of records as features; `fields` and `expand` say what their properties are."""
    rows = view.rows().filter(lat__isnull=False)
    found = page(request, rows, lambda row: _feature(view, row), view.reading.filters)
    data: Any = found.data
    collection = {"type": "FeatureCollection", "features": data["items"], "next": data["next"]}
    return Response(collection, headers={name: found[name] for name in ("Link",) if found.has_header(name)})


def _feature(view: Many, row: Any) -> dict[str, Any]:
    location = view.reading.document(view, row)["location"]
    properties = view.reading.shown(view, row)
    properties.pop("location", None)
    point = {"type": "Point", "coordinates": [location["lon"], location["lat"]]}
    return {"type": "Feature", "id": properties["id"], "geometry": point, "properties": properties}
