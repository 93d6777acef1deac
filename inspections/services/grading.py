"""Grade a run under every current scheme, reconcile its lateral from all sealed runs, grade the lateral."""

from dataclasses import dataclass

from inspections import exact_json
from inspections.actor import Actor
from inspections.models import Calculation, GradingScheme, Run, RunGrading
from inspections.services import laterals, schemes
from inspections.services.computed import InputsChanged, Superseded
from inspections.services.laterals import Graded
from inspections.translate import run_document, scoring_run
from scoring import RULES_VERSION
from scoring import grading as scoring_grading


@dataclass(frozen=True, slots=True)
class Result:
    """The gradings of a run to keep, the default scheme's first, and what is kept of its lateral."""

    run: Run
    gradings: tuple[Graded, ...]
    lateral: laterals.Result

    @property
    def inputs_sha256(self) -> str:
        """The digest of what the grading under the default scheme follows from."""
        return self.gradings[0].inputs_sha256


def compute(claimed: Calculation) -> Result:
    """Read the run and its lateral's runs and compute; touches no row."""
    run = Run.objects.select_related("lateral").get(pk=claimed.subject)
    if run.content_revision != claimed.subject_revision:
        raise Superseded(by=_newest(run).id)
    if run.lateral is None:
        raise ValueError(f"run {run.id} is sealed without a lateral")
    under = schemes.current_schemes(claimed.organisation_id)
    return Result(run, run_gradings(run, under), laterals.result(laterals.read(run.lateral), under))


def run_gradings(run: Run, under: tuple[GradingScheme, ...]) -> tuple[Graded, ...]:
    """Grade a sealed run under each of the schemes."""
    inspected = scoring_grading.inspected_from_run(scoring_run(run))
    read = {"rules_version": RULES_VERSION, "runs": [{"id": str(run.id), **run_document(run)}]}
    graded = []
    for scheme in under:
        grading = scoring_grading.grade(inspected, schemes.loaded(scheme))
        sha256 = exact_json.digest({**read, "scheme": exact_json.load(scheme.document)})
        graded.append(Graded(scheme, sha256, exact_json.write_text(scoring_grading.grading_document(grading))))
    return tuple(graded)


def write(actor: Actor, claimed: Calculation, result: Result) -> None:
    """Keep the gradings, if what they were computed from is still what is there."""
    inputs = result.lateral.inputs
    run = Run.objects.only("content_revision", "lateral_id").get(pk=result.run.pk)
    if run.content_revision != result.run.content_revision:
        raise Superseded(by=_newest(run).id)
    if run.lateral_id != inputs.lateral.pk:
        raise InputsChanged
    laterals.hold(inputs)
    keep(actor, claimed, result.run, result.gradings)
    laterals.keep(actor, claimed, result.lateral)


def keep(actor: Actor, claimed: Calculation, run: Run, gradings: tuple[Graded, ...]) -> None:
    """Keep the gradings of one revision of a run; what is kept already stays."""
    new = []
    for graded in gradings:
        row, is_new = RunGrading.objects.get_or_create(
            run=run,
            run_revision=run.content_revision,
            scheme=graded.scheme,
            rules_version=RULES_VERSION,
            defaults={
                "organisation": actor.organisation,
                "calculation": claimed,
                "inputs_sha256": graded.inputs_sha256,
                "document": graded.document,
            },
        )
        new += [row] if is_new else []
    if new:
        laterals.noted(actor, "run", run.id, new, run.content_revision)


def failed(actor: Actor, claimed: Calculation, error: str) -> None:
    """Say to those who follow that a run could not be graded."""
    laterals.say_failed(actor, "run", claimed, error)


def _newest(run: Run) -> Calculation:
    return Calculation.objects.filter(kind="grade_run", subject=run.id).latest("subject_revision", "created_at")
