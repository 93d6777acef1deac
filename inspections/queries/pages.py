"""Rows for pages: what their documents need is fetched for all of them at once, in a constant number of queries."""

from collections.abc import Collection
from typing import Any, Final

from django.db.models import Prefetch, QuerySet

from inspections.models import GradingScheme, Job, Organisation, Property, Run, RunGrading
from inspections.translate import PART_MODELS

_IDS: Final = ("id", "job_id", "created_at")


def with_parts(rows: QuerySet[Run]) -> QuerySet[Run]:
    """Fetch the lists of the runs with them."""
    return rows.prefetch_related(*(f"{model._meta.model_name}_rows" for model in PART_MODELS.values()))


def jobs(organisation: Organisation, expanded: Collection[str] = ()) -> QuerySet[Job]:
    """Return the jobs of an organisation with all that their documents show."""
    runs = with_parts(Run.objects.all()) if "runs" in expanded else Run.objects.only(*_IDS)
    rows = Job.objects.filter(organisation=organisation).select_related("customer", "property", "inspector")
    return rows.prefetch_related("property__laterals", Prefetch("runs", runs))


def runs(organisation: Organisation, expanded: Collection[str] = ()) -> QuerySet[Run]:
    """Return the runs of an organisation with all that their documents show."""
    rows = with_parts(Run.objects.filter(organisation=organisation))
    if "job" in expanded:
        rows = rows.prefetch_related(Prefetch("job", jobs(organisation)))
    if "grading" in expanded:
        rows = rows.prefetch_related(Prefetch("gradings", _default_gradings(organisation), to_attr="default_gradings"))
    return rows


def _default_gradings(organisation: Organisation) -> QuerySet[RunGrading]:
    default = GradingScheme.objects.get(organisation=organisation, is_default=True)
    rows = RunGrading.objects.filter(scheme__code=default.code).select_related("scheme")
    return rows.order_by("-scheme__is_default", "-scheme__version", "-created_at", "-id")


def default_grading(run: Any) -> RunGrading | None:
    """Return the grading of what a run, fetched with its gradings, says now."""
    return next((one for one in run.default_gradings if one.run_revision == run.content_revision), None)


def properties(organisation: Organisation) -> QuerySet[Property]:
    """Return the properties of an organisation with their laterals."""
    return Property.objects.filter(organisation=organisation).prefetch_related("laterals")
