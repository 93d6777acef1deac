"""Webhooks: who wants to be told of which events, and what became of telling them."""

import uuid
from typing import Final

from django.db import models
from django.db.models import Q

from inspections.models.base import Owned, Record, choices, one_of
from inspections.models.trail import Event
from inspections.vocabulary import DELIVERY_FORMATS, DELIVERY_STATES

OPEN_STATES: Final = ("queued", "delivering")


class Subscription(Record):
    """One receiver. Its secret is not kept: it is made again from a grain of salt and the service's own secret."""

    url = models.CharField(max_length=2000)
    event_types = models.JSONField(default=list, help_text="types or patterns: run.submitted, run.*, *")
    is_enabled = models.BooleanField(default=True)
    description = models.TextField(null=True, blank=True)
    format = models.CharField(max_length=20, choices=choices(DELIVERY_FORMATS), default="plain")
    disabled_reason = models.TextField(null=True, blank=True, editable=False)
    salt = models.CharField(max_length=64, editable=False)
    secret_sha256 = models.CharField(max_length=64, editable=False)
    previous_salt = models.CharField(max_length=64, default="", editable=False)
    previous_sha256 = models.CharField(max_length=64, default="", editable=False)
    previous_until = models.DateTimeField(null=True, editable=False)
    silent_attempts = models.PositiveIntegerField(default=0, editable=False, help_text="in a row without an answer")
    rests_until = models.DateTimeField(null=True, editable=False)

    class Meta:
        constraints = [
            *Record.constraints_for("subscription"),
            one_of("format", DELIVERY_FORMATS, name="subscription_format_known"),
        ]
        indexes = [
            *Record.indexes_for("subscription"),
            models.Index(fields=["organisation"], condition=Q(is_enabled=True), name="subscription_enabled"),
        ]

    def __str__(self) -> str:
        return self.url


class Delivery(Owned):
    """One event for one receiver: the row is the queue. The id that the receiver sees is the event's."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    subscription = models.ForeignKey(Subscription, on_delete=models.CASCADE, related_name="deliveries")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=20, choices=choices(DELIVERY_STATES), default="queued")
    attempt = models.PositiveIntegerField(default=0)
    next_attempt_at = models.DateTimeField()
    lease_until = models.DateTimeField(null=True)
    last_status = models.PositiveSmallIntegerField(null=True)
    last_error = models.TextField(null=True)
    response_excerpt = models.TextField(null=True)
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        verbose_name_plural = "deliveries"
        constraints = [
            one_of("state", DELIVERY_STATES, name="delivery_state_known"),
            models.UniqueConstraint(fields=["subscription", "event"], name="delivery_once_per_event"),
        ]
        indexes = [
            models.Index(fields=["organisation", "created_at", "id"], name="delivery_page"),
            models.Index(
                fields=["subscription", "next_attempt_at", "id"],
                condition=Q(state__in=OPEN_STATES),
                name="delivery_queue",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.event_id} {self.state}"
