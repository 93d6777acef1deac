"""Repair scopes: asked for with a policy, computed from the lateral as it is then."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from inspections import exact_json
from inspections.actor import Actor
from inspections.errors import Fault, Invalid, NothingInspected
from inspections.models import Calculation, GradingScheme, Lateral, RateBook, RepairScope, RuleSet, Run, Site
from inspections.models.rules import Versioned
from inspections.queries import find
from inspections.services import calculations, laterals, schemes, trail
from inspections.services.computed import InputsChanged
from inspections.services.laterals import sealed_runs
from inspections.translate import length, scoring_site
from scoring import RULES_VERSION, scope
from scoring import grading as scoring_grading
from scoring.types import Policy


@dataclass(frozen=True, slots=True)
class Result:
    """A scope in both unit systems, with what it was computed from."""

    lateral: Lateral
    inputs_sha256: str
    document_us: str
    document_si: str


def scope_request(
    *, actor: Actor, lateral_id: uuid.UUID, document: Mapping[str, Any], id: uuid.UUID | None = None
) -> RepairScope:
    """Ask for a scope of a lateral. Raises NothingInspected when no sealed run lies on it."""
    with transaction.atomic():
        lateral = find.one(Lateral, actor.organisation, lateral_id)
        if not sealed_runs(lateral):
            raise NothingInspected("No submitted run lies on this lateral; submit one, then ask for a scope.")
        row = RepairScope(
            id=id or uuid.uuid4(),
            organisation=actor.organisation,
            source=actor.client,
            lateral=lateral,
            policy=exact_json.write_text(document),
            units=document["units"] or _usual_units(lateral),
            **_versions_named(actor, lateral, document),
        )
        row.save(force_insert=True)
        row.calculation = calculations.calculation_request(
            actor=actor, kind="repair_scope", subject=row.id, subject_revision=row.revision
        )
        row.save(update_fields=["calculation"])
        _noted(actor, row, "requested", after={"lateral": str(lateral.id), **document})
        return row


def _usual_units(lateral: Lateral) -> str:
    latest = lateral.reconciled.order_by("-inputs_revision", "-created_at").first()
    return latest.units if latest else sealed_runs(lateral)[0].units


def _versions_named(actor: Actor, lateral: Lateral, document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the scheme, rate book and rule set a request names, or those that hold where it names none."""
    faults: list[Fault] = []
    policy = document["policy"]
    chosen = {
        "scheme": _version(GradingScheme, actor, policy["scheme"], ("policy", "scheme"), faults),
        "rate_book": _version(RateBook, actor, document["rate_book"], ("rate_book",), faults),
        "rule_set": _version(RuleSet, actor, document["rule_set"] or lateral.property.rule_set, ("rule_set",), faults),
    }
    if faults:
        raise Invalid("The request names what is not there.", faults=faults)
    _hold_grade_to_scheme(chosen["scheme"], policy["fix_from_grade"])
    _hold_programmes_to_rules(chosen["rule_set"], policy["programmes_paid"] or ())
    return chosen


def _version(
    model: Any, actor: Actor, named: str | None, path: tuple[str, ...], faults: list[Fault]
) -> Versioned | None:
    """Return what is named by id or by code (its newest version), or the default."""
    rows = model.objects.filter(organisation=actor.organisation)
    if named is None:
        return rows.get(is_default=True)  # type: ignore[no-any-return] # a row of the model asked for
    row = _by_id(rows, named) or rows.filter(code=named).order_by("-version").first()
    if row is None:
        known = ", ".join(sorted(set(rows.values_list("code", flat=True))))
        faults.append(Fault(path, "no_such_record", f"There is no {named} here; known are {known}."))
    return row  # type: ignore[no-any-return] # same


def _by_id(rows: Any, named: str) -> Any:
    try:
        return rows.filter(pk=uuid.UUID(named)).first()
    except ValueError:
        return None


def _hold_grade_to_scheme(scheme: Any, grade: int) -> None:
    loaded = schemes.loaded(scheme)
    least, most = sorted((loaded.best, loaded.worst))
    if not least <= grade <= most:
        detail = f"The scheme {scheme.code} grades from {least} to {most}; {grade} is none of them."
        raise Invalid(detail, faults=[Fault(("policy", "fix_from_grade"), "grade_not_in_scheme", detail)])


def _hold_programmes_to_rules(rule_set: Any, paid: Sequence[Mapping[str, str]]) -> None:
    known = [one.id for one in scope.load_rule_set(exact_json.load(rule_set.document)).programmes] if paid else []
    faults = [
        Fault(
            ("policy", "programmes_paid", number, "programme"),
            "no_such_programme",
            f"The rule set {rule_set.code} has no programme {one['programme']}; it has {', '.join(known) or 'none'}.",
        )
        for number, one in enumerate(paid)
        if one["programme"] not in known
    ]
    if faults:
        raise Invalid("A programme that is said to have paid is not in the rule set.", faults=faults)


