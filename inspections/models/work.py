"""Jobs: what scheduling asks for."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inspections.models.base import Record, choices, one_of
from inspections.models.places import Customer, Property
from inspections.vocabulary import JOB_STATES, PURPOSES


class Job(Record):
    """One visit asked for at one property."""

    state = models.CharField(max_length=20, choices=choices(JOB_STATES), default="requested")
    purpose = models.CharField(max_length=20, choices=choices(PURPOSES))
    window_start = models.DateTimeField(null=True, blank=True)
    window_end = models.DateTimeField(null=True, blank=True)
    instructions = models.TextField(null=True, blank=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="jobs")
    property = models.ForeignKey(Property, on_delete=models.PROTECT, related_name="jobs")
    inspector = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="jobs"
    )
    written = models.TextField(default="{}", editable=False, help_text="the job as it was sent")

    class Meta:
        constraints = [
            *Record.constraints_for("job"),
            one_of("state", JOB_STATES, name="job_state_known"),
            one_of("purpose", PURPOSES, name="job_purpose_known"),
            models.CheckConstraint(
                condition=Q(window_start=None) | Q(window_end=None) | Q(window_start__lte=F("window_end")),
                name="job_window_in_order",
            ),
        ]
        indexes = [
            *Record.indexes_for("job"),
            models.Index(fields=["organisation", "window_start"], name="job_calendar"),
        ]

    def __str__(self) -> str:
        return f"{self.external_ref or self.id} {self.purpose}"
