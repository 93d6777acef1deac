"""Addresses of tokens."""

from datetime import datetime
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Nothing
from inspections.api.reading import Many, One, Reading, lists
from inspections.api.reading import reads as reading_one
from inspections.api.schema import described
from inspections.api.shapes import examples, reads
from inspections.api.shapes import webhook as shapes
from inspections.api.views import ResourceView, once, parsed_id
from inspections.models import ApiToken
from inspections.queries import find
from inspections.services import tokens

_ADMIN = dict.fromkeys(("GET", "POST"), "admin")


TOKENS = Reading(
    called="tokens",
    shape=reads.Token,
    rows=lambda organisation, expanded: ApiToken.objects.filter(organisation=organisation),
    document=lambda view, row: documents.token(row),
    filters={"client": "client", "created_after": "created_at__gt", "created_before": "created_at__lt"},
    is_covered=False,
)


class Tokens(Many):
    """All tokens of the organisation."""

    scopes_needed = _ADMIN
    reading = TOKENS

    @lists(TOKENS, "List tokens")
    def get(self, request: Request) -> Response:
        return self.page(request)

    @described(
        "Issue a token; it is shown this once",
        body=shapes.TokenShape,
        answer=shapes.TokenIssued,
        makes=True,
        examples=examples.shown("A reader", examples.TOKEN),
    )
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        asked: dict[str, Any] = shapes.TokenShape.checked(request.data)
        expires_at = datetime.fromisoformat(asked["expires_at"].upper()) if asked["expires_at"] else None
        row, token = tokens.token_make(
            actor=self.actor, client=asked["client"], scopes=asked["scopes"], expires_at=expires_at
        )
        response = self.found({**documents.token(row), "token": token}, self.tag(documents.token(row)), status=201)
        response["Location"] = f"/api/v1/tokens/{row.id}"
        return response


class OneToken(One):
    """One token."""

    scopes_needed = _ADMIN
    reading = TOKENS

    @reading_one(TOKENS, "Read what a token may do")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)


class TokenRevocation(ResourceView):
    """The end of a token."""

    scopes_needed = _ADMIN

    @described("Revoke a token: its next request is refused", answer=shapes.Token, acts=True)
    @once
    def post(self, request: Request, id: str) -> Response:
        Nothing.checked(request.data)
        row = find.one(ApiToken, self.actor.organisation, parsed_id(id))
        tokens.token_revoke(actor=self.actor, row=row)
        row.refresh_from_db()
        document = documents.token(row)
        return self.found(document, self.tag(document))
