"""Work on many records at once: rows that came in, schemes tried on or applied to everything."""

from typing import Any

from django.contrib import admin
from django.utils.safestring import SafeString

from inspections.admin import progress
from inspections.admin.desk import SealedAdmin
from inspections.models import Import, Recomputation


@admin.register(Import)
class ImportAdmin(SealedAdmin):
    """Rows of observations and records that came in, and what became of them."""

    record_type = "import"
    ordering = ("-created_at", "-id")
    list_display = ("created_at", "kind", "source", "lines", "taken", "flagged", "refused", "outcome")
    fields = readonly_fields = ("kind", "source", "lines", "taken", "flagged", "refused", "outcome", "created_at")

    @admin.display(description="outcome")
    def outcome(self, row: Import) -> SafeString:
        return progress.of_import(row)


@admin.register(Recomputation)
class RecomputationAdmin(SealedAdmin):
    """A scheme on all laterals, and how far it is."""

    record_type = "recomputation"
    ordering = ("-created_at", "-id")
    list_display = ("scheme", "against", "apply", "state", "far", "changed", "created_at")
    list_select_related = ("scheme", "against", "calculation")
    fields = readonly_fields = (
        "scheme",
        "against",
        "apply",
        "state",
        "far",
        "changed",
        "calculation",
        "source",
        "created_at",
    )

    @admin.display(description="how far")
    def far(self, row: Recomputation) -> SafeString:
        return progress.of_recomputation(row)

    @admin.display(description="state")
    def state(self, row: Any) -> str:
        return row.calculation.state if row.calculation else "queued"
