"""Runs and what was read in them.

A run keeps its whole document, word for word, as JSON text in `written`. The rows of its lists hold the SI values
that the service computes with and searches by; they are written anew with every change of the document.
"""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inspections.models.base import LengthField, Record, SizeField, choices, one_of
from inspections.models.places import Lateral
from inspections.models.work import Job
from inspections.vocabulary import (
    DEFECT_KINDS,
    DIRECTIONS,
    FEATURE_KINDS,
    MATERIALS,
    OPENINGS,
    PATTERNS,
    REACHED,
    RECORDED,
    RUN_STATES,
    STOPPED_BY,
    UNITS,
    UNSEEN_REASONS,
)


class Run(Record):
    """One pass of a camera from one access point in one direction."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="runs")
    lateral = models.ForeignKey(Lateral, on_delete=models.PROTECT, null=True, blank=True, related_name="runs")
    state = models.CharField(max_length=10, choices=choices(RUN_STATES), default="draft")
    written = models.TextField(editable=False, help_text="the whole document as it was sent")
    units = models.CharField(max_length=2, choices=choices(UNITS))
    direction = models.CharField(max_length=10, choices=choices(DIRECTIONS))
    recorded = models.CharField(max_length=12, null=True, blank=True, choices=choices(RECORDED))
    access_kind = models.CharField(max_length=30, null=True, blank=True)
    access_label = models.CharField(max_length=100, null=True, blank=True)
    counter_start_m = LengthField()
    counter_end_m = LengthField(null=True, blank=True)
    reached = models.CharField(max_length=12, null=True, blank=True, choices=choices(REACHED))
    stopped_by = models.CharField(max_length=12, null=True, blank=True, choices=choices(STOPPED_BY))
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    inspector = models.CharField(max_length=200, null=True, blank=True)
    # The revision that last changed what was read in the pipe; gradings belong to it. Accepting a run makes a
    # new revision, but no new content.
    content_revision = models.PositiveIntegerField(default=1, editable=False)
    submitted_at = models.DateTimeField(null=True, blank=True)
    reviewed_at = models.DateTimeField(null=True, blank=True)
    review_reasons = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = [
            *Record.constraints_for("run"),
            one_of("state", RUN_STATES, name="run_state_known"),
            one_of("units", UNITS, name="run_units_known"),
            one_of("direction", DIRECTIONS, name="run_direction_known"),
            one_of("recorded", RECORDED, name="run_recorded_known"),
            one_of("reached", REACHED, name="run_reached_known"),
            one_of("stopped_by", STOPPED_BY, name="run_stopped_by_known"),
            models.CheckConstraint(
                condition=Q(counter_end_m=None) | Q(counter_start_m__lte=F("counter_end_m")),
                name="run_counter_in_order",
            ),
            models.CheckConstraint(
                condition=Q(state="draft")
                | Q(lateral__isnull=False, counter_end_m__isnull=False, reached__isnull=False),
                name="run_sealed_is_complete",
            ),
        ]
        indexes = [*Record.indexes_for("run")]

    def __str__(self) -> str:
        return f"{self.external_ref or self.id} {self.direction}"


class RunPart(models.Model):
    """One entry of one list of a run, in the order it was sent."""

    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="%(class)s_rows")
    position = models.PositiveIntegerField()

    class Meta:
        abstract = True
        ordering = ["run", "position"]

    @staticmethod
    def constraints_for(name: str) -> list[models.BaseConstraint]:
        """Return the constraint each list repeats under its own name; its index also serves the reads."""
        return [models.UniqueConstraint(fields=["run", "position"], name=f"{name}_position_once")]


class Segment(RunPart):
    """A stretch of one material and nominal size, in counter readings."""

    from_m = LengthField()
    to_m = LengthField()
    material = models.CharField(max_length=30, null=True)
    diameter_mm = SizeField(null=True)
    joint_spacing_m = LengthField(null=True)

    class Meta(RunPart.Meta):
        constraints = [
            *RunPart.constraints_for("segment"),
            one_of("material", MATERIALS, name="segment_material_known"),
            models.CheckConstraint(condition=Q(from_m__lt=F("to_m")), name="segment_from_before_to"),
        ]


class Feature(RunPart):
    """Something that is no defect."""

    kind = models.CharField(max_length=20)
    at_m = LengthField()
    label = models.CharField(max_length=100, null=True)
    clock_from = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    clock_to = models.DecimalField(max_digits=4, decimal_places=2, null=True)

    class Meta(RunPart.Meta):
        constraints = [
            *RunPart.constraints_for("feature"),
            one_of("kind", FEATURE_KINDS, name="feature_kind_known"),
        ]


class Defect(RunPart):
    """One finding with what was measured of it."""

    ref = models.CharField(max_length=100)
    kind = models.CharField(max_length=30)
    pattern = models.CharField(max_length=20, null=True)
    at_m = LengthField()
    to_m = LengthField(null=True)
    at_joint = models.BooleanField(default=False)
    clock_from = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    clock_to = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    degree = models.CharField(max_length=20, null=True)
    opening = models.CharField(max_length=20, null=True)
    width_mm = SizeField(null=True)
    offset_mm = SizeField(null=True)
    gap_mm = SizeField(null=True)
    percent = SizeField(null=True)
    thickness_mm = SizeField(null=True)
    soil_seen = models.BooleanField(default=False)
    void_seen = models.BooleanField(default=False)
    note = models.TextField(null=True)

    class Meta(RunPart.Meta):
        constraints = [
            *RunPart.constraints_for("defect"),
            models.UniqueConstraint(fields=["run", "ref"], name="defect_ref_once_per_run"),
            one_of("kind", DEFECT_KINDS, name="defect_kind_known"),
            one_of("pattern", PATTERNS, name="defect_pattern_known"),
            one_of("opening", OPENINGS, name="defect_opening_known"),
            models.CheckConstraint(condition=Q(to_m=None) | Q(at_m__lte=F("to_m")), name="defect_from_before_to"),
            models.CheckConstraint(
                condition=Q(percent=None) | Q(percent__gte=0, percent__lte=100),
                name="defect_percent_in_range",
            ),
            models.CheckConstraint(
                condition=Q(clock_from=None) | Q(clock_from__gt=0, clock_from__lte=12),
                name="defect_clock_from_on_dial",
            ),
            models.CheckConstraint(
                condition=Q(clock_to=None) | Q(clock_to__gt=0, clock_to__lte=12),
                name="defect_clock_to_on_dial",
            ),
        ]


class UnseenStretch(RunPart):
    """A stretch that could not be judged; an open end means nobody knows how far."""

    from_m = LengthField()
    to_m = LengthField(null=True)
    reason = models.CharField(max_length=20)

    class Meta(RunPart.Meta):
        constraints = [
            *RunPart.constraints_for("unseen"),
            one_of("reason", UNSEEN_REASONS, name="unseen_reason_known"),
            models.CheckConstraint(condition=Q(to_m=None) | Q(from_m__lte=F("to_m")), name="unseen_from_before_to"),
        ]


class Clip(RunPart):
    """A recording, by address and digest; the file itself lives elsewhere."""

    uri = models.CharField(max_length=2000)
    sha256 = models.CharField(max_length=64, null=True)
    duration_s = models.DecimalField(max_digits=12, decimal_places=3, null=True)

    class Meta(RunPart.Meta):
        constraints = [*RunPart.constraints_for("clip")]


class Amendment(Record):
    """A change of a sealed run, with its reason. What stood before stays readable."""

    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="amendments")
    reason = models.TextField()
    changes = models.TextField(help_text="the merge patch as it was sent")
    before = models.TextField(help_text="the whole document before")
    run_revision = models.PositiveIntegerField(help_text="the revision this amendment made")
    by = models.CharField(max_length=200)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            *Record.constraints_for("amendment"),
            models.UniqueConstraint(fields=["run", "run_revision"], name="amendment_once_per_revision"),
        ]
        indexes = [*Record.indexes_for("amendment")]
