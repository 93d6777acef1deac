"""Observations that came in as rows: which import brought them and what became of each."""

import uuid

from django.db import models

from inspections.models.base import Owned, Record
from inspections.models.runs import Run


class Import(Record):
    """One request of rows, and how many of them were taken, flagged and refused."""

    kind = models.CharField(max_length=20, default="observations", db_default="observations")
    lines = models.PositiveIntegerField()
    taken = models.PositiveIntegerField()
    flagged = models.PositiveIntegerField()
    refused = models.PositiveIntegerField()

    class Meta:
        constraints = [*Record.constraints_for("import")]
        indexes = [*Record.indexes_for("import")]

    def __str__(self) -> str:
        return f"import of {self.lines} lines"


class ImportedObservation(Owned):
    """One observation as it was sent, kept also where it is not sound enough to stand in its run."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="imported_observations")
    ref = models.CharField(max_length=100)
    written = models.TextField(editable=False, help_text="the row as it was sent")
    imported_by = models.ForeignKey(Import, on_delete=models.PROTECT, related_name="+")
    is_in_run = models.BooleanField(default=True)
    findings = models.TextField(default="[]", help_text="what was flagged: codes and sentences, JSON")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "ref"], name="imported_observation_once_per_run")]

    def __str__(self) -> str:
        return self.ref
