"""Shapes of subscriptions, deliveries and tokens: what is sent, and what is answered."""

import difflib
from collections.abc import Iterator, Mapping
from typing import Any, Final

from rest_framework import serializers as s

from inspections import vocabulary as words
from inspections.api.fields import ListOf, Moment, OneOf, Shape, Text, Whole, YesNo
from inspections.api.shapes.answers import Shown, Stamps, text, word
from inspections.errors import Fault

_PATTERNS: Final = (
    "*",
    *dict.fromkeys(f"{type.partition('.')[0]}.*" for type in words.EVENT_TYPES),
    *words.EVENT_TYPES,
)


class SubscriptionShape(Shape):
    """Who wants to be told of which events."""

    external_ref = Text(help_text="Your own key.")
    url = Text(
        required=True,
        longest=2000,
        help_text="An https address on the public internet, port 443 or 8443, without user and fragment.",
    )
    event_types = ListOf(
        child=Text(required=True, longest=81),
        least=1,
        most=50,
        help_text="Types as in the event feed, or patterns: run.submitted, run.*, *.",
    )
    is_enabled = YesNo(absent=True, help_text="True where absent.")
    description = Text(longest=2000)
    format = OneOf(words.DELIVERY_FORMATS, help_text="plain where absent.")

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        for position, pattern in enumerate(values.get("event_types") or ()):
            if pattern is not None and pattern not in _PATTERNS:
                near = difflib.get_close_matches(pattern, _PATTERNS, n=1)
                hint = f"did you mean {near[0]}?" if near else "/api/v1/ lists them; a pattern is run.* or *."
                yield Fault(("event_types", position), "not_an_event_type", f"There are no such events; {hint}")

    @classmethod
    def checked(cls, data: Any, *, at: tuple[str | int, ...] = ()) -> dict[str, Any]:
        document = super().checked(data, at=at)
        return {**document, "format": document["format"] or "plain"}


class RotationShape(Shape):
    """How a secret is replaced."""

    keep_previous_hours = Whole(
        least="0", most="168", help_text="The secret before signs too, for so long; 24 where absent."
    )


class TokenShape(Shape):
    """A token that is to be issued."""

    client = Text(required=True, longest=100, help_text="The source of every record that this token writes.")
    scopes = ListOf(child=OneOf(words.SCOPES, required=True), least=1, most=len(words.SCOPES))
    expires_at = Moment(help_text="Within a year; in a year where absent.")


class Subscription(Stamps):
    """Who is told of which events."""

    external_ref = text()
    url = s.CharField()
    event_types = s.ListField(child=s.CharField())
    is_enabled = s.BooleanField()
    description = text()
    format = word(words.DELIVERY_FORMATS)
    disabled_reason = text()
    previous_secret_until = s.DateTimeField(allow_null=True)


class SubscriptionMade(Subscription):
    """A subscription with its secret, which is shown this once."""

    secret = s.CharField(
        required=False, allow_null=True, help_text="whsec_...; only when it is made; null where that is sent again."
    )


class SubscriptionSecret(Shown):
    """A new secret, shown this once."""

    id = s.UUIDField()
    secret = s.CharField(allow_null=True, help_text="whsec_...; null where the request is sent again.")
    previous_secret_until = s.DateTimeField(allow_null=True)


class Delivery(Shown):
    """One event on its way to one receiver."""

    id = s.UUIDField()
    subscription = s.UUIDField()
    event = s.UUIDField(help_text="The webhook-id that the receiver sees, at every attempt.")
    event_type = s.CharField()
    state = word(words.DELIVERY_STATES)
    attempt = s.IntegerField()
    next_attempt_at = s.DateTimeField(allow_null=True)
    last_status = s.IntegerField(allow_null=True)
    last_error = text()
    response_excerpt = text()
    created_at = s.DateTimeField()
    updated_at = s.DateTimeField()
    finished_at = s.DateTimeField(allow_null=True)


class Token(Shown):
    """A client's token; the token itself is not readable again."""

    id = s.UUIDField()
    client = s.CharField()
    hint = s.CharField(help_text="Its first characters, to tell tokens apart.")
    scopes = s.ListField(child=word(words.SCOPES))
    created_at = s.DateTimeField()
    expires_at = s.DateTimeField()
    last_used_at = s.DateTimeField(allow_null=True)
    revoked_at = s.DateTimeField(allow_null=True)


class TokenIssued(Token):
    """A token, shown this once."""

    token = s.CharField(allow_null=True, help_text="pbk_...; null where the request is sent again.")
