"""One scheme on all laterals: in small transactions, resumed where it stood, the difference of each kept."""

import math
import time
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import Count, Exists, F, Min, OuterRef, QuerySet
from django.utils import timezone

from inspections import exact_json
from inspections.actor import Actor
from inspections.errors import Fault, Invalid
from inspections.models import (
    Calculation,
    GradingScheme,
    Lateral,
    LateralDifference,
    LateralGrading,
    Recomputation,
    Run,
)
from inspections.queries import opinions, results
from inspections.services import calculations, grading, laterals, trail
from inspections.services.computed import InputsChanged, LeaseLost, Unfinished
from inspections.translate import Document
from scoring import RULES_VERSION

TURN_SECONDS: Final = 2.0  # then others have their turn: the embedded service has one worker for everything
_TRIES_A_LATERAL: Final = 20
_PACE_OVER: Final = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Result:
    """What stands when all laterals are done."""

    inputs_sha256: str


def recomputation_request(*, actor: Actor, document: Mapping[str, Any]) -> Recomputation:
    """Ask for all laterals to be graded under a scheme. Raises Invalid when there is no such scheme."""
    with transaction.atomic():
        scheme = _scheme(actor, document["scheme"])
        row = Recomputation.objects.create(
            organisation=actor.organisation,
            source=actor.client,
            scheme=scheme,
            against=_in_use(scheme),
            apply=document["apply"],
            total=_inspected(actor.organisation.pk).count(),
        )
        row.calculation = calculations.calculation_request(
            actor=actor, kind="recompute", subject=row.pk, subject_revision=row.revision
        )
        row.save(update_fields=["calculation"])
        _noted(actor, row, "requested")
        return row


def _scheme(actor: Actor, named: str) -> GradingScheme:
    """Return the scheme of this id, or the newest version of this code."""
    rows = GradingScheme.objects.filter(organisation=actor.organisation)
    try:
        row = rows.filter(pk=uuid.UUID(named)).first()
    except ValueError:
        row = rows.filter(code=named).order_by("-version").first()
    if row is None:
        detail = "There is no such scheme here; load it at /grading-schemes, then recompute."
        raise Invalid(detail, faults=[Fault(("scheme",), "no_such_record", detail)])
    return row


def _in_use(scheme: GradingScheme) -> GradingScheme:
    """Return what a scheme is held against: the version before it, or the default where there is none."""
    rows = GradingScheme.objects.filter(organisation_id=scheme.organisation_id)
    before = rows.filter(code=scheme.code, version__lt=scheme.version).order_by("-version").first()
    return before or rows.get(is_default=True)


def _inspected(organisation_id: uuid.UUID) -> QuerySet[Lateral]:
    sealed = Run.objects.filter(lateral=OuterRef("pk")).exclude(state="draft")
    return Lateral.objects.filter(Exists(sealed), organisation_id=organisation_id)


def compute(claimed: Calculation) -> Result:
    """Do laterals, each in a transaction of its own, until this turn is over. Raises Unfinished, LeaseLost."""
    row = Recomputation.objects.select_related("scheme", "against", "organisation").get(pk=claimed.subject)
    actor = Actor(row.organisation, "worker", "worker", "worker", claimed.request_id)
    until = time.monotonic() + TURN_SECONDS
    lateral = _next(row)
    while lateral is not None:
        _one(actor, claimed, row, lateral)
        row.last_done = lateral.pk
        lateral = _next(row)
        if lateral is not None and time.monotonic() > until:
            raise Unfinished
    read = {"rules_version": RULES_VERSION, "scheme": exact_json.load(row.scheme.document), "apply": row.apply}
    return Result(exact_json.digest({**read, "against": exact_json.load(row.against.document)}))


def _next(row: Recomputation) -> Lateral | None:
    rows = _inspected(row.organisation_id)
    return (rows if row.last_done is None else rows.filter(pk__gt=row.last_done)).order_by("pk").first()


def _one(actor: Actor, claimed: Calculation, row: Recomputation, lateral: Lateral) -> None:
    """Do one lateral: what it reads and computes holds up nobody, what it writes is one short transaction."""
    for _ in range(_TRIES_A_LATERAL):
        inputs = laterals.read(lateral)
        computed = laterals.result(inputs, (row.scheme, row.against))
        after, before = computed.gradings
        difference = _difference(_standing(lateral, row.against) or before.document, after.document)
        runs = [(run, grading.run_gradings(run, (row.scheme,))) for run in inputs.sealed] if row.apply else []
        try:
            with transaction.atomic():
                if not calculations.extend(claimed):
                    raise LeaseLost
                if row.apply:
                    laterals.hold(inputs)
                    for run, graded in runs:
                        grading.keep(actor, claimed, run, graded)
                    laterals.keep(actor, claimed, replace(computed, gradings=(after,)))
                _kept(row, lateral, difference)
            return
        except InputsChanged:
            lateral.refresh_from_db()
    raise RuntimeError(f"lateral {lateral.pk} changed {_TRIES_A_LATERAL} times while computing")


