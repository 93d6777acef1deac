"""A new scheme version on all records: tried, or applied, with the difference of each lateral kept."""

import uuid

from django.db import models

from inspections.models.base import Owned, Record
from inspections.models.places import Lateral
from inspections.models.results import Calculation
from inspections.models.rules import GradingScheme


class Recomputation(Record):
    """All laterals of the organisation under one scheme. `done` laterals are behind `last_done`."""

    scheme = models.ForeignKey(GradingScheme, on_delete=models.PROTECT, related_name="+")
    against = models.ForeignKey(GradingScheme, on_delete=models.PROTECT, related_name="+")
    apply = models.BooleanField(help_text="false: only what would change")
    calculation = models.ForeignKey(Calculation, on_delete=models.PROTECT, related_name="+", null=True)
    total = models.PositiveIntegerField(default=0)
    done = models.PositiveIntegerField(default=0)
    changed = models.PositiveIntegerField(default=0)
    last_done = models.UUIDField(null=True, editable=False)

    class Meta:
        constraints = [*Record.constraints_for("recomputation")]
        indexes = [*Record.indexes_for("recomputation")]

    def __str__(self) -> str:
        return f"recomputation under {self.scheme}"


class LateralDifference(Owned):
    """What a scheme changes on one lateral."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    recomputation = models.ForeignKey(Recomputation, on_delete=models.PROTECT, related_name="differences")
    lateral = models.ForeignKey(Lateral, on_delete=models.PROTECT, related_name="+")
    is_changed = models.BooleanField()
    document = models.TextField()
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["recomputation", "lateral"], name="difference_once_per_lateral")
        ]
        indexes = [models.Index(fields=["recomputation", "created_at", "id"], name="difference_page")]
