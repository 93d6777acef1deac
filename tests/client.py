"""A client of the API as an integrator would write it: JSON in, status and JSON out."""

from __future__ import annotations

import json
import uuid
from typing import Any

from django.http import HttpResponse
from django.test import Client


class Api:
    """Speaks to the API with one token."""

    def __init__(self, token: str) -> None:
        self.http = Client(headers={"Authorization": f"Bearer {token}"})

    def get(self, path: str, **headers: str) -> HttpResponse:
        """GET a path under /api/v1."""
        return self.http.get(f"/api/v1{path}", headers=headers)

    def post(self, path: str, body: Any = None, *, key: str | None = None, **headers: str) -> HttpResponse:
        """POST a document, under a fresh Idempotency-Key unless one is given."""
        return self._send("POST", path, body, {"Idempotency-Key": key or str(uuid.uuid4()), **headers})

    def put(self, path: str, body: Any, **headers: str) -> HttpResponse:
        """PUT a document."""
        return self._send("PUT", path, body, headers)

    def patch(self, path: str, body: Any, **headers: str) -> HttpResponse:
        """PATCH with a merge patch."""
        return self._send("PATCH", path, body, headers, media="application/merge-patch+json")

    def delete(self, path: str, **headers: str) -> HttpResponse:
        """DELETE a record."""
        return self.http.delete(f"/api/v1{path}", headers=headers)

    def _send(
        self, verb: str, path: str, body: Any, headers: dict[str, str], media: str = "application/json"
    ) -> HttpResponse:
        raw = body if isinstance(body, bytes | str) else json.dumps(body)
        if body is None:
            return self.http.generic(verb, f"/api/v1{path}", headers=headers)
        return self.http.generic(verb, f"/api/v1{path}", raw, content_type=media, headers=headers)
