"""The whole run document of the measurements: 4 segments, 60 defects, as an inspector's client sends it."""

from __future__ import annotations

import json
import uuid
from decimal import Decimal
from typing import Any

from tests import builders

SEGMENTS, DEFECTS = 4, 60
_FINDINGS: tuple[dict[str, Any], ...] = (
    {"kind": "roots", "degree": "bundles", "at_joint": True, "clock_from": 9, "clock_to": 3},
    {"kind": "fracture", "pattern": "multiple", "clock_from": 10, "clock_to": 2.5, "width_mm": 1.5},
    {"kind": "displaced_joint", "offset": 0.75, "at_joint": True, "note": "Step at the joint, head scraped over it."},
    {"kind": "sag", "percent": 35.5, "to": True},
    {"kind": "crack", "pattern": "longitudinal", "opening": "hairline", "clock_from": 12},
    {"kind": "infiltration", "degree": "dripping", "clock_from": 2, "video_s": 312.4},
)


def whole_run(job_id: str, **changes: Any) -> dict[str, Any]:
    """Return a run of 120 ft with 4 segments and 60 defects; numbers have decimals as counters show them."""
    materials = ("vitrified_clay", "pvc", "cast_iron", "vitrified_clay")
    segments = [
        {"from": 30 * n, "to": 30 * (n + 1), "material": material, "diameter": 4}
        for n, material in enumerate(materials)
    ]
    return builders.run(
        job_id,
        counter_end=120,
        segments=segments,
        features=[],
        unseen=[],
        defects=[_defect(n) for n in range(DEFECTS)],
        **changes,
    )


def _defect(number: int) -> dict[str, Any]:
    at = Decimal(number) * Decimal("1.95") + Decimal("1.25")
    found = {"ref": f"d{number}", "at": float(at), **_FINDINGS[number % len(_FINDINGS)]}
    if found.get("to"):
        found["to"] = float(at + Decimal("1.5"))
    return found


def put_request(host: str, token: str, body: bytes) -> bytes:
    """Return a PUT of a run under a fresh id, as it goes over the wire."""
    return request("PUT", f"/api/v1/runs/{uuid.uuid4()}", host, token, body)


def request(verb: str, path: str, host: str, token: str, body: bytes = b"", **headers: str) -> bytes:
    """Return a request as it goes over the wire."""
    lines = [f"{verb} {path} HTTP/1.1", f"Host: {host}", f"Authorization: Bearer {token}"]
    lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
    if body:
        lines += ["Content-Type: application/json", f"Content-Length: {len(body)}"]
    return "\r\n".join([*lines, "", ""]).encode() + body


def encoded(document: dict[str, Any]) -> bytes:
    """Return a document as a client writes it."""
    return json.dumps(document).encode()
