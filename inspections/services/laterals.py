"""One lateral out of all its sealed runs, graded under every current scheme."""

import uuid
from dataclasses import dataclass
from typing import Any

from inspections import exact_json
from inspections.actor import Actor
from inspections.models import (
    Calculation,
    GradingScheme,
    Lateral,
    LateralGrading,
    MatchDecision,
    ReconciledLateral,
    Run,
)
from inspections.services import schemes, trail
from inspections.services.computed import InputsChanged
from inspections.translate import Document, match_decision_document, run_document, scoring_decision, scoring_run
from scoring import RULES_VERSION, reconcile
from scoring import grading as scoring_grading
from scoring.types import Lateral as Pipe


@dataclass(frozen=True, slots=True)
class Inputs:
    """All that was read of a lateral: whoever writes a result checks that it is still so."""

    lateral: Lateral
    sealed: tuple[Run, ...]
    decisions: tuple[MatchDecision, ...]
    documents: tuple[Document, ...]  # of the sealed runs, in the same order


@dataclass(frozen=True, slots=True)
class Graded:
    """One grading document under one scheme, beside the digest of what it follows from."""

    scheme: GradingScheme
    inputs_sha256: str
    document: str


@dataclass(frozen=True, slots=True)
class Result:
    """The documents of a lateral to keep. `gradings` in the order of the schemes, the default first."""

    inputs: Inputs
    inputs_sha256: str
    units: str
    document: str
    gradings: tuple[Graded, ...]


def sealed_runs(lateral: Lateral) -> tuple[Run, ...]:
    """Return all sealed runs of a lateral in a fixed order, which a second submit does not change."""
    return tuple(Run.objects.filter(lateral=lateral).exclude(state="draft").order_by("created_at", "id"))


def standing_decisions(lateral: Lateral) -> tuple[MatchDecision, ...]:
    """Return the decisions that hold on a lateral, the earliest first: of two that contradict the later wins."""
    return tuple(MatchDecision.objects.filter(lateral=lateral, state="standing").order_by("created_at", "id"))


def read(lateral: Lateral) -> Inputs:
    """Return all that is known of a lateral now."""
    sealed = sealed_runs(lateral)
    documents = tuple({"id": str(run.id), **run_document(run)} for run in sealed)
    return Inputs(lateral, sealed, standing_decisions(lateral), documents)


def reconciled(inputs: Inputs) -> Pipe:
    """Lay the runs of a lateral onto each other, as people decided where they did."""
    runs = [scoring_run(run) for run in inputs.sealed]
    return reconcile.reconcile(runs, [scoring_decision(row) for row in inputs.decisions])


def result(inputs: Inputs, under: tuple[GradingScheme, ...]) -> Result:
    """Compute what is kept of a lateral; touches no row."""
    pipe = reconciled(inputs)
    return Result(
        inputs=inputs,
        inputs_sha256=exact_json.digest(follows_from(inputs)),
        units=next((run.units for run in inputs.sealed if str(run.id) == pipe.datum_run), _first_units(inputs)),
        document=exact_json.write_text(reconcile.lateral_document(pipe)),
        gradings=tuple(_graded(inputs, pipe, scheme) for scheme in under),
    )


def _first_units(inputs: Inputs) -> str:
    return inputs.sealed[0].units if inputs.sealed else "us"


def _graded(inputs: Inputs, pipe: Pipe, scheme: GradingScheme) -> Graded:
    grading = scoring_grading.grade_lateral(pipe, schemes.loaded(scheme))
    read = {**follows_from(inputs), "scheme": exact_json.load(scheme.document)}
    document = exact_json.write_text(scoring_grading.grading_document(grading))
    return Graded(scheme, exact_json.digest(read), document)


def follows_from(inputs: Inputs) -> Document:
    """Return all that a reconciliation follows from, for its digest."""
    return {
        "rules_version": RULES_VERSION,
        "runs": list(inputs.documents),
        "match_decisions": [match_decision_document(row) for row in inputs.decisions],
    }


def hold(inputs: Inputs) -> Lateral:
    """Lock a lateral that is still what was read. Raises InputsChanged."""
    lateral = Lateral.objects.select_for_update().get(pk=inputs.lateral.pk)
    if lateral.inputs_revision != inputs.lateral.inputs_revision:
        raise InputsChanged
    return lateral


def keep(actor: Actor, claimed: Calculation, result: Result) -> None:
    """Keep the reconciliation and its gradings, whose lateral the caller holds; what is kept already stays."""
    lateral = result.inputs.lateral
    common = {"organisation": actor.organisation, "calculation": claimed}
    reconciled, _ = ReconciledLateral.objects.get_or_create(
        lateral=lateral,
        inputs_revision=lateral.inputs_revision,
        rules_version=RULES_VERSION,
        defaults={
            **common,
            "inputs_sha256": result.inputs_sha256,
            "units": result.units,
            "document": result.document,
        },
    )
    new = []
    for graded in result.gradings:
        row, is_new = LateralGrading.objects.get_or_create(
            reconciled=reconciled,
            scheme=graded.scheme,
            defaults={**common, "inputs_sha256": graded.inputs_sha256, "document": graded.document},
        )
        new += [row] if is_new else []
    if new:
        noted(actor, "lateral", lateral.id, new, lateral.inputs_revision)


def noted(actor: Actor, kind: str, id: uuid.UUID, rows: list[Any], revision: int) -> None:
    """Say to the trail and to those who follow which gradings of a run or lateral are new."""
    results = [{"result": str(row.id), "scheme": str(row.scheme), "inputs_sha256": row.inputs_sha256} for row in rows]
    after = {"results": results, "rules_version": RULES_VERSION}
    trail.entry(actor=actor, record_type=kind, record_id=id, action="graded", after=after)
    first = exact_json.load(rows[0].document)
    data = {
        "id": str(id),
        "revision": revision,
        "inputs_sha256": rows[0].inputs_sha256,
        "scheme": {name: first["scheme"][name] for name in ("id", "version", "best", "worst")},
        "verdict": first["verdict"],
        # Who follows must not have to ask again to hear of what cannot wait.
        "alarms": [{"code": alarm["code"], "detail": alarm["detail"]} for alarm in first["alarms"]],
    }
    trail.event(organisation=actor.organisation, type=f"{kind}.graded", subject=f"{kind}s/{id}", data=data)


# --- the calculation that a decision on a match asks for --------------------------------------------


def compute(claimed: Calculation) -> Result:
    """Read the lateral as it is now and compute; touches no row."""
    lateral = Lateral.objects.get(pk=claimed.subject)
    return result(read(lateral), schemes.current_schemes(claimed.organisation_id))


def write(actor: Actor, claimed: Calculation, result: Result) -> None:
    """Keep the result, if the lateral is still what it was computed from."""
    hold(result.inputs)
    keep(actor, claimed, result)


def failed(actor: Actor, claimed: Calculation, error: str) -> None:
    """Say to those who follow that a lateral could not be reconciled."""
    say_failed(actor, "lateral", claimed, error)


def say_failed(actor: Actor, kind: str, claimed: Calculation, error: str) -> None:
    """Say to the trail and to those who follow that a run or lateral could not be graded."""
    id = claimed.subject
    trail.entry(actor=actor, record_type=kind, record_id=id, action="grading_failed", reason=error)
    data = {"id": str(id), "calculation": str(claimed.id), "error": error}
    subject = f"{kind}s/{id}"
    trail.event(organisation=actor.organisation, type=f"{kind}.grading_failed", subject=subject, data=data)
