"""Organisations, each starting with what it needs to work: schemes, an invented rate book and rule set."""

from django.db import transaction

from inspections.actor import Actor
from inspections.models import Organisation
from inspections.services import trail
from inspections.services.versions import GRADING_SCHEME, RATE_BOOK, RULE_SET, version_load
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
            version_load(actor=actor, kind=GRADING_SCHEME, document=document, is_default=code == "open-five")
        version_load(actor=actor, kind=RATE_BOOK, document=scope.DEFAULT_RATE_BOOK, is_default=True)
        version_load(actor=actor, kind=RULE_SET, document=scope.DEFAULT_RULE_SET, is_default=True)
        return organisation
