"""Reading what was computed."""

import uuid
from typing import Any

from inspections import exact_json
from inspections.errors import NotGradedYet
from inspections.models import Lateral, ReconciledLateral, Run, RunGrading, Site
from scoring.grading import alarm_document, alarms
from scoring.types import Defect as PipeDefect


def run_grading(run: Run, scheme: str | None = None) -> RunGrading:
    """Return the grading of what a run says now. Raises NotGradedYet."""
    rows = RunGrading.objects.filter(run=run, run_revision=run.content_revision).order_by("-created_at", "-id")
    if scheme is None:
        chosen = rows.filter(scheme__is_default=True).first()
    else:
        chosen = rows.filter(scheme__code=scheme).first() or _by_scheme_id(rows, scheme)
    if chosen is None:
        raise NotGradedYet("There is no such grading yet; submit the run and follow its calculation until it is done.")
    return chosen


def _by_scheme_id(rows: Any, text: str) -> RunGrading | None:
    try:
        found: RunGrading | None = rows.filter(scheme_id=uuid.UUID(text)).first()
    except ValueError:
        return None
    return found


def run_alarms(run: Run) -> list[dict[str, Any]]:
    """Return what in a run must not wait, graded or not, in SI."""
    rows = run.defect_rows.order_by("position").values(
        "ref", "kind", "at_m", "to_m", "soil_seen", "void_seen", "percent", "degree"
    )
    return [alarm_document(alarm) for alarm in alarms([PipeDefect(**row) for row in rows])]


def reconciled(lateral: Lateral) -> ReconciledLateral | None:
    """Return the newest reconciliation of a lateral, if there is one; it may be of an earlier state."""
    return (
        ReconciledLateral.objects.filter(lateral=lateral, scheme__is_default=True)
        .order_by("-inputs_revision", "-created_at", "-id")
        .first()
    )


def lateral_document(lateral: Lateral, site: Site, found: ReconciledLateral | None) -> dict[str, Any]:
    """Return the reconciled pipe with its grading, in SI; `is_current` false while a newer state is computed."""
    pipe = _EMPTY_PIPE if found is None else exact_json.load(found.document)
    grading = None if found is None else exact_json.load(found.grading)
    return {
        "id": str(lateral.id),
        "external_ref": lateral.external_ref,
        "property": str(lateral.property_id),
        "name": lateral.name,
        "units": "si",
        "alarms": (grading or {}).get("alarms", []),
        **pipe,
        "boundaries": [
            {"kind": one.kind, "station": one.station_m} for one in site.boundaries.order_by("station_m", "kind")
        ],
        "depths": [
            {"station": one.station_m, "depth": one.depth_m, "to": one.to} for one in site.depths.order_by("station_m")
        ],
        "surfaces": [
            {"from": one.from_m, "to": one.to_m, "kind": one.kind} for one in site.surfaces.order_by("from_m")
        ],
        "grading": grading,
        "is_current": found is not None and found.inputs_revision == lateral.inputs_revision,
        "inputs_sha256": found.inputs_sha256 if found else None,
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
