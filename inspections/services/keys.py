"""Texts that open something to whoever holds them: recognisable, random, with check digits; only a digest is kept."""

import hashlib
import secrets
import zlib


def key_new(prefix: str) -> str:
    """Return a new one: 256 random bits between its prefix and its check digits."""
    secret = secrets.token_urlsafe(32)
    return f"{prefix}{secret}{_check_digits(secret)}"


def is_well_formed(prefix: str, key: str) -> bool:
    """Tell whether a text can be one, without the database: one that was mistyped or cut cannot."""
    secret, digits = key.removeprefix(prefix)[:-6], key[-6:]
    return key.startswith(prefix) and _check_digits(secret) == digits


def key_digest(key: str) -> str:
    """Return what is kept of one, and what it is found by: how long that takes says nothing about other digests."""
    return hashlib.sha256(key.encode()).hexdigest()


def _check_digits(secret: str) -> str:
    return f"{zlib.crc32(secret.encode()) & 0xFFFFFF:06x}"
