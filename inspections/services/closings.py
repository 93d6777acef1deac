"""Repair scopes closed after the work: a report of what was built, judged by later runs and pressure tests."""

import uuid
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from django.db import IntegrityError, transaction

from inspections import exact_json
from inspections.actor import Actor
from inspections.errors import Fault, Invalid, ReferenceTaken
from inspections.models import Calculation, Closing, Lateral, RepairScope, Run
from inspections.services import calculations, closing_inputs, comparing, laterals, trail
from inspections.services.bids import computed_scope
from inspections.services.closing_inputs import Result
from inspections.services.computed import InputsChanged
from scoring import RULES_VERSION, acceptance
from scoring.checks import CheckInputInvalid

Document = dict[str, Any]


def closing_request(*, actor: Actor, scope: RepairScope, document: Document) -> Closing:
    """Keep the report and ask for it to be judged. Raises ScopeNotComputed, and Invalid with every fault."""
    with transaction.atomic():
        faults = list(_faults(scope, document))
        if faults:
            raise Invalid("The report does not fit the scope it closes.", faults=faults)
        row = Closing(
            organisation=actor.organisation,
            source=actor.client,
            external_ref=document["external_ref"],
            repair_scope=scope,
            plan=document["plan"],
            closed_on=date.fromisoformat(document["closed_on"]),
            units=document["units"],
            written=exact_json.write_text(document),
        )
        try:
            with transaction.atomic():
                row.save(force_insert=True)
        except IntegrityError:
            return _sent_before(actor, row)
        _noted(actor, row, "requested", after=document)
        row.calculation = calculations.calculation_request(
            actor=actor, kind="close_scope", subject=row.id, subject_revision=row.revision
        )
        row.save(update_fields=["calculation"])
        return row


def _sent_before(actor: Actor, wanted: Closing) -> Closing:
    """Return the closing whose external_ref kept `wanted` from being made; with other content it is refused."""
    found = Closing.objects.get(organisation=actor.organisation, source=actor.client, external_ref=wanted.external_ref)
    if (found.repair_scope_id, found.written) != (wanted.repair_scope_id, wanted.written):
        ref = wanted.external_ref
        raise ReferenceTaken(f"external_ref {ref} already names closing {found.id}; a closing never changes.")
    return found


# --- what can be wrong in a report ------------------------------------------------------------------


def _faults(scope: RepairScope, document: Mapping[str, Any]) -> Iterator[Fault]:
    computed = computed_scope(scope)
    plans = {plan["name"]: plan["sections"] for plan in computed["plans"]}
    sections = plans.get(document["plan"])
    if not sections:
        with_work = ", ".join(name for name in plans if plans[name]) or "none"
        detail = f"The scope has no work under this plan; plans that can be closed: {with_work}."
        yield Fault(("plan",), "nothing_to_close", detail)
    else:
        yield from _section_faults(len(sections), document)
        yield from _extent_faults(sections, document)
    yield from _run_faults(scope, document)
    for number, test in enumerate(document["tests"]):
        yield from _test_faults(number, test, document)


def _section_faults(count: int, document: Mapping[str, Any]) -> Iterator[Fault]:
    seen: list[int] = []
    for number, one in enumerate(document["sections"]):
        if one["section"] > count:
            detail = f"The plan has {count} sections, counted from 1; there is no {one['section']}."
            yield Fault(("sections", number, "section"), "no_such_section", detail)
        elif one["section"] in seen:
            detail = "This section is reported above already; keep one entry a section."
            yield Fault(("sections", number, "section"), "stands_twice", detail)
        seen.append(one["section"])


def _extent_faults(sections: list[Document], document: Mapping[str, Any]) -> Iterator[Fault]:
    """A section reported by one end alone takes the other from the plan: the two must still make a stretch."""
    for number, one in enumerate(document["sections"]):
        if one["section"] > len(sections):
            continue
        built = closing_inputs.built_of(sections[one["section"] - 1], one, document["units"])
        if built.from_m > built.to_m:
            detail = "With the plan's own other end this is no stretch; send both ends as they were built."
            yield Fault(("sections", number, "to" if one["to"] is not None else "from"), "to_before_from", detail)


