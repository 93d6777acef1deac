"""Who is told of events, and what became of telling them."""

import uuid
from typing import Any

from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_POST

from inspections.admin import shown
from inspections.admin.desk import SealedAdmin
from inspections.errors import Refused
from inspections.models import Delivery, Subscription
from inspections.services import deliveries


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

    @admin.display(description="rests until", ordering="rests_until")
    def resting(self, row: Subscription) -> str:
        return shown.moment(row.rests_until) if row.rests_until else shown.NOTHING


@admin.register(Delivery)
class DeliveryAdmin(SealedAdmin):
    """One event for one receiver, and how far it is."""

    record_type = "delivery"
    ordering = ("-created_at", "-id")
    actions = ("replay",)
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

    @admin.action(description="Send again what has ended", permissions=["act"])
    def replay(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        """Queue each chosen delivery once more."""
        queued = [row for row in rows.select_related("organisation") if self._replayed(request, row)]
        messages.success(request, f"{len(queued)} will be sent again.")

    def _replayed(self, request: HttpRequest, row: Delivery) -> bool:
        try:
            deliveries.delivery_replay(actor=self.actor(request, row), id=row.pk)
        except Refused as error:
            self.tell(request, error)
            return False
        return True

    def get_urls(self) -> list[URLPattern]:
        view = self.admin_site.admin_view(require_POST(self.replay_view))
        return [path("<uuid:id>/replay/", view, name="delivery_replay"), *super().get_urls()]

    def replay_view(self, request: HttpRequest, id: uuid.UUID) -> HttpResponse:
        """Queue one delivery once more, and go back to the desk."""
        if not self.has_act_permission(request):
            raise PermissionDenied
        row = self.get_queryset(request).select_related("organisation").filter(pk=id).first()
        if row is None:
            raise Http404("There is no such delivery here.")
        if self._replayed(request, row):
            messages.success(request, "The delivery will be sent again.")
        return HttpResponseRedirect(reverse("admin:desk"))
