"""What a report of a lateral is made from, put together from the records."""

import uuid
from typing import Any

from inspections import documents, exact_json
from inspections.errors import NotFound
from inspections.measures import converted
from inspections.models import Customer, Job, Lateral, RepairScope
from inspections.queries import find, pages, results
from inspections.reports import ReportInput
from inspections.services.laterals import sealed_runs
from scoring.units import Units


def report_input(
    lateral: Lateral, units: Units, *, scope_id: uuid.UUID | None = None, plan: str | None = None, shared: str = ""
) -> ReportInput:
    """Return everything one report shows, in one unit system; without `scope_id` the newest computed scope.

    `plan`: the plan that is drawn, the cheapest one where none is named. `shared`: what a reader without an account
    is told about how they came by it.
    """
    document = results.lateral_shown(find.among(pages.laterals(lateral.organisation), lateral.pk))
    runs = sealed_runs(lateral)
    scope = _scope(lateral, scope_id)
    return ReportInput(
        units=units,
        lateral=converted(document, "si", units),
        scope=documents.repair_scope(scope, units) if scope else None,
        runs=[converted(documents.run(run), run.units, units) for run in runs],  # type: ignore[arg-type] # only units
        heading={**_heading(lateral, runs[-1].job if runs else None), "shared": shared},
        plan=plan,
    )


def _scope(lateral: Lateral, id: uuid.UUID | None) -> RepairScope | None:
    rows = RepairScope.objects.filter(lateral=lateral).select_related(
        "calculation", "lateral", "scheme", "rate_book", "rule_set"
    )
    if id is None:
        return rows.exclude(document_us=None).order_by("-created_at", "-id").first()
    found = rows.filter(pk=id).first()
    if found is None:
        raise NotFound("There is no such repair scope of this lateral; check the id.")
    return found


def customer_of(lateral: Lateral) -> Customer | None:
    """Return whom a report names as who asked: the customer of the newest run's job, else the property's."""
    runs = sealed_runs(lateral)
    return _asking(lateral, runs[-1].job if runs else None)


def _asking(lateral: Lateral, job: Job | None) -> Customer | None:
    return job.customer if job else lateral.property.customer


def _heading(lateral: Lateral, job: Job | None) -> dict[str, Any]:
    place = lateral.property
    region = " ".join(part for part in (place.region, place.postal_code) if part)
    customer = _asking(lateral, job)
    return {
        "organisation": lateral.organisation.name,
        "customer_name": customer.name if customer else None,
        "address_lines": [line for line in (place.line1, place.line2, place.locality, region, place.country) if line],
        "asked_at": job.created_at.isoformat(timespec="minutes") if job else None,
        "window": exact_json.load(job.written).get("window") if job else None,
        "purpose": job.purpose if job else None,
        "job_ref": job.external_ref if job else None,
        "instructions": job.instructions if job else None,
    }
