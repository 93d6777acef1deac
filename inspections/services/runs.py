"""Runs: drafts that may lack anything, sealed records that change only by amendment."""

import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from inspections import exact_json
from inspections.actor import Actor
from inspections.errors import (
    Fault,
    Invalid,
    NotFound,
    ReferenceTaken,
    RunAlreadySubmitted,
    RunIncomplete,
    RunIsDraft,
    RunIsSealed,
    RunNotSubmitted,
)
from inspections.models import Amendment, Calculation, Job, Lateral, Run
from inspections.queries import find
from inspections.queries.prepared import SAMPLE_IDS, Prepared, columns, made
from inspections.services import calculations, jobs, tables, trail
from inspections.services.revisions import Expected, Outcome
from inspections.services.run_problems import problems_of
from inspections.translate import PART_MODELS, run_columns, run_document, run_rows

Document = dict[str, Any]
_UNSAID: Final = Expected()
SEALED: Final = frozenset({"submitted", "accepted", "returned"})


def run_put(*, actor: Actor, id: uuid.UUID, document: Document, expected: Expected) -> Outcome[Run]:
    """Make the run under the client's id, or replace the draft; equal content again changes nothing."""
    with transaction.atomic():
        is_there = expected.is_given and Run.objects.filter(pk=id).exists()
        if not is_there:
            expected.hold_against_nothing()
            outcome = _created(actor, document, id)
            if outcome.row.id != id:
                raise ReferenceTaken(f"external_ref {document['external_ref']} already names run {outcome.row.id}.")
            if outcome.is_new:
                return outcome
        return run_change(actor=actor, id=id, edit=lambda _: document, expected=expected)


def run_create(*, actor: Actor, document: Document, id: uuid.UUID | None = None) -> Outcome[Run]:
    """Make a draft, or return the run this source already sent under the same id or external_ref.

    Raises ReferenceTaken when that one says something else.
    """
    with transaction.atomic():
        return _created(actor, document, id or uuid.uuid4())


def _created(actor: Actor, document: Document, id: uuid.UUID) -> Outcome[Run]:
    run = Run(id=id, organisation=actor.organisation, source=actor.client)
    document = _resolved(actor, run, document)
    _set_columns(run, document)
    if not _begun(actor, run, document):
        return Outcome(_sent_before(actor, run.id, document))
    _write_parts(run, document)
    return Outcome(run, is_new=True, is_changed=True)


def _begun(actor: Actor, run: Run, document: Document) -> bool:
    """Insert a new run, after its job has begun if this is its first; False, and no job begins, where it is there."""
    if run.job.state not in jobs.NOT_BEGUN:
        return _inserted(actor, run, document)
    with transaction.atomic():
        jobs.job_began(actor=actor, job=run.job)
        is_new = _inserted(actor, run, document)
        transaction.set_rollback(not is_new)
    return is_new


def _inserted(actor: Actor, run: Run, document: Document) -> bool:
    told = _event_data(run)
    return trail.begun(actor=actor, row=run, record_type="run", action="created", after=document, data=told)


def _sent_before(actor: Actor, id: uuid.UUID, document: Document) -> Run:
    """Return the run whose id or external_ref kept a new one from being made."""
    same_id = Run.objects.filter(organisation=actor.organisation, pk=id).first()
    if same_id is not None:
        return same_id
    ref = document["external_ref"]
    found = Run.objects.filter(organisation=actor.organisation, source=actor.client, external_ref=ref).first()
    if ref is None or found is None:
        raise NotFound("There is no such run here; check the id.")
    if run_document(found) != document:
        raise ReferenceTaken(f"external_ref {ref} already names run {found.id} with other content; change that one.")
    return found


def run_change(
    *, actor: Actor, id: uuid.UUID, edit: Callable[[Document], Document], expected: Expected
) -> Outcome[Run]:
    """Change a draft to what `edit` makes of its document. Raises RunIsSealed when it is none any more."""
    with transaction.atomic():
        run = find.one(Run, actor.organisation, id, lock=True)
        before = run_document(run)
        after = _resolved(actor, run, edit(before))
        if after == before:
            return Outcome(run)
        if run.state in SEALED:
            raise RunIsSealed(
                "The run is sealed; send what changes with its reason to /amendments, it keeps what stood before."
            )
        expected.hold_against(run.revision)
        run.revision += 1
        run.content_revision = run.revision
        _rewrite(run, after)
        _noted(actor, run, "changed", before=before, after=after)
        return Outcome(run, is_changed=True)


