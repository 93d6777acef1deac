"""What people decided about findings of two runs."""

from django.contrib import admin

from inspections.admin.desk import SealedAdmin
from inspections.models import MatchDecision


@admin.register(MatchDecision)
class MatchDecisionAdmin(SealedAdmin):
    """Decisions on matches, decided and withdrawn through the API."""

    record_type = "match_decision"
    ordering = ("-created_at", "-id")
    list_display = ("findings", "state", "lateral", "by", "reason", "created_at")
    list_filter = ("state", "action")
    list_select_related = ("lateral__property",)
    search_fields = ("reason", "by", "ref_a", "ref_b", "lateral__property__line1")
    fields = (
        "findings",
        "state",
        "lateral",
        ("run_a", "ref_a"),
        ("run_b", "ref_b"),
        ("by", "reason"),
        ("withdrawn_by", "withdrawn_because", "withdrawn_at"),
        "created_at",
    )
    readonly_fields = ("findings",)

    @admin.display(description="decision", ordering="action")
    def findings(self, row: MatchDecision) -> str:
        return f"{row.ref_a} and {row.ref_b} are {'one thing' if row.action == 'pin' else 'two things'}"
