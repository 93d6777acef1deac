"""Many rows at once, and a row that may be there already: what the database does fastest."""

from collections.abc import Sequence
from functools import cache
from typing import Any

from django.db import connection, models


def insert_unless_there(row: models.Model) -> bool:
    """Insert a row in one statement; False where another has its id or one of its unique keys. Nothing is aborted."""
    statement, fields = _insertion(type(row), connection.vendor)
    values = [field.get_db_prep_save(field.pre_save(row, add=True), connection) for field in fields]
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        is_new = cursor.rowcount == 1
    row._state.adding, row._state.db = not is_new, connection.alias
    return is_new


@cache
def _insertion(model: type[models.Model], vendor: str) -> tuple[str, tuple[Any, ...]]:
    fields = tuple(field for field in model._meta.concrete_fields if not isinstance(field, models.AutoField))
    places = ", ".join(["%s"] * len(fields))
    columns = _names(field.column for field in fields)
    return f"INSERT INTO {_table(model)} ({columns}) VALUES ({places}) ON CONFLICT DO NOTHING", fields


def add(model: type[models.Model], columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
    """Add rows, given as values in the order of `columns`: by COPY where the database has it."""
    if connection.vendor != "postgresql":
        model._default_manager.bulk_create([model(**dict(zip(columns, row, strict=True))) for row in rows])
        return
    statement = f"COPY {_table(model)} ({_names(columns)}) FROM STDIN"
    with connection.wrap_database_errors, connection.cursor() as cursor, cursor.copy(statement) as copy:
        for row in rows:
            copy.write_row(row)


def _table(model: type[models.Model]) -> str:
    return connection.ops.quote_name(model._meta.db_table)


def _names(columns: Any) -> str:
    return ", ".join(connection.ops.quote_name(column) for column in columns)
