"""Organisations, each starting with what it needs to work: schemes, an invented rate book and rule set."""

from typing import Any

from django.db import transaction

from inspections import exact_json
from inspections.actor import Actor
from inspections.models import GradingScheme, Organisation, RateBook, RuleSet
from inspections.services import trail
from scoring import grading, scope


def organisation_create(*, name: str, through: str = "command") -> Organisation:
    """Make an organisation with the built-in schemes and the invented default rate book and rule set."""
    with transaction.atomic():
        organisation = Organisation.objects.create(name=name)
        actor = Actor(organisation=organisation, client="default", name="set-up", through=through)
        trail.entry(
            actor=actor,
            record_type="organisation",
            record_id=organisation.id,
            action="made",
            after={"name": name},
        )
        for code, document in grading.BUILT_IN_SCHEMES.items():
            _load(actor, GradingScheme, code, document, is_default=code == "open-five")
        _load(actor, RateBook, scope.DEFAULT_RATE_BOOK["id"], scope.DEFAULT_RATE_BOOK, is_default=True)
        _load(actor, RuleSet, scope.DEFAULT_RULE_SET["id"], scope.DEFAULT_RULE_SET, is_default=True)
        return organisation


def _load(actor: Actor, model: Any, code: str, document: Any, *, is_default: bool) -> None:
    row = model.objects.create(
        organisation=actor.organisation,
        code=code,
        version=document["version"],
        title=document["title"],
        document=exact_json.write_text(document),
        is_default=is_default,
    )
    after = {"code": code, "version": document["version"], "sha256": exact_json.digest(document)}
    trail.entry(actor=actor, record_type=model._meta.model_name, record_id=row.id, action="loaded", after=after)
