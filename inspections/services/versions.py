"""Versioned data: checked as a whole when it is loaded, never changed after."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.db import transaction

from inspections import exact_json
from inspections.actor import Actor
from inspections.errors import Fault, Invalid, VersionExists
from inspections.models import CodeMap, GradingScheme, Organisation, RateBook, RuleSet
from inspections.services import trail
from inspections.services.revisions import Outcome
from scoring import codes, grading, scope


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of versioned data: its table, its address, and what checks its documents."""

    model: Any
    name: str
    path: str
    check: Callable[[Mapping[str, Any]], Any]


GRADING_SCHEME: Final = Kind(GradingScheme, "grading_scheme", "grading-schemes", grading.load_scheme)
RATE_BOOK: Final = Kind(RateBook, "rate_book", "rate-books", scope.load_rate_book)
RULE_SET: Final = Kind(RuleSet, "rule_set", "rule-sets", scope.load_rule_set)
CODE_MAP: Final = Kind(CodeMap, "code_map", "code-maps", codes.load_code_map)


def version_load(*, actor: Actor, kind: Kind, document: Mapping[str, Any], is_default: bool) -> Outcome[Any]:
    """Keep a new version. Equal content again changes nothing but, where asked, which version is the default.

    Other content under its number is refused.
    """
    _check(kind, document)
    _hold_names(document)
    document = exact_json.load(exact_json.write_text(document))
    version = _version_number(document)
    with transaction.atomic():
        # One at a time for an organisation: its default changes hands. Inserts elsewhere do not wait (no_key).
        Organisation.objects.select_for_update(no_key=True).get(pk=actor.organisation.pk)
        rows = kind.model.objects.filter(organisation=actor.organisation)
        found = rows.filter(code=document["id"], version=version).first()
        if found is not None:
            if exact_json.load(found.document) != document:
                raise VersionExists(f"Version {found.version} of {found.code} says something else; raise the version.")
            return _made_default(actor, kind, found) if is_default and not found.is_default else Outcome(found)
        if is_default:
            rows.filter(is_default=True).update(is_default=False)
        row = kind.model.objects.create(
            organisation=actor.organisation,
            source=actor.client,
            code=document["id"],
            version=version,
            title=document.get("title") or document["id"],
            document=exact_json.write_text(document),
            is_default=is_default,
        )
        _noted(actor, kind, row, document)
        return Outcome(row, is_new=True, is_changed=True)


def _made_default(actor: Actor, kind: Kind, row: Any) -> Outcome[Any]:
    """Let a version that is here already hold from now on where nobody names another."""
    rows = kind.model.objects.filter(organisation=actor.organisation, is_default=True)
    before = {"default": [str(one) for one in rows]}
    rows.update(is_default=False)
    row.is_default = True
    row.revision += 1
    row.save(update_fields=["is_default", "revision", "updated_at"])
    after = {"default": [str(row)]}
    trail.entry(
        actor=actor, record_type=kind.name, record_id=row.id, action="made_default", before=before, after=after
    )
    data = {"id": str(row.id), "code": row.code, "version": row.version}
    subject = f"{kind.path}/{row.id}"
    trail.event(organisation=actor.organisation, type=f"{kind.name}.made_default", subject=subject, data=data)
    return Outcome(row, is_changed=True)


def _hold_names(document: Mapping[str, Any]) -> None:
    """Raise Invalid for names that no column holds."""
    longest = {"id": 100, "title": 200}
    faults = [
        Fault(("document", name), "too_long", f"At most {most} characters.")
        for name, most in longest.items()
        if len(document.get(name) or "") > most
    ]
    if faults:
        raise Invalid("The document has names that are too long.", faults=faults)


def _version_number(document: Mapping[str, Any]) -> int:
    text = str(document["version"])
    if not (text.isascii() and text.isdigit() and len(text) < 9):
        detail = "A version is a whole number; the next one is one more."
        raise Invalid(detail, faults=[Fault(("document", "version"), "not_a_whole_number", detail)])
    return int(text)


def _check(kind: Kind, document: Mapping[str, Any]) -> None:
    try:
        kind.check(document)
    except (grading.SchemeInvalid, scope.RateBookInvalid, scope.RuleSetInvalid, codes.CodeMapInvalid) as error:
        faults = [_fault(fault) for fault in error.faults]
        raise Invalid("The document is not complete; each fault is named with its place.", faults=faults) from error


def _fault(found: Any) -> Fault:
    """Put a fault of scoring, whose path is a pointer into the document, into the request's own terms."""
    steps = [int(step) if step.isdecimal() else step for step in found.path.split("/") if step]
    return Fault(("document", *steps), found.code, getattr(found, "sentence", None) or found.detail)


def _noted(actor: Actor, kind: Kind, row: Any, document: Mapping[str, Any]) -> None:
    after = {"code": row.code, "version": row.version, "sha256": exact_json.digest(document)}
    trail.entry(actor=actor, record_type=kind.name, record_id=row.id, action="loaded", after=after)
    data = {"id": str(row.id), "code": row.code, "version": row.version}
    subject = f"{kind.path}/{row.id}"
    trail.event(organisation=actor.organisation, type=f"{kind.name}.loaded", subject=subject, data=data)
