"""Who is told of events, and what became of telling them."""

from django.contrib import admin

from inspections.admin import shown
from inspections.admin.desk import SealedAdmin
from inspections.models import Delivery, Subscription


@admin.register(Subscription)
class SubscriptionAdmin(SealedAdmin):
    """Receivers of events. Their secrets stay out of sight; they are made and changed through the API."""

    record_type = "subscription"
    ordering = ("-created_at", "-id")
    list_display = ("url", "told_of", "is_enabled", "resting", "created_at")
    list_filter = ("is_enabled", "format")
    search_fields = ("url", "description", "external_ref")
    fields = (
        "url",
        "told_of",
        "format",
        "description",
        "is_enabled",
        "disabled_reason",
        "resting",
        "silent_attempts",
        "source",
        "created_at",
    )
    readonly_fields = ("told_of", "resting", "disabled_reason", "silent_attempts", "source", "created_at")

    @admin.display(description="told of")
    def told_of(self, row: Subscription) -> str:
        return ", ".join(row.event_types) or shown.NOTHING

    @admin.display(description="rests until (UTC)", ordering="rests_until")
    def resting(self, row: Subscription) -> str:
        return f"{row.rests_until:%Y-%m-%d %H:%M}" if row.rests_until else shown.NOTHING


@admin.register(Delivery)
class DeliveryAdmin(SealedAdmin):
    """One event for one receiver, and how far it is."""

    ordering = ("-created_at", "-id")
    list_display = ("what", "receiver", "state", "attempt", "last_status", "last_error", "created_at", "finished_at")
    list_filter = ("state",)
    list_select_related = ("event", "subscription")
    search_fields = ("subscription__url", "event__type", "event__subject", "last_error")
    fields = (
        "what",
        "receiver",
        "state",
        "attempt",
        "next_attempt_at",
        "last_status",
        "last_error",
        "response_excerpt",
        "created_at",
        "finished_at",
    )
    readonly_fields = ("what", "receiver")

    @admin.display(description="event", ordering="event__type")
    def what(self, row: Delivery) -> str:
        return f"{row.event.type} of {row.event.subject}"

    @admin.display(description="receiver", ordering="subscription__url")
    def receiver(self, row: Delivery) -> str:
        return row.subscription.url