def compute(claimed: Calculation) -> Result:
    """Read the lateral as it is now and compute; touches no row."""
    row = RepairScope.objects.select_related("lateral", "scheme", "rate_book", "rule_set").get(pk=claimed.subject)
    inputs = laterals.read(row.lateral)
    site = Site.objects.get(lateral=row.lateral)
    scheme = schemes.loaded(row.scheme)
    request = exact_json.load(row.policy)
    pipe = laterals.reconciled(inputs)
    planned = scope.plan(
        pipe,
        scoring_grading.grade_lateral(pipe, scheme).findings,
        scoring_site(site),
        policy_of(request["policy"], row),
        scope.load_rate_book(exact_json.load(row.rate_book.document)),
        scope.load_rule_set(exact_json.load(row.rule_set.document)),
        as_of=_day_of_latest(inputs.sealed),
        is_higher_worse=scheme.worst > scheme.best,
    )
    return Result(
        lateral=row.lateral,
        inputs_sha256=exact_json.digest(_read(row, site, inputs)),
        document_us=exact_json.write_text(scope.scope_document(planned, "us")),
        document_si=exact_json.write_text(scope.scope_document(planned, "si")),
    )


def policy_of(document: Mapping[str, Any], row: RepairScope) -> Policy:
    """Return a policy in scoring's own words; what was not said is the house rule of `Policy`."""
    said: dict[str, Any] = {"fix_from_grade": document["fix_from_grade"], "scheme": row.scheme.code}
    if document["margin"] is not None:
        said["margin_m"] = length(document["margin"], row.units)  # type: ignore[arg-type] # holds only units
    for name in ("methods", "dig_allowed_in"):
        if document[name] is not None:
            said[name] = tuple(document[name])
    if document["horizon_years"] is not None:
        said["horizon_years"] = document["horizon_years"]
    if document["discount_percent"] is not None:
        said["discount_percent"] = Decimal(document["discount_percent"])
    paid = document.get("programmes_paid") or ()  # scopes asked for before there was such a field have none
    said["programmes_paid_on"] = tuple((one["programme"], one["paid_on"]) for one in paid)
    return Policy(**said)


def _day_of_latest(runs: tuple[Run, ...]) -> str:
    """Return the day of the latest inspection: dates of a scope count from what was seen, not from now."""
    return max(run.started_at or run.created_at for run in runs).date().isoformat()


def _read(row: RepairScope, site: Site, inputs: laterals.Inputs) -> dict[str, Any]:
    return {
        **laterals.follows_from(inputs),
        "request": exact_json.load(row.policy),
        "units": row.units,
        "scheme": exact_json.load(row.scheme.document),
        "rate_book": exact_json.load(row.rate_book.document),
        "rule_set": exact_json.load(row.rule_set.document),
        "site": exact_json.load(site.written),
        "as_of": _day_of_latest(inputs.sealed),
    }


def write(actor: Actor, claimed: Calculation, result: Result) -> None:
    """Keep the scope, if the lateral is still what it was computed from."""
    lateral = Lateral.objects.select_for_update().get(pk=result.lateral.pk)
    read = (result.lateral.inputs_revision, result.lateral.site_revision)
    if (lateral.inputs_revision, lateral.site_revision) != read:
        raise InputsChanged
    row = RepairScope.objects.select_for_update().get(pk=claimed.subject)
    row.inputs_revision, row.site_revision = read
    row.inputs_sha256 = result.inputs_sha256
    row.document_us, row.document_si = result.document_us, result.document_si
    row.revision += 1
    row.save()
    _noted(actor, row, "computed", after={"inputs_sha256": result.inputs_sha256, "rules_version": RULES_VERSION})


def failed(actor: Actor, claimed: Calculation, error: str) -> None:
    """Say to those who follow that a scope could not be computed."""
    row = RepairScope.objects.get(pk=claimed.subject)
    _noted(actor, row, "failed", after={"error": error})


def _noted(actor: Actor, row: RepairScope, action: str, *, after: Any) -> None:
    trail.entry(actor=actor, record_type="repair_scope", record_id=row.id, action=action, after=after)
    data = {"id": str(row.id), "lateral": str(row.lateral_id), "inputs_sha256": row.inputs_sha256}
    subject = f"repair-scopes/{row.id}"
    trail.event(organisation=actor.organisation, type=f"repair_scope.{action}", subject=subject, data=data)
