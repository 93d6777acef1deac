"""What contractors bid on repair scopes."""

from django.contrib import admin
from django.utils.safestring import SafeString

from inspections import documents
from inspections.admin import shown
from inspections.admin.desk import SealedAdmin
from inspections.models import Bid


@admin.register(Bid)
class BidAdmin(SealedAdmin):
    """Bids, entered and withdrawn through the API."""

    record_type = "bid"
    ordering = ("-created_at", "-id")
    heavy = ("written",)
    list_display = ("bidder", "plan", "state", "lateral", "received_on", "valid_until")
    list_filter = ("state", "plan")
    list_select_related = ("repair_scope__lateral__property",)
    search_fields = ("bidder", "external_ref", "repair_scope__lateral__property__line1", "withdrawn_because")
    fields = (
        "bidder",
        "state",
        "repair_scope",
        "plan",
        ("received_on", "valid_until"),
        "comes_to",
        "remarks",
        "in_full",
        ("withdrawn_by", "withdrawn_because", "withdrawn_at"),
        ("source", "external_ref"),
        "created_at",
    )
    readonly_fields = ("comes_to", "remarks", "in_full")

    @admin.display(description="lateral")
    def lateral(self, row: Bid) -> str:
        return str(row.repair_scope.lateral)

    @admin.display(description="comes to")
    def comes_to(self, row: Bid) -> str:
        return f"{documents.bid(row)['corrected']['total']} {row.currency}"

    @admin.display(description="arithmetic")
    def remarks(self, row: Bid) -> SafeString:
        found = documents.bid(row)["corrected"]["remarks"]
        return shown.listing([one["detail"] for one in found])

    @admin.display(description="as it was written")
    def in_full(self, row: Bid) -> SafeString:
        return shown.kept(row.written)
