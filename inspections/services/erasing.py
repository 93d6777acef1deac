"""A customer's personal data, erased on request: from the rows, the kept answers and the trail, whose chain holds.

What was seen in the pipe, graded and priced stays: it is a record of the drain, not of the person. Where the house
stands stays too. Backups keep what they hold until they are thrown away.
"""

import uuid
from typing import Any

from django.db import connection, transaction
from django.db.models import F, Func, IntegerField, Q, Value
from django.utils import timezone

from inspections import documents, exact_json
from inspections.actor import Actor
from inspections.errors import Malformed, NotFound
from inspections.models import Customer, Job, KeptAnswer, Organisation, PersonalValue, ReportLink
from inspections.queries.personal import ERASED_NAME
from inspections.services import trail
from inspections.services.revisions import Expected, Outcome

_UNSAID = Expected()


def customer_erase(
    *, actor: Actor, id: uuid.UUID, reason: str, expected: Expected = _UNSAID
) -> Outcome[Customer] | None:
    """Erase what identifies a customer. Again changes nothing. None where the customer was taken away before."""
    with transaction.atomic():
        values = PersonalValue.objects.filter(organisation=actor.organisation, customer=id)
        _locked_jobs(actor.organisation, id)  # before the customer, as those who change a job lock them
        # FOR UPDATE, unlike everywhere else: a job that is being made for the customer waits, then finds them erased.
        mine = Customer.objects.filter(organisation=actor.organisation)
        row = mine.select_for_update(of=("self",)).filter(pk=id).first()
        if row is None and not values.exists():
            raise NotFound("There is no such customer here; check the id.")
        if row is not None and row.erased_at is not None and not values.exists():
            return Outcome(row)
        if row is not None:
            expected.hold_where_given(row.revision)
        for job in _locked_jobs(actor.organisation, id):
            _job_erased(actor, job, reason)
        _links_erased(actor, id, reason)
        _answers_erased(actor.organisation, str(id))
        _customer_erased(actor, id, row, reason)
        values.delete()
        return Outcome(row, is_changed=True) if row is not None else None


def _locked_jobs(organisation: Organisation, customer: uuid.UUID) -> list[Job]:
    rows = Job.objects.filter(organisation=organisation, customer=customer).order_by("id")
    return list(rows.select_for_update(of=("self",), no_key=True))


def _customer_erased(actor: Actor, id: uuid.UUID, row: Customer | None, reason: str) -> None:
    before: Any = {"state": "deleted"}
    if row is not None:
        before = {"erased_at": row.erased_at}
        row.name, row.email, row.phone, row.erased_at = ERASED_NAME, None, None, timezone.now()
        row.revision += 1
        row.save()
    trail.entry(
        actor=actor,
        record_type="customer",
        record_id=id,
        action="erased",
        before=before,
        after=None if row is None else {**documents.customer_writable(row), "erased_at": row.erased_at},
        reason=reason,
        at=None if row is None else row.updated_at,
    )
    data = {
        "id": str(id),
        "external_ref": row.external_ref if row else None,
        "revision": row.revision if row else None,
    }
    trail.event(organisation=actor.organisation, type="customer.erased", subject=f"customers/{id}", data=data)


def _job_erased(actor: Actor, job: Job, reason: str) -> None:
    written = exact_json.load(job.written)
    _without_person(written)
    job.written, job.instructions = exact_json.write_text(written), None
    job.revision += 1
    job.save(update_fields=["written", "instructions", "revision", "updated_at"])
    trail.entry(
        actor=actor,
        record_type="job",
        record_id=job.id,
        action="erased",
        before={"state": job.state},
        after=documents.job_told(job),
        reason=reason,
        at=job.updated_at,
    )
    data = {"id": str(job.id), "external_ref": job.external_ref, "state": job.state, "revision": job.revision}
    trail.event(organisation=actor.organisation, type="job.erased", subject=f"jobs/{job.id}", data=data)


def _links_erased(actor: Actor, id: uuid.UUID, reason: str) -> None:
    """Take the notes off the links to the customer's reports: they may say for whom a link was made."""
    for row in ReportLink.objects.filter(organisation=actor.organisation, customer=id).exclude(note=""):
        row.note = ""
        row.save(update_fields=["note"])
        trail.entry(
            actor=actor,
            record_type="report_link",
            record_id=row.id,
            action="note_erased",
            before={"has_note": True},
            after={"has_note": False},
            reason=reason,
        )


def _without_person(job: dict[str, Any]) -> None:
    job["instructions"] = None
    if isinstance(job.get("customer"), dict):
        _nameless(job["customer"])


def _nameless(customer: dict[str, Any]) -> None:
    customer["name"] = ERASED_NAME
    for name in ("email", "phone"):
        if name in customer:
            customer[name] = None


def _answers_erased(organisation: Organisation, id: str) -> None:
    """Take the customer out of the answers kept for blind retries.

    Their fingerprint goes too, for it is a digest of what was sent; without one an answer is given to any request
    that comes with its key, so that a retry still does nothing twice.
    """
    for row in KeptAnswer.objects.filter(_mentions(id), organisation=organisation):
        lines = bytes(row.body).split(b"\n")
        row.body, row.fingerprint = b"\n".join(_line_erased(line, id) for line in lines), ""
        row.save(update_fields=["body", "fingerprint"])


def _mentions(id: str) -> Q:
    """Return the condition that an answer holds this id; Django looks into no binary column."""
    needle = Value(id.encode())
    if connection.vendor == "postgresql":
        found = Func(needle, F("body"), function="position", arg_joiner=" IN ", output_field=IntegerField())
    else:
        found = Func(F("body"), needle, function="instr", output_field=IntegerField())
    return Q(pk__in=KeptAnswer.objects.annotate(found=found).filter(found__gt=0).values("pk"))


def _line_erased(line: bytes, id: str) -> bytes:
    if id.encode() not in line:
        return line
    try:
        document = exact_json.read(line)
    except Malformed:
        return b"null"  # what cannot be read cannot be cleaned
    _erase_in(document, id)
    return exact_json.write(document)


def _erase_in(value: Any, id: str) -> None:
    """Erase the customer of this id wherever an answer shows them: themselves, or in a job of theirs."""
    if isinstance(value, dict):
        if value.get("id") == id and "phone" in value:
            _nameless(value)
        customer = value.get("customer")
        if customer == id and "note" in value:
            value["note"] = None
        if isinstance(customer, dict) and customer.get("id") == id:
            value["instructions"] = None
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        _erase_in(inner, id)
