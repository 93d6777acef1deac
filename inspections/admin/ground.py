"""What is known of the ground over a lateral."""

from django.contrib import admin
from django.utils.safestring import SafeString

from inspections.admin import shown
from inspections.admin.desk import Parts, SealedAdmin
from inspections.admin.filters import closed_list
from inspections.models import Site, SiteBoundary, SiteDepth, SiteSurface
from inspections.vocabulary import SOILS


class BoundaryParts(Parts):
    """Where responsibility changes hands."""

    model = SiteBoundary
    parent = Site
    fields = readonly_fields = ("what", "station")
    ordering = ("station_m",)

    def what(self, row: SiteBoundary) -> str:
        return shown.words(row.kind)

    def station(self, row: SiteBoundary) -> str:
        return shown.length(row.station_m, "si")


class DepthParts(Parts):
    """Depths of the pipe."""

    model = SiteDepth
    parent = Site
    fields = readonly_fields = ("station", "depth", "measured_to")
    ordering = ("station_m",)

    def station(self, row: SiteDepth) -> str:
        return shown.length(row.station_m, "si")

    def depth(self, row: SiteDepth) -> str:
        return shown.length(row.depth_m, "si")

    def measured_to(self, row: SiteDepth) -> str:
        return row.to


class SurfaceParts(Parts):
    """What lies on top."""

    model = SiteSurface
    parent = Site
    fields = readonly_fields = ("what", "stretch")
    ordering = ("from_m",)

    def what(self, row: SiteSurface) -> str:
        return shown.words(row.kind)

    def stretch(self, row: SiteSurface) -> str:
        return f"{shown.length(row.from_m, 'si')} to {shown.length(row.to_m, 'si')}"


@admin.register(Site)
class SiteAdmin(SealedAdmin):
    """What is known of the ground over a lateral; it is written through the API."""

    record_type = "site"
    ordering = ("-updated_at", "-pk")
    heavy = ("written",)
    list_display = ("lateral", "soil_words", "groundwater", "updated_at")
    list_filter = (closed_list("soil", SOILS),)
    list_select_related = ("lateral__property",)
    search_fields = ("lateral__name", "lateral__property__line1", "lateral__property__locality")
    fields = readonly_fields = ("lateral", "soil_words", "groundwater", "drainage_fixture_units", "as_written")
    inlines = (BoundaryParts, DepthParts, SurfaceParts)

    @admin.display(description="soil", ordering="soil")
    def soil_words(self, row: Site) -> str:
        return shown.words(row.soil)

    @admin.display(description="depth to groundwater", ordering="groundwater_depth_m")
    def groundwater(self, row: Site) -> str:
        return shown.length(row.groundwater_depth_m, "si")

    @admin.display(description="as written")
    def as_written(self, row: Site) -> SafeString:
        return shown.kept(row.written)
