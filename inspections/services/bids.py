"""Bids on a plan of a repair scope: received, corrected by who entered them, withdrawn; never lost."""

import uuid
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from inspections import documents, exact_json
from inspections.actor import Actor
from inspections.errors import Fault, Invalid, NotFound, ReferenceTaken, ScopeNotComputed, StateNotReachable
from inspections.models import Bid, RepairScope
from inspections.queries import find
from inspections.services import records, trail
from inspections.services.records import Kind
from inspections.services.revisions import Expected, Outcome

Document = dict[str, Any]


def bid_receive(*, actor: Actor, scope: RepairScope, document: Document) -> Outcome[Bid]:
    """Keep a bid; the same source and external_ref with equal content again is the same bid."""
    outcome = records.record_create(actor=actor, kind=_kind(scope), document=document)
    if outcome.row.repair_scope_id != scope.pk:
        ref, other = document["external_ref"], outcome.row.repair_scope_id
        raise ReferenceTaken(f"external_ref {ref} already names a bid on repair scope {other}.")
    return outcome


def bid_put(
    *, actor: Actor, scope: RepairScope, id: uuid.UUID, document: Document, expected: Expected
) -> Outcome[Bid]:
    """Keep a bid under the client's id, or replace it."""
    return records.record_put(actor=actor, kind=_kind(scope), id=id, document=document, expected=expected)


def bid_change(
    *,
    actor: Actor,
    scope: RepairScope,
    id: uuid.UUID,
    edit: Callable[[Document], Document],
    expected: Expected,
) -> Outcome[Bid]:
    """Change a bid to what `edit` makes of it. Raises StateNotReachable when it is withdrawn."""
    return records.record_change(actor=actor, kind=_kind(scope), id=id, edit=edit, expected=expected)


def bid_withdraw(*, actor: Actor, scope: RepairScope, id: uuid.UUID, reason: str, expected: Expected) -> Bid:
    """Take a bid back; it stays readable and counts no more."""
    with transaction.atomic():
        row = bid_of(scope, id, lock=True)
        if row.state == "withdrawn":
            raise StateNotReachable("The bid is withdrawn already.")
        expected.hold_where_given(row.revision)
        row.state, row.withdrawn_at = "withdrawn", timezone.now()
        row.withdrawn_by, row.withdrawn_because = actor.name, reason
        row.revision += 1
        row.save()
        trail.entry(
            actor=actor,
            record_type="bid",
            record_id=row.id,
            action="withdrawn",
            before={"state": "received"},
            after={"state": "withdrawn"},
            reason=reason,
            at=row.updated_at,
        )
        data = {"id": str(row.id), "external_ref": row.external_ref, "revision": row.revision, **_about(row)}
        trail.event(organisation=actor.organisation, type="bid.withdrawn", subject=_path(row), data=data)
        return row


def bid_of(scope: RepairScope, id: uuid.UUID, *, lock: bool = False) -> Bid:
    """Return one bid on a scope. Raises NotFound."""
    row = find.one(Bid, scope.organisation, id, lock=lock)
    _hold_to_scope(scope, row)
    return row


def _kind(scope: RepairScope) -> Kind:
    """Return how bids on this scope are made and changed."""

    def apply(actor: Actor, row: Bid, document: Mapping[str, Any]) -> None:
        _apply(scope, row, document)

    path = f"repair-scopes/{scope.id}/bids"
    return Kind(Bid, "bid", path, documents.bid, documents.bid_writable, apply, begins="received", about=_about)


def _apply(scope: RepairScope, row: Bid, document: Mapping[str, Any]) -> None:
    is_new = row.repair_scope_id is None
    if not is_new:
        _hold_to_scope(scope, row)
        if row.state == "withdrawn" and documents.bid_writable(row) != document:
            raise StateNotReachable("The bid is withdrawn and stays as it was; enter the new one as a bid of its own.")
    faults = list(_faults(scope, document))
    if faults:
        raise Invalid("The bid does not fit the scope it is for.", faults=faults)
    row.repair_scope = scope
    for name in ("external_ref", "plan", "bidder", "currency"):
        setattr(row, name, document[name])
    row.received_on = date.fromisoformat(document["received_on"])
    row.valid_until = document["valid_until"] and date.fromisoformat(document["valid_until"])
    row.written = exact_json.write_text(document)


def _hold_to_scope(scope: RepairScope, row: Bid) -> None:
    if row.repair_scope_id != scope.pk:
        raise NotFound("There is no such bid on this scope; check the ids.")


def _faults(scope: RepairScope, document: Mapping[str, Any]) -> Iterator[Fault]:
    computed = computed_scope(scope)
    plans = {plan["name"]: plan["sections"] for plan in computed["plans"]}
    sections = plans.get(document["plan"])
    if not sections:
        open_to_bids = ", ".join(name for name in plans if plans[name]) or "none"
        detail = f"The scope has no work under this plan; plans to bid on: {open_to_bids}."
        yield Fault(("plan",), "nothing_to_bid_on", detail)
    if document["currency"] != computed["currency"]:
        said = document["currency"]
        detail = f"The scope is priced in {computed['currency']}, this bid in {said}; ask for it in that currency."
        yield Fault(("currency",), "currency_differs", detail)
    for number, line in enumerate(document["lines"] if sections else ()):
        if line["section"] is not None and line["section"] > len(sections or ()):
            detail = f"The plan has {len(sections or ())} sections, counted from 1; there is no {line['section']}."
            yield Fault(("lines", number, "section"), "no_such_section", detail)


def computed_scope(scope: RepairScope) -> Document:
    """Return what was computed of a scope, in SI. Raises ScopeNotComputed."""
    if scope.document_si is None:
        raise ScopeNotComputed("The scope has no plans yet; follow its calculation until it is done.")
    computed: Document = exact_json.load(scope.document_si)
    if not computed["plans"]:
        raise ScopeNotComputed(f"Nothing was planned: {computed.get('impossible') or 'there is nothing to do'}")
    return computed


def _about(row: Bid) -> Document:
    return {
        "repair_scope": str(row.repair_scope_id),
        "plan": row.plan,
        "bidder": row.bidder,
        "state": row.state,
    }


def _path(row: Bid) -> str:
    return f"repair-scopes/{row.repair_scope_id}/bids/{row.id}"
