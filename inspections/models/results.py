"""What the workers compute: calculations, gradings, reconciled laterals, repair scopes.

Results are kept as the exact bytes of a document in SI, beside a digest of what they were computed from.
"""

import uuid

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from inspections.models.base import Owned, Record, choices, one_of
from inspections.models.places import Lateral
from inspections.models.rules import GradingScheme, RateBook, RuleSet
from inspections.models.runs import Run
from inspections.vocabulary import CALCULATION_KINDS, CALCULATION_STATES


class Calculation(Owned):
    """One piece of work, claimed by a conditional UPDATE. The row is the queue and the result's receipt."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=20, choices=choices(CALCULATION_KINDS))
    subject = models.UUIDField()
    subject_revision = models.PositiveIntegerField()
    rules_version = models.CharField(max_length=100)
    state = models.CharField(max_length=12, choices=choices(CALCULATION_STATES), default="queued")
    attempts = models.PositiveSmallIntegerField(default=0)
    # The last attempt that got somewhere before it ended: five attempts after it that do not are poison.
    fruitful_attempt = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    run_after = models.DateTimeField(null=True, blank=True)
    error = models.TextField(null=True, blank=True)
    inputs_sha256 = models.CharField(max_length=64, null=True, blank=True)
    superseded_by = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    request_id = models.CharField(max_length=64, default="", blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "subject", "subject_revision", "rules_version"], name="calculation_once"
            ),
            one_of("kind", CALCULATION_KINDS, name="calculation_kind_known"),
            one_of("state", CALCULATION_STATES, name="calculation_state_known"),
        ]
        indexes = [
            models.Index(fields=["organisation", "created_at", "id"], name="calculation_page"),
            # The sweep looks here every few seconds; finished rows must not make it slower.
            models.Index(
                fields=["created_at"],
                condition=Q(state__in=["queued", "running"]),
                name="calculation_waiting",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.state}"


class RunGrading(Owned):
    """The grading of one revision of a run under one version of a scheme."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="gradings")
    run_revision = models.PositiveIntegerField()
    scheme = models.ForeignKey(GradingScheme, on_delete=models.PROTECT, related_name="+")
    rules_version = models.CharField(max_length=100)
    inputs_sha256 = models.CharField(max_length=64)
    document = models.TextField()
    calculation = models.ForeignKey(Calculation, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["run", "run_revision", "scheme", "rules_version"], name="run_grading_once_per_version"
            )
        ]


class ReconciledLateral(Owned):
    """One lateral out of all its sealed runs and the decisions on it, as of one state of its inputs."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lateral = models.ForeignKey(Lateral, on_delete=models.PROTECT, related_name="reconciled")
    inputs_revision = models.PositiveIntegerField()
    rules_version = models.CharField(max_length=100)
    inputs_sha256 = models.CharField(max_length=64)
    units = models.CharField(max_length=2, help_text="units of the run that carries the datum")
    document = models.TextField()
    calculation = models.ForeignKey(Calculation, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["lateral", "inputs_revision", "rules_version"], name="reconciled_once_per_version"
            )
        ]

    def __str__(self) -> str:
        return f"{self.lateral} at state {self.inputs_revision}"


class LateralGrading(Owned):
    """The grading of one reconciled state of a lateral under one version of a scheme."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    reconciled = models.ForeignKey(ReconciledLateral, on_delete=models.PROTECT, related_name="gradings")
    scheme = models.ForeignKey(GradingScheme, on_delete=models.PROTECT, related_name="+")
    inputs_sha256 = models.CharField(max_length=64)
    document = models.TextField()
    calculation = models.ForeignKey(Calculation, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["reconciled", "scheme"], name="lateral_grading_once_per_scheme")
        ]


class RepairScope(Record):
    """What to repair on a lateral, at what price, and why nothing cheaper is sound."""

    lateral = models.ForeignKey(Lateral, on_delete=models.PROTECT, related_name="repair_scopes")
    calculation = models.ForeignKey(Calculation, on_delete=models.PROTECT, related_name="+", null=True)
    policy = models.TextField(help_text="the request as it was sent")
    rate_book = models.ForeignKey(RateBook, on_delete=models.PROTECT, related_name="+")
    rule_set = models.ForeignKey(RuleSet, on_delete=models.PROTECT, related_name="+")
    scheme = models.ForeignKey(GradingScheme, on_delete=models.PROTECT, related_name="+")
    inputs_revision = models.PositiveIntegerField(null=True, help_text="state of the runs it was computed from")
    site_revision = models.PositiveIntegerField(null=True, help_text="state of the site it was computed from")
    inputs_sha256 = models.CharField(max_length=64, null=True)
    # The newest one that was computed: what the scope's own document shows.
    closing = models.ForeignKey("Closing", on_delete=models.PROTECT, related_name="+", null=True)
    units = models.CharField(max_length=2, default="us")
    document_us = models.TextField(null=True)
    document_si = models.TextField(null=True)

    class Meta:
        constraints = [*Record.constraints_for("repair_scope")]
        indexes = [*Record.indexes_for("repair_scope")]

    def __str__(self) -> str:
        return f"scope of {self.lateral}"