def run_delete(*, actor: Actor, id: uuid.UUID, expected: Expected) -> None:
    """Take a draft away; the trail keeps what it said."""
    with transaction.atomic():
        run = find.one(Run, actor.organisation, id, lock=True)
        if run.state in SEALED:
            raise RunIsSealed("The run is sealed and stays; amend it, or return it with reasons.")
        expected.hold_against(run.revision)
        before = {**run_document(run), "created_at": run.created_at}
        run.delete()
        run.id = id
        _noted(actor, run, "deleted", before=before, after=None)


def run_submit(*, actor: Actor, id: uuid.UUID, expected: Expected = _UNSAID) -> tuple[Run, Calculation]:
    """Seal the run and ask for its grading. A returned run is submitted again after its amendment."""
    with transaction.atomic():
        run = find.one(Run, actor.organisation, id, lock=True)
        if run.state in ("submitted", "accepted"):
            raise RunAlreadySubmitted("The run is submitted already; changes go to /amendments, with a reason.")
        expected.hold_where_given(run.revision)
        document = run_document(run)
        stopping = [problem.fault for problem in problems_of(document) if problem.stops_submit]
        if stopping:
            raise RunIncomplete("The run cannot be graded yet; add what is missing, then submit.", faults=stopping)
        if run.state == "returned" and run.reviewed_at and not _amended_since_review(run):
            raise RunAlreadySubmitted("The run was returned; amend what the reasons name, then submit again.")
        was = run.state
        run.state, run.submitted_at = "submitted", timezone.now()
        run.revision += 1
        run.save()
        # The amendments of a returned run were sealed content already and asked for their own grading.
        calculation = _sealed_content_changed(actor, run) if was == "draft" else _grading_asked(actor, run)
        _noted(actor, run, "submitted", before={"state": was}, after=_said(run))
        return run, calculation


def run_amend(
    *,
    actor: Actor,
    id: uuid.UUID,
    reason: str,
    changes: Document,
    check: Callable[[Document], Document],
    expected: Expected = _UNSAID,
) -> tuple[Amendment, Calculation]:
    """Change a sealed run, with the reason; what stood before stays readable. It is graded again."""
    with transaction.atomic():
        run = find.one(Run, actor.organisation, id, lock=True)
        if run.state not in SEALED:
            raise RunIsDraft("The run is a draft; change it with PUT or PATCH.")
        expected.hold_where_given(run.revision)
        before = run_document(run)
        was_on: Any = run.lateral_id
        after = _resolved(actor, run, check(before))
        if after == before:
            raise Invalid("The amendment changes nothing; send what is different.", faults=[_same_content()])
        stopping = [problem.fault for problem in problems_of(after) if problem.stops_submit]
        if stopping:
            placed = [Fault(("changes", *fault.path), fault.code, fault.detail) for fault in stopping]
            raise RunIncomplete("The amended run could not be graded; keep what it needs.", faults=placed)
        run.revision += 1
        run.content_revision = run.revision
        _rewrite(run, after)
        amendment = _amendment(actor, run, reason, changes, before)
        if was_on != run.lateral_id:
            _run_gone_from(actor, was_on)
        calculation = _sealed_content_changed(actor, run)
        _noted(actor, run, "amended", before=before, after=after, reason=reason)
        return amendment, calculation


def run_review(
    *, actor: Actor, id: uuid.UUID, verdict: str, reasons: Sequence[str] = (), expected: Expected = _UNSAID
) -> Run:
    """Accept a submitted run, or return it with reasons."""
    with transaction.atomic():
        run = find.one(Run, actor.organisation, id, lock=True)
        if run.state != "submitted":
            raise RunNotSubmitted(f"The run is {run.state}; only a submitted run is accepted or returned.")
        expected.hold_where_given(run.revision)
        run.state, run.reviewed_at, run.review_reasons = verdict, timezone.now(), list(reasons)
        run.revision += 1
        run.save()
        _noted(
            actor,
            run,
            verdict,
            before={"state": "submitted"},
            after=_said(run),
            reason="; ".join(reasons),
        )
        return run


def _same_content() -> Fault:
    return Fault(("changes",), "no_change", "This is what the record says already.")


def _amended_since_review(run: Run) -> bool:
    return Amendment.objects.filter(run=run, created_at__gt=run.reviewed_at).exists()


