"""Grade a run, reconcile its lateral from all sealed runs, grade the lateral."""

import uuid
from dataclasses import dataclass
from typing import Any

from inspections import exact_json
from inspections.actor import Actor
from inspections.models import Calculation, GradingScheme, Lateral, ReconciledLateral, Run, RunGrading
from inspections.services import trail
from inspections.services.computed import InputsChanged, Superseded
from inspections.translate import run_document, scoring_run
from scoring import RULES_VERSION, reconcile
from scoring import grading as scoring_grading
from scoring.types import Lateral as Pipe


@dataclass(frozen=True, slots=True)
class Inputs:
    """All that was read: whoever writes a result checks that it is still so."""

    run: Run
    lateral: Lateral
    scheme: GradingScheme
    sealed: tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class Result:
    """The documents to keep, beside a digest of what they follow from."""

    inputs: Inputs
    inputs_sha256: str
    lateral_sha256: str
    units: str
    run_grading: str
    lateral: str
    lateral_grading: str


def default_scheme(organisation_id: uuid.UUID) -> GradingScheme:
    """Return the scheme that grades what nobody asked another scheme for."""
    return GradingScheme.objects.get(organisation_id=organisation_id, is_default=True)


def sealed_runs(lateral: Lateral) -> tuple[Run, ...]:
    """Return all sealed runs of a lateral in a fixed order, which a second submit does not change."""
    return tuple(Run.objects.filter(lateral=lateral).exclude(state="draft").order_by("created_at", "id"))


def compute(claimed: Calculation) -> Result:
    """Read the run and its lateral's runs and compute; touches no row."""
    run = Run.objects.select_related("lateral").get(pk=claimed.subject)
    if run.content_revision != claimed.subject_revision:
        raise Superseded(by=_newest(run).id)
    if run.lateral is None:
        raise ValueError(f"run {run.id} is sealed without a lateral")
    inputs = Inputs(run, run.lateral, default_scheme(claimed.organisation_id), sealed_runs(run.lateral))
    return _result(inputs)


def _result(inputs: Inputs) -> Result:
    scheme = scoring_grading.load_scheme(exact_json.load(inputs.scheme.document))
    of_run = scoring_grading.grade(scoring_grading.inspected_from_run(scoring_run(inputs.run)), scheme)
    pipe = reconcile.reconcile([scoring_run(run) for run in inputs.sealed])
    return Result(
        inputs=inputs,
        inputs_sha256=exact_json.digest(_read(inputs, [inputs.run])),
        lateral_sha256=exact_json.digest(_read(inputs, list(inputs.sealed))),
        units=_units_of_datum(pipe, inputs),
        run_grading=exact_json.write_text(scoring_grading.grading_document(of_run)),
        lateral=exact_json.write_text(reconcile.lateral_document(pipe)),
        lateral_grading=exact_json.write_text(
            scoring_grading.grading_document(scoring_grading.grade_lateral(pipe, scheme))
        ),
    )


def _read(inputs: Inputs, runs: list[Run]) -> dict[str, Any]:
    """Return all that a result follows from, for its digest."""
    return {
        "rules_version": RULES_VERSION,
        "scheme": exact_json.load(inputs.scheme.document),
        "runs": [{"id": str(run.id), **run_document(run)} for run in runs],
    }


def _units_of_datum(pipe: Pipe, inputs: Inputs) -> str:
    return next((run.units for run in inputs.sealed if str(run.id) == pipe.datum_run), inputs.run.units)


def write(actor: Actor, claimed: Calculation, result: Result) -> None:
    """Keep the gradings, if what they were computed from is still what is there."""
    inputs = result.inputs
    lateral = Lateral.objects.select_for_update().get(pk=inputs.lateral.pk)
    run = Run.objects.only("content_revision", "lateral_id").get(pk=inputs.run.pk)
    if run.content_revision != inputs.run.content_revision:
        raise Superseded(by=_newest(run).id)
    if run.lateral_id != lateral.pk or lateral.inputs_revision != inputs.lateral.inputs_revision:
        raise InputsChanged
    common = {"organisation": actor.organisation, "calculation": claimed, "rules_version": RULES_VERSION}
    graded, is_new = RunGrading.objects.get_or_create(
        run=inputs.run,
        run_revision=inputs.run.content_revision,
        scheme=inputs.scheme,
        rules_version=RULES_VERSION,
        defaults={**common, "inputs_sha256": result.inputs_sha256, "document": result.run_grading},
    )
    if is_new:
        _noted(actor, "run", inputs.run.id, graded.id, result.inputs_sha256, inputs.run.content_revision)
    reconciled, is_new = ReconciledLateral.objects.get_or_create(
        lateral=lateral,
        inputs_revision=lateral.inputs_revision,
        scheme=inputs.scheme,
        rules_version=RULES_VERSION,
        defaults={
            **common,
            "inputs_sha256": result.lateral_sha256,
            "units": result.units,
            "document": result.lateral,
            "grading": result.lateral_grading,
        },
    )
    if is_new:
        _noted(actor, "lateral", lateral.id, reconciled.id, result.lateral_sha256, lateral.inputs_revision)


def failed(actor: Actor, claimed: Calculation, error: str) -> None:
    """Say to those who follow that a run could not be graded."""
    trail.entry(actor=actor, record_type="run", record_id=claimed.subject, action="grading_failed", reason=error)
    data = {"id": str(claimed.subject), "calculation": str(claimed.id), "error": error}
    subject = f"runs/{claimed.subject}"
    trail.event(organisation=actor.organisation, type="run.grading_failed", subject=subject, data=data)


def _newest(run: Run) -> Calculation:
    return Calculation.objects.filter(kind="grade_run", subject=run.id).latest("subject_revision", "created_at")


def _noted(actor: Actor, kind: str, id: uuid.UUID, result: uuid.UUID, sha256: str, revision: int) -> None:
    after = {"result": str(result), "inputs_sha256": sha256, "rules_version": RULES_VERSION}
    trail.entry(actor=actor, record_type=kind, record_id=id, action="graded", after=after)
    data = {"id": str(id), "inputs_sha256": sha256, "revision": revision}
    trail.event(organisation=actor.organisation, type=f"{kind}.graded", subject=f"{kind}s/{id}", data=data)
