"""The cast: two invented firms, and what their people are called."""

from __future__ import annotations

from dataclasses import dataclass

from inspections.actor import Actor
from inspections.models import Organisation
from inspections.services import organisations, tokens

EVERY_SCOPE = ("jobs:write", "runs:write", "records:read", "repair-scopes:write", "audit:read")


@dataclass(frozen=True)
class Firm:
    """An organisation and its actor."""

    organisation: Organisation
    actor: Actor

    def token(self, *scopes: str, client: str = "scheduling") -> str:
        """Return a new token; with every scope but admin unless some are named."""
        return tokens.token_issue(actor=self.actor, client=client, scopes=scopes or EVERY_SCOPE)


def firm(name: str) -> Firm:
    """Make an organisation of that name."""
    organisation = organisations.organisation_create(name=name)
    return Firm(organisation, Actor(organisation, "scheduling", "Hazel Brook", "api", "test"))