def _run_faults(scope: RepairScope, document: Mapping[str, Any]) -> Iterator[Fault]:
    inputs = laterals.read(scope.lateral)
    seen: list[str] = []
    for number, id in enumerate(document["runs"]):
        place = ("runs", number)
        if id in seen:
            yield Fault(place, "stands_twice", "This run is named above already; name it once.")
        seen.append(id)
        try:
            runs = comparing.runs_of(inputs, uuid.UUID(id))
        except Invalid as error:
            yield Fault(place, error.faults[0].code, error.detail)
            continue
        if any(_is_before(run, scope) for run in runs):
            detail = "This run was there when the scope was computed; name one that was made after the work."
            yield Fault(place, "run_before_scope", detail)


def _is_before(run: Run, scope: RepairScope) -> bool:
    return run.created_at < scope.created_at


def _test_faults(number: int, test: Mapping[str, Any], document: Mapping[str, Any]) -> Iterator[Fault]:
    kind = closing_inputs.kind_of(test)
    try:
        acceptance.outcome(kind, test[kind], document["units"])
    except CheckInputInvalid as refused:
        for fault in refused.faults:
            yield Fault(("tests", number, kind, *_steps(fault.path)), fault.code, fault.detail)


def _steps(pointer: str) -> tuple[str, ...]:
    return tuple(step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:])


# --- the calculation ------------------------------------------------------------------------------


def compute(claimed: Calculation) -> Result:
    """Read the lateral as it is now and judge the report; touches no row."""
    row = Closing.objects.select_related("repair_scope__lateral", "repair_scope__scheme").get(pk=claimed.subject)
    return closing_inputs.judged(row)


def write(actor: Actor, claimed: Calculation, result: Result) -> None:
    """Keep what was found, if the runs are still what it was computed from."""
    lateral = Lateral.objects.select_for_update().get(pk=result.lateral.pk)
    if lateral.inputs_revision != result.lateral.inputs_revision:
        raise InputsChanged
    scope = RepairScope.objects.select_for_update().get(closings=claimed.subject)
    row = Closing.objects.select_for_update().get(pk=claimed.subject)
    row.outcome, row.inputs_revision = result.outcome, lateral.inputs_revision
    row.inputs_sha256, row.rules_version = result.inputs_sha256, RULES_VERSION
    row.document_us, row.document_si = result.document_us, result.document_si
    row.revision += 1
    row.save()
    _noted(actor, row, "computed", after=_found(row))
    if scope.closing is None or scope.closing.created_at <= row.created_at:
        _close(actor, scope, row)


def _close(actor: Actor, scope: RepairScope, row: Closing) -> None:
    """Show the newest closing in the scope itself, and tell those who follow."""
    before = None if scope.closing is None else {"closing": str(scope.closing_id), "outcome": scope.closing.outcome}
    scope.closing = row
    scope.revision += 1
    scope.save(update_fields=["closing", "revision", "updated_at"])
    after = {"closing": str(row.id), **_found(row)}
    trail.entry(
        actor=actor, record_type="repair_scope", record_id=scope.id, action="closed", before=before, after=after
    )
    data = {"id": str(scope.id), "lateral": str(scope.lateral_id), "plan": row.plan, **after}
    subject = f"repair-scopes/{scope.id}"
    trail.event(organisation=actor.organisation, type="repair_scope.closed", subject=subject, data=data)


def _found(row: Closing) -> Document:
    return {"outcome": row.outcome, "inputs_sha256": row.inputs_sha256, "rules_version": row.rules_version}


def failed(actor: Actor, claimed: Calculation, error: str) -> None:
    """Say to those who follow that a report could not be judged."""
    row = Closing.objects.get(pk=claimed.subject)
    _noted(actor, row, "failed", after={"error": error})


def _noted(actor: Actor, row: Closing, action: str, *, after: Any) -> None:
    trail.entry(actor=actor, record_type="closing", record_id=row.id, action=action, after=after)
    data = {
        "id": str(row.id),
        "repair_scope": str(row.repair_scope_id),
        "plan": row.plan,
        "outcome": row.outcome,
        "inputs_sha256": row.inputs_sha256,
    }
    subject = f"closings/{row.id}"
    trail.event(organisation=actor.organisation, type=f"closing.{action}", subject=subject, data=data)
