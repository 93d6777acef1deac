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

import django
import msgspec
import psycopg

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
django.setup()  # only to name the fields of the shapes

from inspections.api.shapes.run import DefectShape, RunShape, SegmentShape  # noqa: E402 # after the setup

Environ = dict[str, Any]
Start = Callable[[str, list[tuple[str, str]]], object]
_decode = msgspec.json.Decoder(float_hook=Decimal).decode
_FOOT = Decimal("0.3048")
_INCH = Decimal("25.4")
_local = threading.local()
_encode = msgspec.json.Encoder(decimal_format="number").encode

COLUMNS = {
    "run": (
        "id source external_ref created_at updated_at revision state written units direction recorded access_kind"
        " access_label counter_start_m counter_end_m reached stopped_by started_at ended_at inspector"
        " content_revision review_reasons job_id lateral_id organisation_id"
    ),
    "segment": "run_id position from_m to_m material diameter_mm joint_spacing_m",
    "defect": (
        "run_id position ref kind pattern at_m to_m at_joint clock_from clock_to degree opening width_mm"
        " offset_mm gap_mm percent thickness_mm soil_seen void_seen note"
    ),
    "auditentry": (
        "organisation_id record_type record_id number at actor through request_id action reason before after"
        " previous_hash hash"
    ),
    "audithead": "record_type record_id number hash",
    "event": "organisation_id id transaction type time subject data",
}
_RUN = dict.fromkeys(RunShape().fields)
_SEGMENT = dict.fromkeys(SegmentShape().fields)
_DEFECT = dict.fromkeys(DefectShape().fields)
# The document out of the rows that it was written to, by one statement.
_FROM_ROWS = """
SELECT (to_jsonb(r) || jsonb_build_object(
    'segments', (SELECT json_agg(s ORDER BY s.position) FROM inspections_segment s WHERE s.run_id = r.id),
    'defects', (SELECT json_agg(d ORDER BY d.position) FROM inspections_defect d WHERE d.run_id = r.id)
))::text FROM (SELECT id, state, revision, created_at, updated_at, units, direction, counter_start_m, counter_end_m,
    reached, started_at, inspector, job_id, lateral_id FROM inspections_run) r WHERE r.id = %s
"""
# The document as it is kept whole, with what the service says of it: as little as a database can do.
_FROM_TEXT = """
SELECT '{"id":"' || id || '","state":"' || state || '","revision":' || revision || ',' || substr(written, 2)
FROM inspections_run WHERE id = %s
"""


def application(environ: Environ, start: Start) -> Iterable[bytes]:
    """Answer a PUT of a run, a GET of a run, or say that the server stands."""
    path = environ["PATH_INFO"]
    if environ["REQUEST_METHOD"] == "PUT":
        body = _put(path.rpartition("/")[2], environ["wsgi.input"].read(int(environ["CONTENT_LENGTH"])))
        start("201 Created", [("Content-Type", "application/json"), ("Content-Length", str(len(body)))])
        return [body]
    statement = _FROM_TEXT if path.startswith("/text/") else _FROM_ROWS
    body = b"{}" if path == "/readyz" else _get(statement, path.rpartition("/")[2])
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


def _get(statement: str, id: str) -> bytes:
    connection = _connection()
    body: bytes = connection.execute(statement, [id]).fetchone()[0].encode()  # type: ignore[index] # it is there
    connection.commit()
    return body


def _put(id: str, raw: bytes) -> bytes:
    document = _filled(_decode(raw))
    connection = _connection()
    organisation, lateral = _local.known
    document["lateral"] = lateral
    now, written = datetime.now(UTC), _encode(document).decode()
    with connection.cursor() as cursor:
        _copy(cursor, "run", [_run_row(id, document, written, organisation, now)])
        _copy(cursor, "segment", _segment_rows(id, document["segments"]))
        _copy(cursor, "defect", _defect_rows(id, document["defects"]))
        trail = (organisation, "run", id, 1, now, "floor", "api", "", "created", "", "null", written, "0" * 64)
        _copy(cursor, "auditentry", [(*trail, "0" * 64)])
        _copy(cursor, "audithead", [("run", id, 1, "0" * 64)])
        event = (organisation, str(uuid.uuid4()), 1, "run.created", now, f"runs/{id}", f'{{"id":"{id}"}}')
        _copy(cursor, "event", [event])
    connection.commit()
    return written.encode()


def _filled(document: dict[str, Any]) -> dict[str, Any]:
    """Return the document as it is kept: with null where nothing was sent."""
    whole = {**_RUN, **document}
    whole["segments"] = [{**_SEGMENT, **one} for one in whole["segments"]]
    whole["defects"] = [{**_DEFECT, **one} for one in whole["defects"]]
    return whole


def _copy(cursor: psycopg.Cursor[Any], table: str, rows: Iterable[tuple[Any, ...]]) -> None:
    columns = ", ".join(f'"{name}"' for name in COLUMNS[table].split())
    with cursor.copy(f"COPY inspections_{table} ({columns}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


def _run_row(id: str, of: dict[str, Any], written: str, organisation: str, now: datetime) -> tuple[Any, ...]:
    access = of["start_access"]
    read = (of["counter_start"] * _FOOT, of["counter_end"] * _FOOT, of["reached"], None, of["started_at"], None)
    said = (written, of["units"], of["direction"], of["recorded"], access["kind"], access["label"])
    named = (of["inspector"], 1, "[]", of["job"], of["lateral"], organisation)
    return (id, "", None, now, now, 1, "draft", *said, *read, *named)


def _segment_rows(id: str, entries: list[dict[str, Any]]) -> Iterator[tuple[Any, ...]]:
    for n, one in enumerate(entries):
        yield (id, n, one["from"] * _FOOT, one["to"] * _FOOT, one["material"], one["diameter"] * _INCH, None)


def _defect_rows(id: str, entries: list[dict[str, Any]]) -> Iterator[tuple[Any, ...]]:
    for n, one in enumerate(entries):
        to, offset = one["to"], one["offset"]
        place = one["at"] * _FOOT, to and to * _FOOT, one["at_joint"] or False
        dial = one["clock_from"], one["clock_to"], one["degree"], one["opening"], one["width_mm"]
        measures = offset and offset * _INCH, None, one["percent"], None, False, False, one["note"]
        yield (id, n, one["ref"], one["kind"], one["pattern"], *place, *dial, *measures)
