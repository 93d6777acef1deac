"""Signatures are those of Standard Webhooks: its published vector, and its reference library."""

from __future__ import annotations

import base64
import time

import pytest
from standardwebhooks.webhooks import Webhook, WebhookVerificationError

from inspections.outgoing import signatures

# The vector of the specification's reference implementation, github.com/standard-webhooks/standard-webhooks.
ID = "msg_p5jXN8AQM9LWM0D4loKWxJek"
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
BODY = b'{"test": 2432232314}'


def test_the_published_vector_comes_out() -> None:
    signed = signatures.signature(SECRET, id=ID, timestamp=1614265330, body=BODY)
    assert signed == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_reference_library_verifies_under_either_secret_while_rotating() -> None:
    new, old = signatures.secret_text(b"n" * 32), signatures.secret_text(b"o" * 32)
    headers = signatures.headers([new, old], id="e1", timestamp=int(time.time()), body=BODY)
    for secret in (new, old):
        assert Webhook(secret).verify(BODY, headers) == {"test": 2432232314}
    with pytest.raises(WebhookVerificationError):
        Webhook(signatures.secret_text(b"x" * 32)).verify(BODY, headers)


def test_the_reference_library_refuses_a_changed_body() -> None:
    secret = signatures.secret_text(b"n" * 32)
    headers = signatures.headers([secret], id="e1", timestamp=int(time.time()), body=BODY)
    with pytest.raises(WebhookVerificationError):
        Webhook(secret).verify(BODY + b" ", headers)


def test_a_secret_is_its_prefix_and_the_key_in_base64() -> None:
    assert base64.b64decode(signatures.secret_text(b"k" * 32).removeprefix("whsec_")) == b"k" * 32
