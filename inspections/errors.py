"""What the service refuses, named for the fact. Each error has a stable code and says what to do next."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a document: where (path of keys and positions), a code, a sentence."""

    path: tuple[str | int, ...]
    code: str
    detail: str

    @property
    def pointer(self) -> str:
        """The place as a JSON pointer (RFC 6901)."""
        return "".join(f"/{str(step).replace('~', '~0').replace('/', '~1')}" for step in self.path)


class Refused(Exception):
    """The service does not do this. Base of everything a caller can mend or must know."""

    code: ClassVar[str] = "refused"

    def __init__(self, detail: str, *, faults: Sequence[Fault] = ()) -> None:
        super().__init__(detail)
        self.detail = detail
        self.faults = tuple(faults)


class Malformed(Refused):
    """The document cannot be read as what it claims to be."""

    code = "malformed"


class Invalid(Refused):
    """The document can be read, and says something that cannot be."""

    code = "invalid"


class NotFound(Refused):
    """No such record in this organisation."""

    code = "not_found"


class CustomerErased(Refused):
    """The personal data of this customer were erased on request; they are not filled in again."""

    code = "customer_erased"


class NotGradedYet(Refused):
    """The grading does not exist yet."""

    code = "not_graded_yet"


class NotReadyYet(Refused):
    """The result does not exist yet."""

    code = "not_ready_yet"


class RunAlreadySubmitted(Refused):
    """A run is submitted once; after that it is amended."""

    code = "run_already_submitted"


class RunIsSealed(Refused):
    """A sealed run does not change by PUT, PATCH or DELETE."""

    code = "run_is_sealed"


class RunIsDraft(Refused):
    """A draft is changed directly; it needs no amendment and cannot be reviewed."""

    code = "run_is_draft"


class RunNotSubmitted(Refused):
    """Only a submitted run is accepted or returned."""

    code = "run_not_submitted"


class RunIncomplete(Refused):
    """A run lacks what grading cannot do without."""

    code = "run_incomplete"


class RevisionRequired(Refused):
    """A change needs If-Match, so that nobody overwrites what they have not seen."""

    code = "revision_required"


class RevisionStale(Refused):
    """The record changed since the caller read it."""

    code = "revision_stale"


class ReferenceTaken(Refused):
    """The caller's own key already names another record."""

    code = "external_ref_taken"


class RecordInUse(Refused):
    """Other records depend on this one."""

    code = "record_in_use"


class StateNotReachable(Refused):
    """The record cannot go from its state to the one asked for."""

    code = "state_not_reachable"


class SubscriptionDisabled(Refused):
    """Nothing is sent to a subscription that is disabled."""

    code = "subscription_disabled"


class TooManyRequests(Refused):
    """The token spent what it may in this time."""

    code = "too_many_requests"

    def __init__(self, detail: str, *, retry_after_s: int) -> None:
        super().__init__(detail)
        self.retry_after_s = retry_after_s


class TooManyExports(TooManyRequests):
    """As many exports of the organisation as may be read at once are being read."""

    code = "too_many_exports"


class VersionExists(Refused):
    """A version of a scheme, rate book or rule set never changes; load the next one."""

    code = "version_exists"


class NothingInspected(Refused):
    """No sealed run lies on the lateral, so nothing can be said of it."""

    code = "nothing_inspected"


class NothingToCompare(Refused):
    """The lateral was inspected once only, or never."""

    code = "nothing_to_compare"


class ScopeNotComputed(Refused):
    """The repair scope has no plans: it is still computed, it failed, or nothing can be planned there."""

    code = "scope_not_computed"


class KeyRequired(Refused):
    """What makes something needs an Idempotency-Key."""

    code = "idempotency_key_required"


class KeyReused(Refused):
    """The same Idempotency-Key came with another request."""

    code = "idempotency_key_reused"


class KeyInFlight(Refused):
    """The first request with this Idempotency-Key has not ended."""

    code = "idempotency_key_in_flight"


class BatchNotDone(Refused):
    """An entry of an atomic batch was refused, so none was done."""

    code = "batch_not_done"

    def __init__(self, detail: str, *, faults: Sequence[Fault], extension: dict[str, Any]) -> None:
        super().__init__(detail, faults=faults)
        self.extension = extension


class LinkEnded(Refused):
    """The link led to a report once; it has expired or was withdrawn. Ask who sent it for a new one."""

    code = "link_ended"


class NotSignedIn(Refused):
    """No valid token."""

    code = "not_signed_in"


class ScopeMissing(Refused):
    """The token lacks a scope."""

    code = "scope_missing"
