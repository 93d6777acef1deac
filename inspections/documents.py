"""From rows to the documents that others read; and the part of them that a caller may write."""

from collections.abc import Iterable
from typing import Any, Final

from inspections import exact_json
from inspections.measures import converted
from inspections.models import (
    AccessPoint,
    ApiToken,
    Bid,
    Calculation,
    Closing,
    Customer,
    Delivery,
    Event,
    Job,
    MatchDecision,
    Property,
    RepairScope,
    ReportLink,
    Run,
    Site,
)
from inspections.models.base import Record
from inspections.models.rules import Versioned
from inspections.translate import Document, match_decision_document, run_document, scoring_bid
from scoring import bids
from scoring.units import Units


def stamps(row: Record) -> Document:
    """Return what every resource says of itself."""
    return {"created_at": row.created_at, "updated_at": row.updated_at, "revision": row.revision}


def in_order(rows: Iterable[Any]) -> list[Any]:
    """Return records in the order they were made."""
    return sorted(rows, key=lambda one: (one.created_at, one.id))


def customer_writable(row: Customer) -> Document:
    """Return the part of a customer that a caller sends."""
    return {name: getattr(row, name) for name in ("external_ref", "name", "kind", "email", "phone")}


def customer(row: Customer) -> Document:
    """Return the document of a customer."""
    return {"id": str(row.id), **customer_writable(row), "erased_at": row.erased_at, **stamps(row)}


def property_writable(row: Property) -> Document:
    """Return the part of a property that a caller sends."""
    address = {name: getattr(row, name) for name in ("line1", "line2", "locality", "region", "postal_code", "country")}
    return {
        "external_ref": row.external_ref,
        "address": address,
        "year_built": row.year_built,
        "rule_set": row.rule_set,
        "location": exact_json.load(row.location_written),
    }


def property_(row: Property) -> Document:
    """Return the document of a property, with its laterals."""
    laterals = [{"id": str(one.id), "name": one.name} for one in in_order(row.laterals.all())]
    return {
        "id": str(row.id),
        **property_writable(row),
        "customer_id": str(row.customer_id) if row.customer_id else None,
        "laterals": laterals,
        **stamps(row),
    }


def access_point_writable(row: AccessPoint) -> Document:
    """Return the part of an access point that a caller sends."""
    written: Document = exact_json.load(row.written)
    return {
        "external_ref": row.external_ref,
        "property": str(row.property_id),
        "lateral": str(row.lateral_id) if row.lateral_id else None,
        "units": row.units,
        "kind": row.kind,
        "label": row.label,
        "how_to_find": row.how_to_find,
        "size": written.get("size"),
        "ties": written.get("ties") or [],
        "location": written.get("location"),
    }


def access_point(row: AccessPoint) -> Document:
    """Return the document of an access point."""
    return {"id": str(row.id), **access_point_writable(row), **stamps(row)}


def job_writable(row: Job) -> Document:
    """Return the part of a job that a caller sends, as it was sent, with the state it is in."""
    written: Document = exact_json.load(row.written)
    inspector = row.inspector.username if row.inspector else None
    return {**written, "state": row.state, "inspector": inspector}


def job_told(row: Job) -> Document:
    """Return what the trail keeps of a job: as it was sent, and which customer and property were found or made."""
    return {**job_writable(row), "records": {"customer": str(row.customer_id), "property": str(row.property_id)}}


def job(row: Job) -> Document:
    """Return the document of a job, with its customer and property in full."""
    written: Document = exact_json.load(row.written)
    return {
        "id": str(row.id),
        "external_ref": row.external_ref,
        "state": row.state,
        "purpose": row.purpose,
        "window": written["window"],
        "instructions": row.instructions,
        "inspector": row.inspector.username if row.inspector else None,
        "customer": customer(row.customer),
        "property": property_(row.property),
        "runs": [str(one.id) for one in in_order(row.runs.all())],
        **stamps(row),
    }


EMPTY_SITE: Final[Document] = {
    "units": "us",
    "boundaries": [],
    "depths": [],
    "surfaces": [],
    "soil": None,
    "groundwater_depth": None,
    "drainage_fixture_units": None,
}


