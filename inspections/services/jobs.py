"""Jobs: asked for once however often they are sent; customer and property are found or made with them."""

import uuid
from collections.abc import Callable, Mapping
from typing import Any, Final

from django.db import IntegrityError, transaction

from inspections import documents, exact_json
from inspections.actor import Actor
from inspections.errors import Fault, Invalid, NotFound, ReferenceTaken, StateNotReachable
from inspections.models import Customer, Job, Property, User
from inspections.queries import find
from inspections.services import places, trail
from inspections.services.revisions import Expected, Outcome
from inspections.translate import moment

NEXT_STATES: Final[Mapping[str, frozenset[str]]] = {
    "requested": frozenset({"scheduled", "under_way", "done", "called_off"}),
    "scheduled": frozenset({"requested", "under_way", "done", "called_off"}),
    "under_way": frozenset({"done", "called_off"}),
    "done": frozenset({"under_way"}),
    "called_off": frozenset({"requested"}),
}
NOT_BEGUN: Final = frozenset({"requested", "scheduled"})


def job_request(*, actor: Actor, document: Mapping[str, Any], id: uuid.UUID | None = None) -> Outcome[Job]:
    """Make the job, or return the one this source already asked for under the same external_ref.

    Raises ReferenceTaken when that one says something else.
    """
    with transaction.atomic():
        found = _asked_before(actor, document["external_ref"])
        if found is None:
            try:
                with transaction.atomic():
                    return Outcome(_made(actor, document, id or uuid.uuid4()), is_new=True, is_changed=True)
            except IntegrityError:
                # Another request made it between the look and the insert.
                found = _asked_before(actor, document["external_ref"])
                if found is None:
                    raise
        if exact_json.load(found.written) != _without_state(document):
            raise ReferenceTaken(
                f"external_ref {document['external_ref']} already names job {found.id} with other content; "
                "change that one with PATCH or use another reference."
            )
        return Outcome(found)


def job_put(*, actor: Actor, id: uuid.UUID, document: Mapping[str, Any], expected: Expected) -> Outcome[Job]:
    """Make the job under the client's id, or replace it."""
    with transaction.atomic():
        if not Job.objects.filter(pk=id).exists():
            expected.hold_against_nothing()
            outcome = job_request(actor=actor, document=document, id=id)
            if outcome.row.id != id:
                raise ReferenceTaken(f"external_ref {document['external_ref']} already names job {outcome.row.id}.")
            return outcome
        return job_change(actor=actor, id=id, edit=lambda now: _replaced(now, document), expected=expected)


