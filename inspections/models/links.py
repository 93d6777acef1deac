"""Links that show a report to whoever holds them, until they end."""

import uuid

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from inspections.models.base import Owned, choices, one_of
from inspections.models.places import Customer, Lateral
from inspections.models.results import RepairScope
from inspections.vocabulary import PLAN_NAMES


class ReportLink(Owned):
    """One way to a lateral's report without an account. Only its digest is kept; the link was shown once."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lateral = models.ForeignKey(Lateral, on_delete=models.PROTECT, related_name="report_links")
    scope = models.ForeignKey(RepairScope, on_delete=models.PROTECT, null=True, related_name="+")
    plan = models.CharField(max_length=20, choices=choices(PLAN_NAMES), null=True)
    units = models.CharField(max_length=2, null=True)
    # May name a person: it stands here only, never in the trail, and goes when its customer is erased.
    note = models.CharField(max_length=200, default="")
    customer = models.ForeignKey(Customer, on_delete=models.SET_NULL, null=True, related_name="+")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    made_by = models.CharField(max_length=200)
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    openings = models.PositiveIntegerField(default=0)
    last_opened_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            one_of("plan", PLAN_NAMES, name="report_link_plan_known"),
            models.CheckConstraint(condition=Q(expires_at__gt=F("created_at")), name="report_link_ends_later"),
        ]
        indexes = [models.Index(fields=["organisation", "created_at", "id"], name="report_link_page")]

    @property
    def state(self) -> str:
        """Whether it still leads to the report."""
        if self.revoked_at is not None:
            return "revoked"
        return "expired" if self.expires_at <= timezone.now() else "open"

    def __str__(self) -> str:
        return f"report link {str(self.pk)[:8]}"
