"""What the measured work is held against: bare WSGI handlers that do the database's part of it and nothing else.

They check nothing, know nobody and keep no promise; they run under the same server on the same database.
"""

from __future__ import annotations

import os
import threading
import uuid
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import msgspec
import psycopg

Environ = dict[str, Any]
Start = Callable[[str, list[tuple[str, str]]], object]
_decode = msgspec.json.Decoder(float_hook=Decimal).decode
_encode = msgspec.json.Encoder(decimal_format="number").encode
_FOOT = Decimal("0.3048")
_INCH = Decimal("25.4")
_local = threading.local()

COLUMNS = {
    "run": (
        "id source external_ref created_at updated_at revision state written units direction recorded access_kind"
        " access_label counter_start_m counter_end_m reached stopped_by started_at ended_at inspector"
        " content_revision review_reasons job_id lateral_id organisation_id"
    ),
    "segment": "run_id position written from_m to_m material diameter_mm joint_spacing_m",
    "defect": (
        "run_id position written ref kind pattern at_m to_m at_joint clock_from clock_to degree opening width_mm"
        " offset_mm gap_mm percent thickness_mm soil_seen void_seen note"
    ),
    "auditentry": (
        "organisation_id record_type record_id number at actor through request_id action reason before after"
        " previous_hash hash"
    ),
    "audithead": "record_type record_id number hash",
    "event": "organisation_id id transaction type time subject data",
}
_HEAD = ("job lateral external_ref units start_access direction recorded counter_start counter_end reached stopped_by"
         " camera conditions started_at ended_at inspector").split()  # fmt: skip
_WHOLE = """
SELECT json_build_object('id', r.id, 'state', r.state, 'revision', r.revision, 'created_at', r.created_at,
    'updated_at', r.updated_at, 'submitted_at', r.submitted_at, 'head', r.written::json,
    'segments', (SELECT json_agg(s.written::json ORDER BY s.position) FROM inspections_segment s WHERE s.run_id = r.id),
    'defects', (SELECT json_agg(d.written::json ORDER BY d.position) FROM inspections_defect d WHERE d.run_id = r.id)
)::text FROM inspections_run r WHERE r.id = %s
"""


def application(environ: Environ, start: Start) -> Iterable[bytes]:
    """Answer a PUT of a run, a GET of a run, or say that the server stands."""
    path = environ["PATH_INFO"]
    if environ["REQUEST_METHOD"] == "PUT":
        body = _put(path.rpartition("/")[2], environ["wsgi.input"].read(int(environ["CONTENT_LENGTH"])))
        start("201 Created", [("Content-Type", "application/json"), ("Content-Length", str(len(body)))])
        return [body]
    body = b"{}" if path == "/readyz" else _get(path.rpartition("/")[2])
    start("200 OK", [("Content-Type", "application/json"), ("Content-Length", str(len(body)))])
    return [body]


def _connection() -> psycopg.Connection[Any]:
    if not hasattr(_local, "connection"):
        _local.connection = psycopg.connect(os.environ["PULLBACK_DATABASE_URL"])
        _local.connection.prepare_threshold = 2
        job = "SELECT organisation_id, property_id FROM inspections_job LIMIT 1"
        organisation, place = _local.connection.execute(job).fetchone()
        lateral = "SELECT id FROM inspections_lateral WHERE property_id = %s"
        _local.known = str(organisation), str(_local.connection.execute(lateral, [place]).fetchone()[0])
        _local.connection.commit()
    return _local.connection  # type: ignore[no-any-return] # set above


def _get(id: str) -> bytes:
    connection = _connection()
    body: bytes = connection.execute(_WHOLE, [id]).fetchone()[0].encode()  # type: ignore[index] # it is there
    connection.commit()
    return body


def _put(id: str, raw: bytes) -> bytes:
    document = _decode(raw)
    connection = _connection()
    organisation, lateral = _local.known
    now = datetime.now(UTC)
    with connection.cursor() as cursor:
        _copy(cursor, "run", [_run_row(id, document, organisation, lateral, now)])
        _copy(cursor, "segment", _segment_rows(id, document["segments"]))
        _copy(cursor, "defect", _defect_rows(id, document["defects"]))
        trail = (organisation, "run", id, 1, now, "floor", "api", "", "created", "", "null", raw.decode(), "0" * 64)
        _copy(cursor, "auditentry", [(*trail, "0" * 64)])
        _copy(cursor, "audithead", [("run", id, 1, "0" * 64)])
        event = (organisation, str(uuid.uuid4()), 1, "run.created", now, f"runs/{id}", f'{{"id":"{id}"}}')
        _copy(cursor, "event", [event])
    connection.commit()
    return raw


def _copy(cursor: psycopg.Cursor[Any], table: str, rows: Iterable[tuple[Any, ...]]) -> None:
    columns = ", ".join(f'"{name}"' for name in COLUMNS[table].split())
    with cursor.copy(f"COPY inspections_{table} ({columns}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


def _run_row(id: str, of: dict[str, Any], organisation: str, lateral: str, now: datetime) -> tuple[Any, ...]:
    access = of["start_access"]
    written = _encode({name: of.get(name) for name in _HEAD}).decode()
    read = (of["counter_start"] * _FOOT, of["counter_end"] * _FOOT, of["reached"], None, of["started_at"], None)
    said = (written, of["units"], of["direction"], of["recorded"], access["kind"], access["label"])
    return (id, "", None, now, now, 1, "draft", *said, *read, of["inspector"], 1, "[]", of["job"], lateral, organisation)


def _segment_rows(id: str, entries: list[dict[str, Any]]) -> Iterator[tuple[Any, ...]]:
    for n, one in enumerate(entries):
        ends = one["from"] * _FOOT, one["to"] * _FOOT
        yield (id, n, _encode(one).decode(), *ends, one["material"], one["diameter"] * _INCH, None)


def _defect_rows(id: str, entries: list[dict[str, Any]]) -> Iterator[tuple[Any, ...]]:
    for n, one in enumerate(entries):
        to, offset = one.get("to"), one.get("offset")
        place = one["at"] * _FOOT, to and to * _FOOT, one.get("at_joint", False)
        dial = one.get("clock_from"), one.get("clock_to"), one.get("degree"), one.get("opening"), one.get("width_mm")
        measures = offset and offset * _INCH, None, one.get("percent"), None, False, False, one.get("note")
        named = one["ref"], one["kind"], one.get("pattern")
        yield (id, n, _encode(one).decode(), *named, *place, *dial, *measures)
