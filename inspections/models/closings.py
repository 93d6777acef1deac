"""What was found of a repair scope after the work."""

from django.db import models
from django.db.models import Q

from inspections.models.base import Record, choices, one_of
from inspections.models.results import Calculation, RepairScope
from inspections.vocabulary import CLOSING_OUTCOMES, PLAN_NAMES


class Closing(Record):
    """A plan reported as carried out, and what runs and pressure tests afterwards say of it, section by section."""

    repair_scope = models.ForeignKey(RepairScope, on_delete=models.PROTECT, related_name="closings")
    calculation = models.ForeignKey(Calculation, on_delete=models.PROTECT, related_name="+", null=True)
    plan = models.CharField(max_length=20, choices=choices(PLAN_NAMES))
    closed_on = models.DateField()
    units = models.CharField(max_length=2)
    written = models.TextField(help_text="the whole report as it was sent, JSON")
    outcome = models.CharField(max_length=12, choices=choices(CLOSING_OUTCOMES), null=True)
    inputs_revision = models.PositiveIntegerField(null=True, help_text="state of the runs it was computed from")
    inputs_sha256 = models.CharField(max_length=64, null=True)
    rules_version = models.CharField(max_length=100, null=True)
    document_us = models.TextField(null=True)
    document_si = models.TextField(null=True)

    class Meta:
        constraints = [
            *Record.constraints_for("closing"),
            one_of("plan", PLAN_NAMES, name="closing_plan_known"),
            one_of("outcome", CLOSING_OUTCOMES, name="closing_outcome_known"),
            models.CheckConstraint(
                condition=Q(outcome=None, document_si=None) | Q(outcome__isnull=False, document_si__isnull=False),
                name="closing_outcome_with_its_document",
            ),
        ]
        indexes = [*Record.indexes_for("closing")]

    def __str__(self) -> str:
        return f"closing of {self.plan} on {self.closed_on}"
