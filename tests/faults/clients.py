"""Clients as they are: each request on a connection of its own, repeated under its key until it is answered."""

from __future__ import annotations

import http.client
import json
import time
import uuid
from dataclasses import dataclass
from typing import Any

BROKEN = (OSError, http.client.HTTPException)
_LONGEST_S = 30.0


@dataclass(frozen=True)
class Answer:
    """What came back, and when."""

    status: int
    headers: dict[str, str]
    body: bytes
    at: float
    took_s: float

    @property
    def document(self) -> Any:
        """The body, read."""
        return json.loads(self.body)

    @property
    def is_accepted(self) -> bool:
        """Whether the service took it upon itself."""
        return 200 <= self.status < 300

    def faults(self) -> list[str]:
        """Return how this answer breaks the shape of errors; a 2xx and a 4xx never do here."""
        if self.status < 400:
            return []
        said = f"{self.status} {self.headers.get('content-type')}: {self.body[:160]!r}"
        found = []
        if not self.headers.get("content-type", "").startswith("application/problem+json"):
            found.append(f"an error that is no problem document: {said}")
        if self.status >= 500 and (self.status != 503 or "retry-after" not in self.headers):
            found.append(f"an error that is no 503 with Retry-After: {said}")
        return found


class Client:
    """One client. What no promise allows is put on `wrong`."""

    def __init__(self, port: int, token: str, wrong: list[str]) -> None:
        self.port, self.token, self.wrong = port, token, wrong
        self.answers: list[Answer] = []
        self.breaks = 0

    def ask(self, verb: str, path: str, body: Any = None, *, key: str | None = None, **headers: str) -> Answer:
        """Send one request once. Raises one of BROKEN where no answer comes."""
        sent = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json", "Connection": "close"}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        if verb == "POST":
            sent["Idempotency-Key"] = key or str(uuid.uuid4())
        raw = None if body is None else json.dumps(body).encode()
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=_LONGEST_S)
        began = time.monotonic()
        try:
            connection.request(verb, f"/api/v1{path}", raw, sent)
            response = connection.getresponse()
            content = response.read()
        finally:
            connection.close()
        now = time.monotonic()
        kept = {name.lower(): value for name, value in response.getheaders()}
        answer = Answer(response.status, kept, content, now, now - began)
        self.answers.append(answer)
        self.wrong += answer.faults()
        return answer

    def insist(
        self, verb: str, path: str, body: Any = None, *, key: str | None = None, within: float = 60, **headers: str
    ) -> Answer:
        """Send one request again and again, under one key, until the service has taken or refused it."""
        key, until = key or str(uuid.uuid4()), time.monotonic() + within
        while True:
            try:
                answer = self.ask(verb, path, body, key=key, **headers)
            except BROKEN as error:
                self.breaks += 1
                last = repr(error)
            else:
                if answer.status < 500 and not self._is_in_flight(answer):
                    return answer
                last = f"{answer.status} {answer.body[:200]!r}"
            assert time.monotonic() < until, f"{verb} {path} was never taken within {within} s; last: {last}"
            time.sleep(0.05)

    @staticmethod
    def _is_in_flight(answer: Answer) -> bool:
        return answer.status == 409 and answer.document["code"] == "idempotency_key_in_flight"
