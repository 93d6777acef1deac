"""The lists of a run, as they stand in its page: in its own units and as they were written."""

from decimal import Decimal
from typing import Any, Final

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from inspections.admin import shown
from inspections.admin.desk import Parts
from inspections.models import Clip, Defect, Feature, Run, Segment, UnseenStretch
from inspections.translate import PART_MODELS, Document, run_document

_LIST_OF: Final = {model: name for name, model in PART_MODELS.items()}


class RunParts(Parts):
    """One list of a run, in its own units and as it was written."""

    parent = Run
    ordering = ("position",)

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return super().get_queryset(request).select_related("run")

    @admin.display(description="counter")
    def place(self, row: Any) -> str:
        """Say where, by the counter."""
        said = _said(row)
        unit = "ft" if row.run.units == "us" else "m"
        start, end = said.get("at", said.get("from")), said.get("to")
        is_stretch = "from" in said
        if end is None:
            return f"{start} {unit}, open end" if is_stretch else f"{start} {unit}"
        return f"{start} to {end} {unit}"

    @admin.display(description="clock")
    def clock(self, row: Any) -> str:
        """Say where on the dial, looking along the run."""
        if row.clock_from is None:
            return shown.NOTHING
        hours = [f"{hour.normalize():f}" for hour in (row.clock_from, row.clock_to) if hour is not None]
        return " to ".join(hours)

    @admin.display(description="what")
    def what(self, row: Any) -> str:
        """Say what kind it is of."""
        return shown.words(row.kind)


def _said(row: Any) -> Document:
    """Return the entry of the run's document that a row was made of."""
    entry: Document = run_document(row.run)[_LIST_OF[type(row)]][row.position]
    return entry


class SegmentParts(RunParts):
    """Stretches of one material and size."""

    model = Segment
    fields = readonly_fields = ("place", "made_of", "size")

    @admin.display(description="material")
    def made_of(self, row: Segment) -> str:
        return shown.words(row.material)

    @admin.display(description="diameter")
    def size(self, row: Segment) -> str:
        diameter = _said(row)["diameter"]
        return shown.NOTHING if diameter is None else f"{diameter} {'in' if row.run.units == 'us' else 'mm'}"


class FeatureParts(RunParts):
    """What is no defect."""

    model = Feature
    fields = readonly_fields = ("place", "what", "clock", "label")


class DefectParts(RunParts):
    """Findings with their measures."""

    model = Defect
    fields = readonly_fields = ("ref", "place", "what", "clock", "measures", "note")

    @admin.display(description="measures")
    def measures(self, row: Defect) -> str:
        """Say everything measured or judged of it, in SI where it has a unit."""
        judged = [shown.words(word) for word in (row.pattern, row.degree, row.opening) if word]
        sizes = {
            "width": row.width_mm,
            "offset": row.offset_mm,
            "gap": row.gap_mm,
            "thickness": row.thickness_mm,
        }
        judged += [f"{name} {_short(value)} mm" for name, value in sizes.items() if value is not None]
        judged += [f"{_short(row.percent)} %"] if row.percent is not None else []
        seen = {"at a joint": row.at_joint, "soil seen": row.soil_seen, "void seen": row.void_seen}
        return ", ".join([*judged, *(words for words, is_so in seen.items() if is_so)]) or shown.NOTHING


class UnseenParts(RunParts):
    """What could not be judged."""

    model = UnseenStretch
    verbose_name_plural = "unseen stretches"
    fields = readonly_fields = ("place", "why")

    @admin.display(description="reason")
    def why(self, row: UnseenStretch) -> str:
        return shown.words(row.reason)


class ClipParts(RunParts):
    """Recordings."""

    model = Clip
    fields = readonly_fields = ("uri", "duration", "sha256")

    @admin.display(description="length")
    def duration(self, row: Clip) -> str:
        return shown.NOTHING if row.duration_s is None else f"{_short(row.duration_s)} s"


def _short(value: Decimal) -> str:
    return f"{value.normalize():f}"
