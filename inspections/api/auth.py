"""Who calls: a bearer token becomes an Actor; a view says which scope it needs."""

from typing import Any, Final

from rest_framework.authentication import BaseAuthentication
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from inspections.actor import Actor
from inspections.errors import NotSignedIn, ScopeMissing
from inspections.models import ApiToken
from inspections.services import tokens

ANY_TOKEN: Final = "any"  # instead of a scope: the address needs none, what it leads to does


class Caller:
    """What DRF calls the user: the actor behind a token, and its scopes."""

    is_authenticated = True

    def __init__(self, row: ApiToken, request_id: str) -> None:
        self.scopes = frozenset(row.scopes)
        self.actor = Actor(
            organisation=row.organisation,
            client=row.client,
            name=f"token {row.hint} ({row.client})",
            through="api",
            request_id=request_id,
        )


class TokenAuthentication(BaseAuthentication):
    """Reads `Authorization: Bearer <token>`."""

    def authenticate(self, request: Request) -> tuple[Caller, ApiToken] | None:
        known: tuple[Caller, ApiToken] | None = getattr(request._request, "caller", None)
        if known is not None:  # an entry of a batch, whose token was read once for all
            return known
        header = request.headers.get("Authorization", "")
        if not header:
            return None
        word, _, token = header.partition(" ")
        if word.lower() != "bearer":
            raise NotSignedIn("Send the token as `Authorization: Bearer pbk_...`.")
        row = tokens.token_owner(token=token.strip())
        return Caller(row, getattr(request._request, "request_id", "")), row

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="pullback"'


def scope_needed(view: Any, method: str) -> str:
    """Return the scope that a method of a view needs; reading needs `records:read` unless the view says otherwise."""
    return str(view.scopes_needed.get("GET" if method == "HEAD" else method, "records:read"))


class HasScope(BasePermission):
    """Lets a request through when its token carries the scope that the view's method names.

    `admin` opens every door.
    """

    def has_permission(self, request: Request, view: Any) -> bool:
        needed = scope_needed(view, str(request.method))
        if not isinstance(request.user, Caller):
            raise NotSignedIn("This needs a token; send `Authorization: Bearer pbk_...`.")
        if needed != ANY_TOKEN and needed not in request.user.scopes and "admin" not in request.user.scopes:
            raise ScopeMissing(f"The token lacks the scope {needed}; ask for a token that carries it.")
        return True
