"""Signatures by Standard Webhooks, https://www.standardwebhooks.com/, version 1."""

import base64
import hashlib
import hmac
from collections.abc import Sequence
from typing import Final

SECRET_PREFIX: Final = "whsec_"


def secret_text(key: bytes) -> str:
    """Return a key as the text that receivers put into their libraries."""
    return SECRET_PREFIX + base64.b64encode(key).decode()


def signature(secret: str, *, id: str, timestamp: int, body: bytes) -> str:
    """Return `v1,` and the HMAC-SHA256 of `id.timestamp.body`. `secret` is the whsec_ text."""
    key = base64.b64decode(secret.removeprefix(SECRET_PREFIX))
    content = f"{id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.new(key, content, hashlib.sha256).digest()).decode()


def headers(secrets: Sequence[str], *, id: str, timestamp: int, body: bytes) -> dict[str, str]:
    """Return the three headers of a signed message; one signature a secret, the newest first."""
    signed = [signature(secret, id=id, timestamp=timestamp, body=body) for secret in secrets]
    return {"webhook-id": id, "webhook-timestamp": str(timestamp), "webhook-signature": " ".join(signed)}
