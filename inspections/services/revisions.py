"""Who may change what they saw: PUT, PATCH and DELETE against a revision."""

from dataclasses import dataclass, field
from typing import Generic, TypeVar

from django.db import models

from inspections.errors import RevisionRequired, RevisionStale

M = TypeVar("M", bound=models.Model)


@dataclass(frozen=True, slots=True)
class Expected:
    """What If-Match said: nothing, any revision, or some."""

    is_given: bool = False
    is_any: bool = False
    revisions: frozenset[int] = field(default=frozenset())

    def hold_against(self, revision: int) -> None:
        """Raise unless the caller saw this revision."""
        if not self.is_given:
            raise RevisionRequired(f'Send If-Match: "{revision}" to change what you read at this revision.')
        if not self.is_any and revision not in self.revisions:
            raise RevisionStale(f"The record is at revision {revision}; read it again and repeat the change.")

    def hold_where_given(self, revision: int) -> None:
        """Raise where the caller named a revision and it is another one; who names none acts on what is there."""
        if self.is_given:
            self.hold_against(revision)

    def hold_against_nothing(self) -> None:
        """Raise where the caller saw a revision of what is not there: If-Match is false then (RFC 9110, 13.1.1)."""
        if self.is_given:
            raise RevisionStale("There is no such record yet; leave If-Match out to make it.")


@dataclass(frozen=True, slots=True)
class Outcome(Generic[M]):
    """The record after a change, and whether it was made or changed at all."""

    row: M
    is_new: bool = False
    is_changed: bool = False
