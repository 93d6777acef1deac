"""Addresses of tokens."""

from datetime import datetime
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import Nothing
from inspections.api.pages import page
from inspections.api.schema import described
from inspections.api.shapes import webhook as shapes
from inspections.api.views import ResourceView, once, parsed_id
from inspections.models import ApiToken
from inspections.queries import find
from inspections.services import tokens

_ADMIN = dict.fromkeys(("GET", "POST"), "admin")


class Tokens(ResourceView):
    """All tokens of the organisation."""

    scopes_needed = _ADMIN
    parameters = frozenset({"limit", "cursor", "client"})

    @described("List tokens", answer=shapes.Tokens, page_of="tokens", filters=("client",))
    def get(self, request: Request) -> Response:
        rows = ApiToken.objects.filter(organisation=self.actor.organisation)
        return page(request, rows, documents.token, self.parameters)

    @described("Issue a token; it is shown this once", body=shapes.TokenShape, answer=shapes.TokenIssued, makes=True)
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        asked: dict[str, Any] = shapes.TokenShape.checked(request.data)
        expires_at = datetime.fromisoformat(asked["expires_at"].upper()) if asked["expires_at"] else None
        row, token = tokens.token_make(
            actor=self.actor, client=asked["client"], scopes=asked["scopes"], expires_at=expires_at
        )
        response = self.found({**documents.token(row), "token": token}, _state(row), status=201)
        response["Location"] = f"/api/v1/tokens/{row.id}"
        return response


class OneToken(ResourceView):
    """One token."""

    scopes_needed = _ADMIN

    @described("Read what a token may do", answer=shapes.Token)
    def get(self, request: Request, id: str) -> Response:
        row = find.one(ApiToken, self.actor.organisation, parsed_id(id))
        return self.found(documents.token(row), _state(row))


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
        return self.found(documents.token(row), _state(row))


def _state(row: ApiToken) -> str:
    used = row.last_used_at.timestamp() if row.last_used_at else 0
    return f"{'revoked' if row.revoked_at else 'valid'}-{used:.0f}"