def site_writable(row: Site) -> Document:
    """Return what is known of the ground over a lateral, as it was written."""
    written: Document = exact_json.load(row.written)
    return written or dict(EMPTY_SITE)


def site(row: Site) -> Document:
    """Return the document of a site."""
    stamps = {"updated_at": row.updated_at, "revision": row.revision}
    return {"lateral": str(row.lateral_id), **site_writable(row), **stamps}


def run(row: Run) -> Document:
    """Return the document of a run as it was written, with what the service says of it."""
    return {
        "id": str(row.id),
        **run_document(row),
        "state": row.state,
        "submitted_at": row.submitted_at,
        "reviewed_at": row.reviewed_at,
        "review_reasons": row.review_reasons,
        **stamps(row),
    }


def calculation(row: Calculation) -> Document:
    """Return the document of a calculation; `result` is where its result is read once it is done."""
    results = {
        "grade_run": f"/api/v1/runs/{row.subject}/grading",
        "reconcile_lateral": f"/api/v1/laterals/{row.subject}",
        "recompute": f"/api/v1/recomputations/{row.subject}",
        "repair_scope": f"/api/v1/repair-scopes/{row.subject}",
        "close_scope": f"/api/v1/closings/{row.subject}",
    }
    return {
        "id": str(row.id),
        "url": f"/api/v1/calculations/{row.id}",
        "kind": row.kind,
        "subject": str(row.subject),
        "state": row.state,
        "attempts": row.attempts,
        "error": row.error,
        "result": results[row.kind] if row.state == "done" else None,
        "superseded_by": str(row.superseded_by_id) if row.superseded_by_id else None,
        "rules_version": row.rules_version,
        "inputs_sha256": row.inputs_sha256,
        "created_at": row.created_at,
        "updated_at": row.updated_at,
        "finished_at": row.finished_at,
    }


def match_decision(row: MatchDecision) -> Document:
    """Return the document of a decision on a match."""
    shown = ("reason", "by", "state", "withdrawn_at", "withdrawn_by", "withdrawn_because")
    return {
        "id": str(row.id),
        "lateral": str(row.lateral_id),
        **match_decision_document(row),
        **{name: getattr(row, name) for name in shown},
        **stamps(row),
    }


def repair_scope(row: RepairScope, units: Units) -> Document:
    """Return the document of a repair scope; without plans until its calculation is done."""
    asked = exact_json.load(row.policy)
    kept = row.document_us if units == "us" else row.document_si
    result = _NO_PLANS if kept is None else exact_json.load(kept)
    return {
        "id": str(row.id),
        "lateral": str(row.lateral_id),
        "state": row.calculation.state if row.calculation else "queued",
        "error": row.calculation.error if row.calculation else None,
        "calculation": {"id": str(row.calculation_id), "url": f"/api/v1/calculations/{row.calculation_id}"},
        **result,
        "units": units,
        "policy": converted(asked["policy"], row.units, units),  # type: ignore[arg-type] # holds only units
        "rate_book": {
            "id": str(row.rate_book_id),
            "code": row.rate_book.code,
            "version": row.rate_book.version,
        },
        "rule_set": {"id": str(row.rule_set_id), "code": row.rule_set.code, "version": row.rule_set.version},
        "scheme": {"id": str(row.scheme_id), "code": row.scheme.code, "version": row.scheme.version},
        "is_current": kept is not None
        and (row.inputs_revision, row.site_revision) == (row.lateral.inputs_revision, row.lateral.site_revision),
        "closing": _closed_by(row.closing),
        "inputs_sha256": row.inputs_sha256,
        **stamps(row),
    }


_NO_PLANS: Document = {
    "alarms": [],
    "plans": [],
    "monitor": [],
    "not_curable": [],
    "proof": None,
    "cautions": [],
}


