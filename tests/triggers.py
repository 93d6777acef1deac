"""The triggers that keep the audit trail append-only, out of the way for a moment."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection

_TABLE = "inspections_auditentry"


@contextmanager
def without_triggers() -> Iterator[None]:
    """Let rows of the audit trail be changed inside the block, as somebody with the database's keys could."""
    kept = _sqlite_triggers()
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # a table with checks to come cannot be altered
            cursor.execute(f"ALTER TABLE {_TABLE} DISABLE TRIGGER USER")
        for name, _ in kept:
            cursor.execute(f"DROP TRIGGER {name}")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute(f"ALTER TABLE {_TABLE} ENABLE TRIGGER USER")
            for _, statement in kept:
                cursor.execute(statement)


def _sqlite_triggers() -> list[tuple[str, str]]:
    if connection.vendor != "sqlite":
        return []
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [_TABLE])
        return [(name, statement) for name, statement in cursor.fetchall()]
