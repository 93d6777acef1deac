"""Customers, properties, access points and laterals."""

from typing import Any

from django import forms
from django.contrib import admin
from django.http import HttpRequest
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inspections import exact_json
from inspections.actor import Actor
from inspections.admin import shown
from inspections.admin.desk import DeskAdmin, DeskForm, SealedAdmin
from inspections.admin.erasing import Erasable
from inspections.admin.lateral_report import drawing, lateral_alarms, links
from inspections.admin.report_links import Sharing
from inspections.models import AccessPoint, Customer, Lateral, Property
from inspections.queries import results
from inspections.services import records
from inspections.translate import Document

_ADDRESS = ("line1", "line2", "locality", "region", "postal_code", "country")


class PlainRecordAdmin(DeskAdmin):
    """Records that are made and changed at the desk, through the one service for plain records."""

    kind: records.Kind
    ordering = ("-created_at", "-id")

    def document(self, row: Any, form: DeskForm, before: Document) -> Document:
        """Return the record's document with what was typed put in."""
        raise NotImplementedError

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        # The reference belongs to the system that wrote it; a record made here may be given one once.
        return ("external_ref", "source", "created_at", "updated_at") if obj else ("source",)

    def made(self, actor: Actor, row: Any, form: Any) -> None:
        blank = self.kind.writable(self.kind.model(organisation=actor.organisation))
        document = self.document(row, form, blank) | {"external_ref": form.cleaned_data["external_ref"]}
        records.record_create(actor=actor, kind=self.kind, id=row.pk, document=document)

    def changed(self, actor: Actor, row: Any, form: Any) -> None:
        records.record_change(
            actor=actor,
            kind=self.kind,
            id=row.pk,
            edit=lambda before: self.document(row, form, before),
            expected=form.expected,
        )


@admin.register(Customer)
class CustomerAdmin(Erasable, PlainRecordAdmin):
    """Who asks for inspections."""

    kind = records.CUSTOMER
    record_type = "customer"
    list_display = ("name", "kind", "email", "phone", "external_ref", "created_at")
    list_filter = ("kind",)
    search_fields = ("name", "email", "phone", "external_ref")
    fields = ("name", "kind", "email", "phone", "external_ref", "source", "seen_revision")

    def document(self, row: Any, form: DeskForm, before: Document) -> Document:
        return before | form.changes("name", "kind", "email", "phone")


class PropertyForm(DeskForm):
    """An address; a place on the earth has both coordinates or none."""

    lat = forms.DecimalField(required=False, min_value=-90, max_value=90, max_digits=9, decimal_places=7)
    lon = forms.DecimalField(required=False, min_value=-180, max_value=180, max_digits=10, decimal_places=7)

    def clean(self) -> dict[str, Any] | None:
        typed = super().clean() or {}
        if (typed.get("lat") is None) != (typed.get("lon") is None) and not {"lat", "lon"} & self.errors.keys():
            raise forms.ValidationError("Give both lat and lon, or neither.")
        return typed


@admin.register(Property)
class PropertyAdmin(PlainRecordAdmin):
    """Addresses, each with its laterals."""

    form = PropertyForm
    kind = records.PROPERTY
    record_type = "property"
    list_display = ("address", "region", "postal_code", "customer", "year_built", "rule_set", "external_ref")
    list_select_related = ("customer",)
    search_fields = ("line1", "locality", "postal_code", "external_ref", "customer__name")
    autocomplete_fields = ("customer",)
    fields = ("customer", *_ADDRESS, "year_built", "rule_set", "lat", "lon", "external_ref", "source", "seen_revision")

    @admin.display(description="address", ordering="line1")
    def address(self, row: Property) -> str:
        return str(row)

    def document(self, row: Any, form: DeskForm, before: Document) -> Document:
        after = before | form.changes("year_built", "rule_set")
        after["address"] = before["address"] | form.changes(*_ADDRESS)
        if "customer" in form.changed_data:
            customer = form.cleaned_data["customer"]
            after["customer_id"] = str(customer.pk) if customer else None
        if form.changes("lat", "lon"):
            lat, lon = form.cleaned_data["lat"], form.cleaned_data["lon"]
            after["location"] = None if lat is None else {"lat": lat, "lon": lon}
        return after