def _amendment(actor: Actor, run: Run, reason: str, changes: Document, before: Document) -> Amendment:
    return Amendment.objects.create(
        organisation=actor.organisation,
        source=actor.client,
        run=run,
        reason=reason,
        changes=exact_json.write_text(changes),
        before=exact_json.write_text(before),
        run_revision=run.revision,
        by=actor.name,
    )


def _resolved(actor: Actor, run: Run, document: Mapping[str, Any]) -> Document:
    """Set the records a document names on the run. Raises Invalid, naming each that is not there."""
    faults: list[Fault] = []
    job = _named(Job, actor, "job", document, faults)
    lateral = _named(Lateral, actor, "lateral", document, faults)
    if job is not None and document["lateral"] is None:
        lateral = _only_lateral(job)
    if job is not None and lateral is not None and lateral.property_id != job.property_id:
        detail = "This lateral belongs to another property than the job; name one of the job's."
        faults.append(Fault(("lateral",), "lateral_of_other_property", detail))
    if faults or job is None:
        raise Invalid("The run names records that are not there.", faults=faults)
    run.job, run.lateral = job, lateral
    return {**document, "lateral": str(lateral.id) if lateral else None}


def _named(model: Any, actor: Actor, field: str, document: Mapping[str, Any], faults: list[Fault]) -> Any:
    if document[field] is None:
        return None
    try:
        return find.one(model, actor.organisation, document[field])
    except NotFound as error:
        faults.append(Fault((field,), "no_such_record", error.detail))
        return None


def _only_lateral(job: Job) -> Lateral | None:
    laterals = _LATERALS(job.property_id)
    return made(Lateral, laterals[0]) if len(laterals) == 1 else None


_LATERALS: Final = Prepared(
    lambda place: Lateral.objects.filter(property=place).values_list(*columns(Lateral))[:2], SAMPLE_IDS[0]
)


def _rewrite(run: Run, document: Document) -> None:
    try:
        with transaction.atomic():
            _set_columns(run, document)
            run.save()
    except IntegrityError as error:
        raise ReferenceTaken(f"external_ref {document['external_ref']} already names another run.") from error
    for model in PART_MODELS.values():
        model._default_manager.filter(run=run).delete()
    _write_parts(run, document)


def _set_columns(run: Run, document: Document) -> None:
    for name, value in run_columns(document).items():
        setattr(run, name, value)


def _write_parts(run: Run, document: Document) -> None:
    for model, names, entries in run_rows(run, document):
        tables.add(model, names, entries)


def _sealed_content_changed(actor: Actor, run: Run) -> Calculation:
    """Say to everything computed from this lateral that its inputs are new, and ask for the grading."""
    lateral: Any = run.lateral_id
    Lateral.objects.filter(pk=lateral).update(inputs_revision=F("inputs_revision") + 1)
    return _grading_asked(actor, run)


def _run_gone_from(actor: Actor, lateral_id: uuid.UUID) -> None:
    Lateral.objects.filter(pk=lateral_id).update(inputs_revision=F("inputs_revision") + 1)
    now = Lateral.objects.only("inputs_revision").get(pk=lateral_id).inputs_revision
    calculations.calculation_request(actor=actor, kind="reconcile_lateral", subject=lateral_id, subject_revision=now)


def _grading_asked(actor: Actor, run: Run) -> Calculation:
    return calculations.calculation_request(
        actor=actor, kind="grade_run", subject=run.id, subject_revision=run.content_revision
    )


def _said(run: Run) -> Document:
    """Return what the trail keeps of a change that leaves the content as it is."""
    said = {"state": run.state, "submitted_at": run.submitted_at}
    return {**said, "reviewed_at": run.reviewed_at, "review_reasons": run.review_reasons}


def _noted(actor: Actor, run: Run, action: str, *, before: Any, after: Any, reason: str = "") -> None:
    trail.entry(
        actor=actor,
        record_type="run",
        record_id=run.id,
        action=action,
        before=before,
        after=after,
        reason=reason,
        at=None if after is None else run.updated_at,
    )
    subject = f"runs/{run.id}"
    trail.event(organisation=actor.organisation, type=f"run.{action}", subject=subject, data=_event_data(run))


def _event_data(run: Run) -> Document:
    return {"id": str(run.id), "job": str(run.job_id), "state": run.state, "revision": run.revision}
