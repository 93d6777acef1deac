"""Secrets of subscriptions: made from a grain of salt and the service's own secret, so that none lies in the database.

A copy of the database alone signs nothing. Whoever changes PULLBACK_SECRET_KEY rotates the secrets of all
subscriptions; deliveries say so until then.
"""

import hashlib
import secrets
import uuid
from datetime import timedelta

from django.conf import settings
from django.utils import timezone
from django.utils.crypto import salted_hmac

from inspections.models import Subscription
from inspections.outgoing import signatures


class SecretLost(Exception):
    """The service's own secret changed, and with it every secret that was made from it."""


def secret_renew(row: Subscription, *, keep_previous_s: float = 0) -> str:
    """Give an unsaved row a new secret and return it; the one before signs too, for so many seconds."""
    if row.salt and keep_previous_s:
        row.previous_salt, row.previous_sha256 = row.salt, row.secret_sha256
        row.previous_until = timezone.now() + timedelta(seconds=keep_previous_s)
    else:
        row.previous_salt, row.previous_sha256, row.previous_until = "", "", None
    row.salt = secrets.token_hex(16)
    secret = _made(row.id, row.salt, settings.SECRET_KEY)
    row.secret_sha256 = _digest(secret)
    return secret


def secrets_now(row: Subscription) -> list[str]:
    """Return the secrets that sign just now, the newest first. Raises SecretLost."""
    found = [secret_of(row)]
    if row.previous_until is not None and row.previous_until > timezone.now():
        found.append(_made_again(row.id, row.previous_salt, row.previous_sha256))
    return found


def secret_of(row: Subscription) -> str:
    """Return the newest secret. Raises SecretLost."""
    return _made_again(row.id, row.salt, row.secret_sha256)


def _made_again(id: uuid.UUID, salt: str, digest: str) -> str:
    for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS):
        secret = _made(id, salt, key)
        if secrets.compare_digest(_digest(secret), digest):
            return secret
    raise SecretLost("PULLBACK_SECRET_KEY was changed since this secret was made; rotate the subscription's secret.")


def _made(id: uuid.UUID, salt: str, key: str | bytes) -> str:
    return signatures.secret_text(salted_hmac(f"webhook {id}", salt, secret=key, algorithm="sha256").digest())


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
