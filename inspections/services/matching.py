"""Decisions on matches: two findings of two runs are one thing or two. Kept, followed, taken back with a reason."""

import uuid
from collections.abc import Iterator, Mapping
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from inspections.actor import Actor
from inspections.errors import Fault, Invalid, NotFound, StateNotReachable
from inspections.models import Calculation, Defect, Lateral, MatchDecision, Run
from inspections.queries import find
from inspections.services import calculations, trail
from inspections.services.revisions import Expected
from inspections.translate import match_decision_document


def decision_make(
    *, actor: Actor, lateral_id: uuid.UUID, document: Mapping[str, Any]
) -> tuple[MatchDecision, Calculation]:
    """Keep a decision and ask for the lateral to be reconciled by it. Raises Invalid, naming what is not there."""
    with transaction.atomic():
        lateral = find.one(Lateral, actor.organisation, lateral_id, lock=True)
        faults = [*_faults(lateral, "a", document["a"]), *_faults(lateral, "b", document["b"])]
        if document["a"]["run"] == document["b"]["run"]:
            detail = "Both findings are of one run; a decision is about what two runs saw."
            faults.append(Fault(("b", "run"), "same_run", detail))
        if faults:
            raise Invalid("The decision names findings that cannot be matched.", faults=faults)
        row = MatchDecision.objects.create(
            organisation=actor.organisation,
            source=actor.client,
            lateral=lateral,
            action=document["action"],
            run_a_id=document["a"]["run"],
            ref_a=document["a"]["ref"],
            run_b_id=document["b"]["run"],
            ref_b=document["b"]["ref"],
            reason=document["reason"],
            by=actor.name,
        )
        _noted(actor, row, "decided", before=None, reason=row.reason)
        return row, _reconciliation_asked(actor, lateral)


def decision_withdraw(
    *, actor: Actor, lateral_id: uuid.UUID, id: uuid.UUID, reason: str, expected: Expected
) -> tuple[MatchDecision, Calculation]:
    """Take a decision back; it stays readable, and the lateral is reconciled without it."""
    with transaction.atomic():
        lateral = find.one(Lateral, actor.organisation, lateral_id, lock=True)
        row = decision_of(lateral, id, lock=True)
        if row.state == "withdrawn":
            raise StateNotReachable("The decision is withdrawn already.")
        expected.hold_against(row.revision)
        before = match_decision_document(row)
        row.state, row.withdrawn_at = "withdrawn", timezone.now()
        row.withdrawn_by, row.withdrawn_because = actor.name, reason
        row.revision += 1
        row.save()
        _noted(actor, row, "withdrawn", before=before, reason=reason)
        return row, _reconciliation_asked(actor, lateral)


def decision_of(lateral: Lateral, id: uuid.UUID, *, lock: bool = False) -> MatchDecision:
    """Return one decision on a lateral. Raises NotFound."""
    rows = MatchDecision.objects.filter(lateral=lateral, pk=id)
    row = (rows.select_for_update() if lock else rows).first()
    if row is None:
        raise NotFound("There is no such decision on this lateral; check the id.")
    return row


def _faults(lateral: Lateral, name: str, named: Mapping[str, Any]) -> Iterator[Fault]:
    run = Run.objects.filter(organisation_id=lateral.organisation_id, pk=named["run"]).first()
    if run is None:
        yield Fault((name, "run"), "no_such_record", "There is no such run here; check the id.")
    elif run.lateral_id != lateral.pk:
        yield Fault((name, "run"), "run_of_other_lateral", "This run lies on another lateral; name one of this one's.")
    elif run.state == "draft":
        yield Fault((name, "run"), "run_is_draft", "This run is a draft; submit it, then decide on its findings.")
    elif not Defect.objects.filter(run=run, ref=named["ref"]).exists():
        yield Fault((name, "ref"), "no_such_finding", "The run has no defect of this ref; refs are compared as text.")


def _reconciliation_asked(actor: Actor, lateral: Lateral) -> Calculation:
    Lateral.objects.filter(pk=lateral.pk).update(inputs_revision=F("inputs_revision") + 1)
    lateral.refresh_from_db(fields=["inputs_revision"])
    return calculations.calculation_request(
        actor=actor, kind="reconcile_lateral", subject=lateral.pk, subject_revision=lateral.inputs_revision
    )


def _noted(actor: Actor, row: MatchDecision, action: str, *, before: Any, reason: str) -> None:
    after = {**match_decision_document(row), "lateral": str(row.lateral_id), "state": row.state}
    trail.entry(
        actor=actor,
        record_type="match_decision",
        record_id=row.id,
        action=action,
        before=before,
        after=after,
        reason=reason,
    )
    data = {"id": str(row.id), "lateral": str(row.lateral_id), "action": row.action, "state": row.state}
    subject = f"laterals/{row.lateral_id}/match-decisions/{row.id}"
    trail.event(organisation=actor.organisation, type=f"match_decision.{action}", subject=subject, data=data)
