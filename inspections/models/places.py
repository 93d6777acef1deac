"""Where: customers, properties, access points, laterals and what is known of the ground."""

from django.db import models
from django.db.models import F, Q

from inspections.models.base import LengthField, Owned, Record, SizeField, choices, one_of
from inspections.vocabulary import (
    ACCESS_KINDS,
    BOUNDARY_KINDS,
    CUSTOMER_KINDS,
    DEPTH_TO,
    SOILS,
    SURFACES,
    UNITS,
)


class Customer(Record):
    """Who asked."""

    name = models.CharField(max_length=200)
    kind = models.CharField(max_length=20, choices=choices(CUSTOMER_KINDS), default="household")
    email = models.CharField(max_length=254, null=True, blank=True)
    phone = models.CharField(max_length=50, null=True, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            *Record.constraints_for("customer"),
            one_of("kind", CUSTOMER_KINDS, name="customer_kind_known"),
        ]
        indexes = [*Record.indexes_for("customer")]

    def __str__(self) -> str:
        return self.name


class Property(Record):
    """An address; has one or more laterals."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="properties")
    line1 = models.CharField(max_length=200)
    line2 = models.CharField(max_length=200, null=True, blank=True)
    locality = models.CharField(max_length=100, null=True, blank=True)
    region = models.CharField(max_length=100, null=True, blank=True)
    postal_code = models.CharField(max_length=20, null=True, blank=True)
    country = models.CharField(max_length=100, null=True, blank=True)
    year_built = models.PositiveSmallIntegerField(null=True, blank=True)
    rule_set = models.CharField(
        max_length=100, null=True, blank=True, help_text="code of the rule set that holds here"
    )
    lat = models.DecimalField(max_digits=10, decimal_places=7, null=True, blank=True)
    lon = models.DecimalField(max_digits=10, decimal_places=7, null=True, blank=True)
    location_written = models.TextField(default="null", editable=False)

    class Meta:
        verbose_name_plural = "properties"
        constraints = [
            *Record.constraints_for("property"),
            models.CheckConstraint(
                condition=Q(lat__isnull=True, lon__isnull=True)
                | Q(lat__isnull=False, lon__isnull=False, lat__range=(-90, 90), lon__range=(-180, 180)),
                name="property_location_on_earth",
            ),
        ]
        indexes = [*Record.indexes_for("property")]

    def __str__(self) -> str:
        return f"{self.line1}, {self.locality}" if self.locality else self.line1


class Lateral(Record):
    """The private drain from the building to the public main."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="laterals")
    name = models.CharField(max_length=100, default="main drain")
    # Count up with every change of a sealed run, and of the site: what a calculation read is still what is
    # there exactly when these numbers are the same.
    inputs_revision = models.PositiveIntegerField(default=0, editable=False)
    site_revision = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        constraints = [*Record.constraints_for("lateral")]
        indexes = [*Record.indexes_for("lateral")]

    def __str__(self) -> str:
        return f"{self.property} ({self.name})"


class AccessPoint(Record):
    """Where a camera or a crew gets in."""

    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="access_points")
    lateral = models.ForeignKey(Lateral, on_delete=models.PROTECT, null=True, blank=True, related_name="access_points")
    kind = models.CharField(max_length=30, choices=choices(ACCESS_KINDS))
    label = models.CharField(max_length=100, null=True, blank=True)
    how_to_find = models.TextField(null=True, blank=True)
    units = models.CharField(max_length=2, default="us")
    written = models.TextField(default="{}", editable=False, help_text="size, ties and location as written")
    size_mm = SizeField(null=True, blank=True)
    lat = models.DecimalField(max_digits=10, decimal_places=7, null=True, blank=True)
    lon = models.DecimalField(max_digits=10, decimal_places=7, null=True, blank=True)

    class Meta:
        constraints = [
            *Record.constraints_for("access_point"),
            one_of("kind", ACCESS_KINDS, name="access_point_kind_known"),
            one_of("units", UNITS, name="access_point_units_known"),
            models.CheckConstraint(
                condition=Q(lat__isnull=True, lon__isnull=True)
                | Q(lat__isnull=False, lon__isnull=False, lat__range=(-90, 90), lon__range=(-180, 180)),
                name="access_point_location_on_earth",
            ),
        ]
        indexes = [*Record.indexes_for("access_point")]

    def __str__(self) -> str:
        return self.label or self.kind


class Site(Owned):
    """What is known of the ground over a lateral; exists, empty, as soon as the lateral does."""

    lateral = models.OneToOneField(Lateral, on_delete=models.PROTECT, primary_key=True, related_name="site")
    revision = models.PositiveIntegerField(default=0, editable=False)
    updated_at = models.DateTimeField(auto_now=True)
    written = models.TextField(default="{}", editable=False, help_text="the document as it was sent")
    soil = models.CharField(max_length=20, null=True, blank=True)
    groundwater_depth_m = LengthField(null=True, blank=True)
    drainage_fixture_units = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["organisation", "updated_at", "lateral"], name="site_newest")]
        constraints = [one_of("soil", SOILS, name="site_soil_known")]

    def __str__(self) -> str:
        return f"site of {self.lateral}"


class SiteBoundary(models.Model):
    """Where responsibility changes hands."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="boundaries")
    kind = models.CharField(max_length=20)
    station_m = LengthField()

    class Meta:
        constraints = [
            one_of("kind", BOUNDARY_KINDS, name="boundary_kind_known"),
            models.UniqueConstraint(fields=["site", "kind"], name="boundary_once_per_kind"),
        ]


class SiteDepth(models.Model):
    """Depth of the pipe under the surface at a station."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="depths")
    station_m = LengthField()
    depth_m = LengthField()
    to = models.CharField(max_length=10)

    class Meta:
        constraints = [
            one_of("to", DEPTH_TO, name="depth_to_known"),
            models.CheckConstraint(condition=Q(depth_m__gte=0), name="depth_not_negative"),
            models.UniqueConstraint(fields=["site", "station_m"], name="depth_once_per_station"),
        ]


class SiteSurface(models.Model):
    """What lies on top, from station to station."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="surfaces")
    from_m = LengthField()
    to_m = LengthField()
    kind = models.CharField(max_length=20)

    class Meta:
        constraints = [
            one_of("kind", SURFACES, name="surface_kind_known"),
            models.CheckConstraint(condition=Q(from_m__lt=F("to_m")), name="surface_from_before_to"),
        ]
