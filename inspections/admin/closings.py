"""What was found of repair scopes after the work."""

from django.contrib import admin
from django.utils.safestring import SafeString

from inspections import exact_json
from inspections.admin import shown
from inspections.admin.desk import SealedAdmin
from inspections.models import Closing
from inspections.translate import Document


@admin.register(Closing)
class ClosingAdmin(SealedAdmin):
    """Plans reported as carried out, and what runs and pressure tests say of them."""

    record_type = "closing"
    ordering = ("-created_at", "-id")
    heavy = ("written", "document_us", "document_si")
    list_display = ("lateral", "plan", "outcome", "closed_on", "state", "created_at")
    list_filter = ("outcome", "plan", "calculation__state")
    list_select_related = ("repair_scope__lateral__property", "calculation")
    search_fields = ("external_ref", "repair_scope__lateral__property__line1", "inputs_sha256")
    fields = (
        "repair_scope",
        "plan",
        "closed_on",
        "outcome",
        "state",
        "alarms",
        "sections",
        "cautions",
        "reported",
        "in_full",
        ("inputs_sha256", "rules_version"),
        "calculation",
        ("source", "external_ref"),
        "created_at",
    )
    readonly_fields = ("state", "alarms", "sections", "cautions", "reported", "in_full")

    @admin.display(description="lateral")
    def lateral(self, row: Closing) -> str:
        return str(row.repair_scope.lateral)

    @admin.display(description="state", ordering="calculation__state")
    def state(self, row: Closing) -> str:
        return shown.words(row.calculation.state if row.calculation else "queued")

    @admin.display(description="must not wait")
    def alarms(self, row: Closing) -> SafeString:
        return shown.listing([alarm["detail"] for alarm in _document(row).get("alarms", [])])

    @admin.display(description="section by section")
    def sections(self, row: Closing) -> SafeString:
        return shown.listing([line for one in _document(row).get("sections", []) for line in _lines(one)])

    @admin.display(description="cautions")
    def cautions(self, row: Closing) -> SafeString:
        return shown.listing(_document(row).get("cautions", []))

    @admin.display(description="as it was reported")
    def reported(self, row: Closing) -> SafeString:
        return shown.kept(row.written)

    @admin.display(description="in full")
    def in_full(self, row: Closing) -> SafeString:
        return shown.kept(_kept(row))


def _kept(row: Closing) -> str | None:
    return row.document_us if row.units == "us" else row.document_si


def _document(row: Closing) -> Document:
    document: Document = exact_json.load(_kept(row) or "{}")
    return document


def _lines(section: Document) -> list[str]:
    """Return a section's outcome, then each criterion with what it says."""
    head = f"Section {section['section']}, {shown.words(section['method'])}: {shown.words(section['outcome'])}"
    return [head, *(f"{_mark(one['met'])} {one['detail']}" for one in section["criteria"])]


def _mark(is_met: bool | None) -> str:
    return "open:" if is_met is None else ("met:" if is_met else "not met:")
