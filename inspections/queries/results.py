"""Reading what was computed."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from inspections import exact_json
from inspections.errors import NotGradedYet
from inspections.models import GradingScheme, Lateral, LateralGrading, ReconciledLateral, Run, RunGrading
from inspections.translate import scoring_alarming
from scoring.grading import alarm_document, alarms


def run_grading(run: Run, scheme: str | None = None) -> RunGrading:
    """Return the grading of what a run says now, under the default scheme or the one named. Raises NotGradedYet."""
    rows = RunGrading.objects.filter(run=run, run_revision=run.content_revision).select_related("scheme")
    chosen = _under(rows, run.organisation_id, scheme)
    if chosen is None:
        raise NotGradedYet("There is no such grading yet; submit the run and follow its calculation until it is done.")
    found: RunGrading = chosen
    return found


def _under(rows: QuerySet[Any], organisation_id: Any, scheme: str | None) -> Any:
    """Return the grading under a scheme named by code (its newest version) or id.

    Without a name: under the default scheme, or, while nothing is graded under its newest version yet, under
    the version before.
    """
    rows = rows.order_by("-scheme__version", "-created_at", "-id")
    if scheme is None:
        default = GradingScheme.objects.get(organisation_id=organisation_id, is_default=True)
        return rows.filter(scheme=default).first() or rows.filter(scheme__code=default.code).first()
    if "\x00" in scheme:
        return None
    return rows.filter(scheme__code=scheme).first() or _by_scheme_id(rows, scheme)


def _by_scheme_id(rows: QuerySet[Any], text: str) -> Any:
    try:
        return rows.filter(scheme_id=uuid.UUID(text)).first()
    except ValueError:
        return None


def run_alarms(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return what in the document of a run must not wait, graded or not, in SI."""
    return [alarm_document(alarm) for alarm in alarms(scoring_alarming(document))]


def reconciled(lateral: Lateral) -> ReconciledLateral | None:
    """Return the newest reconciliation of a lateral, if there is one; it may be of an earlier state."""
    rows = ReconciledLateral.objects.filter(lateral=lateral)
    return rows.order_by("-inputs_revision", "-created_at", "-id").first()


def lateral_grading(found: ReconciledLateral, scheme: str | None = None) -> LateralGrading:
    """Return the grading of a reconciled state under the default scheme or the one named. Raises NotGradedYet."""
    rows = LateralGrading.objects.filter(reconciled=found).select_related("scheme")
    chosen = _under(rows, found.organisation_id, scheme)
    if chosen is None:
        raise NotGradedYet("The lateral is not graded under this scheme; ask for a recomputation under it.")
    graded: LateralGrading = chosen
    return graded


def side_by_side(found: ReconciledLateral) -> list[LateralGrading]:
    """Return the grading of a reconciled state under the default scheme, then under the newest version of each."""
    rows = LateralGrading.objects.filter(reconciled=found).select_related("scheme")
    newest = {row.scheme.code: row for row in rows.order_by("scheme__code", "scheme__version")}
    default = GradingScheme.objects.get(organisation_id=found.organisation_id, is_default=True)
    shown = {row.pk: row for row in (*rows.filter(scheme=default), *newest.values())}
    return sorted(
        shown.values(), key=lambda row: (row.scheme_id != default.pk, row.scheme.code != default.code, row.scheme.code)
    )


def lateral_shown(lateral: Any, scheme: str | None = None) -> dict[str, Any]:
    """Return the document of a lateral that was fetched by `pages.laterals`, in SI.

    `scheme`: with its grading under this one. Raises NotGradedYet where there is none.
    """
    found: ReconciledLateral | None = next(iter(lateral.newest_reconciled), None)
    if scheme is not None and found is None:
        raise NotGradedYet("The lateral is not graded yet; submit a run and follow its calculation until it is done.")
    if scheme is not None and found is not None:
        return lateral_document(lateral, found, lateral_grading(found, scheme))
    gradings: Any = [] if found is None else found.default_gradings  # type: ignore[attr-defined] # set by the prefetch
    return lateral_document(lateral, found, next(iter(gradings), None))


def lateral_document(
    lateral: Lateral, found: ReconciledLateral | None, graded: LateralGrading | None
) -> dict[str, Any]:
    """Return the reconciled pipe with its grading, in SI; `is_current` false while a newer state is computed."""
    pipe = _EMPTY_PIPE if found is None else exact_json.load(found.document)
    grading = None if graded is None else exact_json.load(graded.document)
    site = lateral.site
    return {
        "id": str(lateral.id),
        "external_ref": lateral.external_ref,
        "property": str(lateral.property_id),
        "name": lateral.name,
        "units": "si",
        "alarms": (grading or {}).get("alarms", []),
        **pipe,
        "boundaries": [{"kind": one.kind, "station": one.station_m} for one in site.boundaries.all()],
        "depths": [{"station": one.station_m, "depth": one.depth_m, "to": one.to} for one in site.depths.all()],
        "surfaces": [{"from": one.from_m, "to": one.to_m, "kind": one.kind} for one in site.surfaces.all()],
        "grading": grading,
        "is_current": found is not None and found.inputs_revision == lateral.inputs_revision,
        "inputs_sha256": graded.inputs_sha256 if graded else None,
        "rules_version": found.rules_version if found else None,
        "computed_at": found.created_at if found else None,
    }


_EMPTY_PIPE: dict[str, Any] = {
    "datum": None,
    "from": None,
    "to": None,
    "reaches_building": False,
    "reaches_main": False,
    "runs": [],
    "segments": [],
    "features": [],
    "defects": [],
    "unseen": [],
    "conflicts": [],
    "rules": None,
}