def _standing(lateral: Lateral, scheme: GradingScheme) -> str | None:
    """Return the grading that people read now, by whichever rules it was made; None where none is kept."""
    state = results.reconciled(lateral)
    if state is None or state.inputs_revision != lateral.inputs_revision:
        return None
    return LateralGrading.objects.filter(reconciled=state, scheme=scheme).values_list("document", flat=True).first()


def _kept(row: Recomputation, lateral: Lateral, difference: Document) -> None:
    is_changed = bool(difference["differences"])
    LateralDifference.objects.create(
        organisation_id=row.organisation_id,
        recomputation=row,
        lateral=lateral,
        is_changed=is_changed,
        document=exact_json.write_text(difference),
    )
    Recomputation.objects.filter(pk=row.pk).update(
        done=F("done") + 1, changed=F("changed") + int(is_changed), last_done=lateral.pk
    )


def _difference(before: str, after: str) -> Document:
    """Return both gradings in brief, and where they part, each in the direction of its own scheme."""
    documents = [exact_json.load(before), exact_json.load(after)]
    parted = [one for one in opinions.opinions(documents) if one["is_disagreement"]]
    return {"before": _brief(documents[0]), "after": _brief(documents[1]), "differences": parted}


def _brief(document: Document) -> Document:
    shown = ("id", "version", "title", "best", "worst", "nothing_found")
    grades = {name: document[name]["grade"] for name in ("structural", "service", "overall")}
    return {"scheme": {name: document["scheme"][name] for name in shown}, "verdict": document["verdict"], **grades}


def write(actor: Actor, claimed: Calculation, result: Result) -> None:
    """Say that all laterals are done."""
    row = Recomputation.objects.select_for_update().get(pk=claimed.subject)
    row.total = row.done
    row.revision += 1
    row.save(update_fields=["total", "revision", "updated_at"])
    _noted(actor, row, "done")


def failed(actor: Actor, claimed: Calculation, error: str) -> None:
    """Say that it stopped; run again, it goes on where it stood."""
    _noted(actor, Recomputation.objects.get(pk=claimed.subject), "failed", error)


def _noted(actor: Actor, row: Recomputation, action: str, error: str = "") -> None:
    counts = {"total": row.total, "done": row.done, "changed": row.changed}
    after = {"scheme": str(row.scheme), "against": str(row.against), "apply": row.apply, **counts}
    trail.entry(actor=actor, record_type="recomputation", record_id=row.pk, action=action, after=after, reason=error)
    data = {"id": str(row.pk), "apply": row.apply, **counts}
    subject = f"recomputations/{row.pk}"
    trail.event(organisation=actor.organisation, type=f"recomputation.{action}", subject=subject, data=data)


def pace(row: Recomputation) -> float | None:
    """Return how many laterals a second were done in the last minute; None where none were or it has ended."""
    if row.calculation is None or row.calculation.state not in ("queued", "running"):
        return None
    now = timezone.now()
    done = row.differences.filter(created_at__gt=now - _PACE_OVER)
    times = done.aggregate(first=Min("created_at"), number=Count("id"))
    if not times["number"]:
        return None
    seconds: float = (now - times["first"]).total_seconds()
    return int(times["number"]) / max(seconds, 1.0)


def recomputation_document(row: Recomputation) -> Document:
    """Return how far a recomputation is."""
    calculation = row.calculation
    schemes = {
        name: {"id": str(one.pk), "code": one.code, "version": one.version}
        for name, one in (("scheme", row.scheme), ("against", row.against))
    }
    return {
        "id": str(row.pk),
        **schemes,
        "apply": row.apply,
        "state": calculation.state if calculation else "queued",
        "error": calculation.error if calculation else None,
        "total": row.total,
        "done": row.done,
        "changed": row.changed,
        "per_second": None if (rate := pace(row)) is None else round(rate, 2),
        "seconds_left": None if rate is None else math.ceil(max(row.total - row.done, 0) / rate),
        "calculation": {"id": str(row.calculation_id), "url": f"/api/v1/calculations/{row.calculation_id}"},
        "created_at": row.created_at,
        "updated_at": row.updated_at,
        "revision": row.revision,
    }


def difference_document(row: LateralDifference) -> Document:
    """Return what a scheme changes on one lateral."""
    document = exact_json.load(row.document)
    return {"lateral": str(row.lateral_id), "is_changed": row.is_changed, **document, "computed_at": row.created_at}