class AccessPointForm(DeskForm):
    """The size is typed in the units of the access point, not in those the service computes with."""

    size = forms.DecimalField(
        required=False, min_value=0, max_digits=9, decimal_places=4, help_text="nominal size: in, or mm where metric"
    )
    units = forms.ChoiceField(choices=[("us", "us (in)"), ("si", "si (mm)")])

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial["size"] = records.ACCESS_POINT.writable(self.instance)["size"]


@admin.register(AccessPoint)
class AccessPointAdmin(PlainRecordAdmin):
    """Where a camera or a crew gets in."""

    kind = records.ACCESS_POINT
    record_type = "access_point"
    form = AccessPointForm
    list_display = ("name", "kind", "property", "how_to_find", "external_ref")
    list_filter = ("kind",)
    list_select_related = ("property",)
    search_fields = ("label", "how_to_find", "external_ref", "property__line1", "property__locality")
    autocomplete_fields = ("property", "lateral")
    fields = (
        "property",
        "lateral",
        "kind",
        "label",
        "how_to_find",
        "units",
        "size",
        "external_ref",
        "source",
        "seen_revision",
    )

    @admin.display(description="access point", ordering="label")
    def name(self, row: AccessPoint) -> str:
        return row.label or shown.words(row.kind)

    def document(self, row: Any, form: DeskForm, before: Document) -> Document:
        named = {name: str(one.pk) if one else None for name, one in form.changes("property", "lateral").items()}
        return before | form.changes("kind", "label", "how_to_find", "units", "size") | named


@admin.register(Lateral)
class LateralAdmin(Sharing, SealedAdmin):
    """The private drains, with drawing and report."""

    record_type = "lateral"
    ordering = ("-created_at", "-id")
    list_display = ("name", "property", "customer", "verdict_link", "external_ref")
    list_select_related = ("property__customer",)
    search_fields = ("name", "external_ref", "property__line1", "property__locality", "property__external_ref")
    fields = ("name", "property", "external_ref", "alarms", "verdict", "drawing", "contradictions", "ground")
    readonly_fields = ("alarms", "verdict", "drawing", "contradictions", "ground")

    @admin.display(description="customer", ordering="property__customer__name")
    def customer(self, row: Lateral) -> str:
        return str(row.property.customer or shown.NOTHING)

    @admin.display(description="report")
    def verdict_link(self, row: Lateral) -> SafeString:
        return links(row) if row.inputs_revision else format_html("{}", "not inspected yet")

    @admin.display(description="must not wait")
    def alarms(self, row: Lateral) -> SafeString:
        return shown.listing([alarm["detail"] for alarm in lateral_alarms(row)])

    @admin.display(description="grade")
    def verdict(self, row: Lateral) -> SafeString:
        found = results.reconciled(row)
        if found is None:
            return format_html("{}", "not graded yet" if row.inputs_revision else "not inspected yet")
        is_current = found.inputs_revision == row.inputs_revision
        state = "" if is_current else " (an earlier state; the newest one is being computed)"
        graded = [(one.scheme, exact_json.load(one.document)["verdict"]) for one in results.side_by_side(found)]
        return shown.listing([f"{scheme}: {verdict}{state}" for scheme, verdict in graded])

    @admin.display(description="pipe")
    def drawing(self, row: Lateral) -> SafeString:
        return drawing(row)

    @admin.display(description="contradictions between runs")
    def contradictions(self, row: Lateral) -> SafeString:
        found = results.reconciled(row)
        return shown.outline(exact_json.load(found.document)["conflicts"] if found else [])

    @admin.display(description="ground")
    def ground(self, row: Lateral) -> SafeString:
        return shown.link_to("site", row.pk, "what is known of the ground over it")