def closing(row: Closing, units: Units) -> Document:
    """Return a report of work with what was found; without an outcome until its calculation is done."""
    kept = row.document_us if units == "us" else row.document_si
    found = _NOT_JUDGED if kept is None else exact_json.load(kept)
    lateral = row.repair_scope.lateral
    return {
        "id": str(row.id),
        "external_ref": row.external_ref,
        "repair_scope": str(row.repair_scope_id),
        "plan": row.plan,
        "closed_on": row.closed_on.isoformat(),
        "state": row.calculation.state if row.calculation else "queued",
        "error": row.calculation.error if row.calculation else None,
        "calculation": {"id": str(row.calculation_id), "url": f"/api/v1/calculations/{row.calculation_id}"},
        **found,
        "units": units,
        "reported": exact_json.load(row.written),
        "is_current": kept is not None and row.inputs_revision == lateral.inputs_revision,
        "rules_version": row.rules_version,
        "inputs_sha256": row.inputs_sha256,
        **stamps(row),
    }


_NOT_JUDGED: Document = {"alarms": [], "outcome": None, "sections": [], "cautions": []}


def _closed_by(row: Closing | None) -> Document | None:
    """Return what a scope says of its newest closing."""
    if row is None:
        return None
    return {
        "id": str(row.id),
        "url": f"/api/v1/closings/{row.id}",
        "plan": row.plan,
        "outcome": row.outcome,
        "closed_on": row.closed_on.isoformat(),
    }


def bid_writable(row: Bid) -> Document:
    """Return a bid as it was written."""
    written: Document = exact_json.load(row.written)
    return written


def bid(row: Bid) -> Document:
    """Return a bid as it was written, its arithmetic done again beside it."""
    shown = ("state", "withdrawn_at", "withdrawn_by", "withdrawn_because")
    return {
        "id": str(row.id),
        "repair_scope": str(row.repair_scope_id),
        **bid_writable(row),
        "corrected": bids.corrected_document(scoring_bid(row)),
        **{name: getattr(row, name) for name in shown},
        **stamps(row),
    }


def versioned(row: Versioned) -> Document:
    """Return the document of a scheme, rate book or rule set."""
    return {
        "id": str(row.id),
        "external_ref": row.external_ref,
        "code": row.code,
        "version": row.version,
        "title": row.title,
        "is_default": row.is_default,
        "document": exact_json.load(row.document),
        **stamps(row),
    }


def event(row: Event) -> Document:
    """Return an event as it stands in the feed and in webhooks."""
    return {
        "id": str(row.id),
        "type": row.type,
        "time": row.time,
        "subject": row.subject,
        "data": exact_json.load(row.data),
    }


def cloud_event(row: Event) -> Document:
    """Return an event in the envelope of CloudEvents 1.0; `source` and `id` together name it once and for all."""
    return {
        "specversion": "1.0",
        "source": f"urn:uuid:{row.organisation_id}",
        "datacontenttype": "application/json",
        **event(row),
    }


def delivery(row: Delivery) -> Document:
    """Return the document of a delivery."""
    is_open = row.state in ("queued", "delivering")
    return {
        "id": str(row.id),
        "subscription": str(row.subscription_id),
        "event": str(row.event.id),
        "event_type": row.event.type,
        "state": row.state,
        "attempt": row.attempt,
        "next_attempt_at": row.next_attempt_at if is_open else None,
        "last_status": row.last_status,
        "last_error": row.last_error,
        "response_excerpt": row.response_excerpt,
        "created_at": row.created_at,
        "updated_at": row.updated_at,
        "finished_at": row.finished_at,
    }


def report_link(row: ReportLink) -> Document:
    """Return what is said of a link to a report; never its address."""
    shown = (
        "state",
        "plan",
        "units",
        "made_by",
        "created_at",
        "expires_at",
        "revoked_at",
        "openings",
        "last_opened_at",
    )
    return {
        "id": str(row.id),
        "lateral": str(row.lateral_id),
        "scope": str(row.scope_id) if row.scope_id else None,
        "note": row.note or None,
        "customer": str(row.customer_id) if row.customer_id else None,
        **{name: getattr(row, name) for name in shown},
    }


def token(row: ApiToken) -> Document:
    """Return what is said of a token; never the token."""
    shown = ("client", "hint", "scopes", "created_at", "expires_at", "last_used_at", "revoked_at")
    return {"id": str(row.id), **{name: getattr(row, name) for name in shown}}