def _replaced(now: Mapping[str, Any], document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the job as it is replaced: who is not said to go there stays, as scheduling never sends it."""
    return {**document, "inspector": document.get("inspector") or now["inspector"]}


def job_change(
    *, actor: Actor, id: uuid.UUID, edit: Callable[[dict[str, Any]], dict[str, Any]], expected: Expected
) -> Outcome[Job]:
    """Change the job to what `edit` makes of its document. Equal content changes nothing."""
    with transaction.atomic():
        job = find.one(Job, actor.organisation, id, lock=True)
        before = documents.job_writable(job)
        after = edit(before)
        wanted = {**after, "state": after.get("state") or job.state}
        if wanted == before:
            return Outcome(job)
        expected.hold_against(job.revision)
        told = documents.job_told(job)
        _apply(actor, job, wanted, before)
        job.revision += 1
        job.save()
        _hold_to_customer(job, wanted, before)
        # Who follows a job by its state need not look into every change of it.
        _noted(actor, job, "changed", told, event=job.state if job.state != before["state"] else "changed")
        return Outcome(job, is_changed=True)


def job_assign(*, actor: Actor, id: uuid.UUID, inspector: User | None, expected: Expected) -> Outcome[Job]:
    """Give the job to an inspector, or take it back; a requested job becomes scheduled."""
    state = "scheduled" if inspector else "requested"

    def edit(document: dict[str, Any]) -> dict[str, Any]:
        moved = {"state": state} if document["state"] in NOT_BEGUN else {}
        return document | moved | {"inspector": inspector.username if inspector else None}

    return job_change(actor=actor, id=id, edit=edit, expected=expected)


def job_began(*, actor: Actor, job: Job) -> None:
    """Note that a run was sent in for the job."""
    if job.state not in NOT_BEGUN:
        return
    job = find.one(Job, actor.organisation, job.id, lock=True)
    if job.state in NOT_BEGUN:  # still, now that nobody else changes it
        before = documents.job_told(job)
        job.state = "under_way"
        job.revision += 1
        job.save(update_fields=["state", "revision", "updated_at"])
        _noted(actor, job, "under_way", before)


def _asked_before(actor: Actor, external_ref: str) -> Job | None:
    return Job.objects.filter(organisation=actor.organisation, source=actor.client, external_ref=external_ref).first()


def _without_state(document: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in document.items() if name not in ("state", "inspector")}


def _made(actor: Actor, document: Mapping[str, Any], id: uuid.UUID) -> Job:
    job = Job(id=id, organisation=actor.organisation, source=actor.client)
    _apply(actor, job, {"state": "requested", **document})
    job.save(force_insert=True)
    _hold_to_customer(job, document)
    _noted(actor, job, job.state, None)
    return job


def _apply(actor: Actor, job: Job, document: Mapping[str, Any], before: Mapping[str, Any] | None = None) -> None:
    """Set the job's columns. Raises Invalid when it names records that are not there."""
    _hold_to_records(actor, document)
    _move(job, document["state"] or job.state)
    window = document["window"] or {}
    job.external_ref = document["external_ref"]
    job.purpose = document["purpose"]
    job.instructions = document["instructions"]
    job.window_start, job.window_end = moment(window.get("start")), moment(window.get("end"))
    # A customer or property without a reference of its own would be made anew by every change of its job.
    if before is None or any(document[name] != before[name] for name in ("customer", "customer_id")):
        job.customer = _customer(actor, document)
    if before is None or any(document[name] != before[name] for name in ("property", "property_id")):
        job.property = _property(actor, document, job.customer)
    job.inspector = _inspector(actor, document.get("inspector"))
    job.written = exact_json.write_text(_without_state(document))


def _move(job: Job, state: str) -> None:
    if state != job.state and state not in NEXT_STATES[job.state]:
        ways = ", ".join(sorted(NEXT_STATES[job.state]))
        raise StateNotReachable(f"A job that is {job.state} cannot become {state}; it can become {ways}.")
    job.state = state


def _customer(actor: Actor, document: Mapping[str, Any]) -> Customer:
    if document["customer_id"] is not None:
        return find.one(Customer, actor.organisation, document["customer_id"])
    return places.customer_found_or_made(actor=actor, document=document["customer"])


def _property(actor: Actor, document: Mapping[str, Any], customer: Customer) -> Property:
    if document["property_id"] is not None:
        return find.one(Property, actor.organisation, document["property_id"])
    return places.property_found_or_made(actor=actor, document=document["property"], customer=customer)


def _hold_to_records(actor: Actor, document: Mapping[str, Any]) -> None:
    """Raise Invalid, naming everything at once that the job names and that is not there."""
    faults: list[Fault] = []
    for field, model in (("customer_id", Customer), ("property_id", Property)):
        try:
            if document[field] is not None:
                find.one(model, actor.organisation, document[field])
        except NotFound as error:
            faults.append(Fault((field,), "no_such_record", error.detail))
    username = document.get("inspector")
    if username is not None and _inspector(actor, username) is None:
        detail = f"There is nobody called {username} in your organisation; send the username of an inspector."
        faults.append(Fault(("inspector",), "no_such_record", detail))
    if faults:
        raise Invalid("The job names what is not there.", faults=faults)


def _inspector(actor: Actor, username: str | None) -> User | None:
    if username is None:
        return None
    return User.objects.filter(organisation=actor.organisation, username=username, is_active=True).first()


def _hold_to_customer(job: Job, document: Mapping[str, Any], before: Mapping[str, Any] | None = None) -> None:
    """Raise where a job says anew who a customer is that was erased; asked after the job holds on to its customer."""
    if document["customer"] is not None and (before is None or document["customer"] != before["customer"]):
        places.hold_not_erased(Customer.objects.get(pk=job.customer_id))


def _noted(actor: Actor, job: Job, action: str, before: Any, *, event: str | None = None) -> None:
    trail.entry(
        actor=actor,
        record_type="job",
        record_id=job.id,
        action=action,
        before=before,
        after=documents.job_told(job),
        at=job.updated_at,
    )
    data = {"id": str(job.id), "external_ref": job.external_ref, "state": job.state, "revision": job.revision}
    trail.event(organisation=actor.organisation, type=f"job.{event or action}", subject=f"jobs/{job.id}", data=data)
