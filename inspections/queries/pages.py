"""Rows for pages: what their documents need is fetched for all of them at once, in a constant number of queries."""

from collections.abc import Collection
from typing import Any, Final

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery

from inspections.models import (
    AccessPoint,
    GradingScheme,
    Job,
    Lateral,
    LateralGrading,
    Organisation,
    Property,
    ReconciledLateral,
    RepairScope,
    Run,
    RunGrading,
    SiteBoundary,
    SiteDepth,
    SiteSurface,
)

_IDS: Final = ("id", "job_id", "created_at")


def jobs(organisation: Organisation, expanded: Collection[str] = ()) -> QuerySet[Job]:
    """Return the jobs of an organisation with all that their documents show."""
    runs = Run.objects.all() if "runs" in expanded else Run.objects.only(*_IDS)
    rows = Job.objects.filter(organisation=organisation).select_related("customer", "property", "inspector")
    return rows.prefetch_related("property__laterals", Prefetch("runs", runs))


def runs(organisation: Organisation, expanded: Collection[str] = ()) -> QuerySet[Run]:
    """Return the runs of an organisation with all that their documents show."""
    rows = Run.objects.filter(organisation=organisation)
    if "job" in expanded:
        rows = rows.prefetch_related(Prefetch("job", jobs(organisation)))
    if "grading" in expanded:
        rows = rows.prefetch_related(Prefetch("gradings", _default_gradings(organisation), to_attr="default_gradings"))
    return rows


def _default_gradings(organisation: Organisation) -> QuerySet[RunGrading]:
    rows: QuerySet[RunGrading] = _best_first(organisation, RunGrading.objects.all())
    return rows


def _best_first(organisation: Organisation, rows: Any) -> Any:
    """Return gradings under the default scheme: its own version first, then the newest before it."""
    default = GradingScheme.objects.get(organisation=organisation, is_default=True)
    rows = rows.filter(scheme__code=default.code).select_related("scheme")
    return rows.order_by("-scheme__is_default", "-scheme__version", "-created_at", "-id")


def default_grading(run: Any) -> RunGrading | None:
    """Return the grading of what a run, fetched with its gradings, says now."""
    return next((one for one in run.default_gradings if one.run_revision == run.content_revision), None)


def properties(organisation: Organisation, expanded: Collection[str] = ()) -> QuerySet[Property]:
    """Return the properties of an organisation with their laterals."""
    rows = Property.objects.filter(organisation=organisation).select_related("customer")
    within: Any = laterals(organisation) if "laterals" in expanded else Lateral.objects.all()
    return rows.prefetch_related(Prefetch("laterals", within))


def access_points(organisation: Organisation, expanded: Collection[str] = ()) -> QuerySet[AccessPoint]:
    """Return the access points of an organisation."""
    rows = AccessPoint.objects.filter(organisation=organisation)
    if "property" in expanded:
        rows = rows.prefetch_related(Prefetch("property", properties(organisation)))
    if "lateral" in expanded:
        rows = rows.prefetch_related(Prefetch("lateral", laterals(organisation)))
    return rows


def laterals(organisation: Organisation, expanded: Collection[str] = ()) -> QuerySet[Lateral]:
    """Return the laterals of an organisation with their ground, and what was computed of them last."""
    newest = ReconciledLateral.objects.filter(lateral=OuterRef("lateral"))
    newest = newest.order_by("-inputs_revision", "-created_at", "-id")
    gradings = _best_first(organisation, LateralGrading.objects.all())
    states = ReconciledLateral.objects.filter(pk=Subquery(newest.values("pk")[:1]))
    states = states.prefetch_related(Prefetch("gradings", gradings, to_attr="default_gradings"))
    rows = Lateral.objects.filter(organisation=organisation).select_related("site")
    rows = rows.prefetch_related(
        Prefetch("site__boundaries", SiteBoundary.objects.order_by("station_m", "kind")),
        Prefetch("site__depths", SiteDepth.objects.order_by("station_m")),
        Prefetch("site__surfaces", SiteSurface.objects.order_by("from_m")),
        Prefetch("reconciled", states, to_attr="newest_reconciled"),
    )
    if "property" in expanded:
        rows = rows.prefetch_related(Prefetch("property", properties(organisation)))
    return rows


def repair_scopes(organisation: Organisation, expanded: Collection[str] = ()) -> QuerySet[RepairScope]:
    """Return the repair scopes of an organisation with what they were computed by."""
    rows = RepairScope.objects.filter(organisation=organisation)
    rows = rows.select_related("calculation", "scheme", "rate_book", "rule_set", "closing")
    if "lateral" in expanded:
        return rows.prefetch_related(Prefetch("lateral", laterals(organisation)))
    return rows.select_related("lateral")
