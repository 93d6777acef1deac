"""Tokens: who a client is and what it may do; only a digest of each is kept."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from inspections.actor import Actor
from inspections.errors import Fault, Invalid, NotSignedIn
from inspections.models import ApiToken, Organisation
from inspections.queries.prepared import SAMPLE_TEXT, Prepared, columns, made
from inspections.services import trail
from inspections.services.keys import is_well_formed, key_digest, key_new
from inspections.vocabulary import SCOPES

PREFIX: Final = "pbk_"
LONGEST_LIFE: Final = timedelta(days=365)
_USE_IS_NOTED_EVERY: Final = timedelta(minutes=1)


def token_issue(*, actor: Actor, client: str, scopes: Sequence[str]) -> str:
    """Make a token for a client and return it; it is not readable again."""
    return token_make(actor=actor, client=client, scopes=scopes)[1]


def token_make(
    *, actor: Actor, client: str, scopes: Sequence[str], expires_at: datetime | None = None
) -> tuple[ApiToken, str]:
    """Make a token for a client; return its row and the token itself, which is not readable again."""
    unknown = [scope for scope in scopes if scope not in SCOPES]
    if unknown or not scopes:
        raise Invalid(
            "The scopes are not known.",
            faults=[Fault(("scopes",), "unknown_value", f"Use some of: {', '.join(SCOPES)}.")],
        )
    now = timezone.now()
    if expires_at is not None and not now < expires_at <= now + LONGEST_LIFE:
        detail = f"A token expires after now and within {LONGEST_LIFE.days} days."
        raise Invalid("The token would not be good.", faults=[Fault(("expires_at",), "not_within_a_year", detail)])
    token = key_new(PREFIX)
    with transaction.atomic():
        row = ApiToken.objects.create(
            organisation=actor.organisation,
            client=client,
            digest=key_digest(token),
            hint=token[:10],
            scopes=sorted(set(scopes)),
            expires_at=expires_at or now + LONGEST_LIFE,
        )
        after = {"client": client, "scopes": row.scopes, "hint": row.hint, "expires_at": row.expires_at}
        _noted(actor, row, "issued", before=None, after=after)
    return row, token


def token_revoke(*, actor: Actor, row: ApiToken) -> bool:
    """Shut a client out, at once and for good; False when it was shut out before."""
    now = timezone.now()
    with transaction.atomic():
        if not ApiToken.objects.filter(pk=row.pk, revoked_at=None).update(revoked_at=now):
            return False
        before, after = {"revoked_at": None}, {"revoked_at": now.isoformat()}
        _noted(actor, row, "revoked", before=before, after=after)
        return True


def _noted(actor: Actor, row: ApiToken, action: str, *, before: Any, after: Any) -> None:
    trail.entry(actor=actor, record_type="token", record_id=row.id, action=action, before=before, after=after)
    data = {"id": str(row.id), "client": row.client, "scopes": row.scopes}
    trail.event(organisation=actor.organisation, type=f"token.{action}", subject=f"tokens/{row.id}", data=data)


def token_owner(*, token: str) -> ApiToken:
    """Return the row of a valid token. Raises NotSignedIn for every other text, without saying which."""
    if not is_well_formed(PREFIX, token):
        raise NotSignedIn("This is not a token of this service; send `Authorization: Bearer pbk_...`.")
    now = timezone.now()
    row = _row(key_digest(token))
    if row is None or row.revoked_at is not None or row.expires_at <= now:
        raise NotSignedIn("The token is not valid, expired or revoked; ask for a new one.")
    if row.last_used_at is None or row.last_used_at < now - _USE_IS_NOTED_EVERY:
        stale = Q(last_used_at=None) | Q(last_used_at__lt=now - _USE_IS_NOTED_EVERY)
        ApiToken.objects.filter(stale, pk=row.pk).update(last_used_at=now)
    return row


def _row(digest: str) -> ApiToken | None:
    """Return the row of a token with its organisation: asked with every request."""
    found = _BY_DIGEST(digest)
    if not found:
        return None
    width = len(_COLUMNS)
    row = made(ApiToken, found[0][:width])
    row.organisation = made(Organisation, found[0][width:])
    return row


_COLUMNS: Final = columns(ApiToken)
_BY_DIGEST: Final = Prepared(
    lambda digest: ApiToken.objects.filter(digest=digest).values_list(
        *_COLUMNS, *(f"organisation__{name}" for name in columns(Organisation))
    ),
    SAMPLE_TEXT,
)


def organisation_named(*, name: str) -> Organisation | None:
    """Return the organisation of that name, if there is one."""
    return Organisation.objects.filter(name=name).first()
