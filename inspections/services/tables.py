"""Many rows at once, and rows that may be there already: what the database does fastest."""

from collections.abc import Sequence
from functools import cache
from typing import Any

from django.db import connection, models
from django.db.models.expressions import Combinable
from django.db.models.sql import InsertQuery


def insert_unless_there(row: models.Model) -> bool:
    """Insert a row in one statement; False where another has its id or one of its unique keys. Nothing is aborted."""
    return insert_in_turn([row]) == 1


def insert_in_turn(rows: Sequence[models.Model]) -> int:
    """Insert rows, each only where all before it were new; return how many were. One statement on PostgreSQL.

    The last row is given the key that the database made for it.
    """
    if connection.vendor == "postgresql":
        return _insert_together(rows)
    for count, row in enumerate(rows):
        statement, values = _insertion(row, None)
        with connection.cursor() as cursor:
            cursor.execute(statement, values)
            if cursor.rowcount != 1:
                return count
            _is_there(row, cursor.lastrowid)
    return len(rows)


def _insert_together(rows: Sequence[models.Model]) -> int:
    steps, values = [], []
    for number, row in enumerate(rows):
        statement, more = _insertion(row, f"made_{number - 1}" if number else None)
        steps.append(f"made_{number} AS ({statement} RETURNING {_names([_key(row).column])} AS key)")
        values += more
    # Numbers of this function's own, and quoted names of columns: nothing a client sent stands in the text.
    counts = " + ".join(f"(SELECT count(*) FROM made_{number})" for number in range(len(rows)))  # nosec B608
    last = f"(SELECT key FROM made_{len(rows) - 1})"  # nosec B608
    with connection.cursor() as cursor:
        cursor.execute(f"WITH {', '.join(steps)} SELECT {counts}, {last}", values)
        found: tuple[int, Any] = cursor.fetchone()
    for row in rows[: found[0]]:
        _is_there(row, found[1] if row is rows[-1] else row.pk)
    return found[0]


def _is_there(row: models.Model, key: Any) -> None:
    row._state.adding, row._state.db = False, connection.alias
    if isinstance(_key(row), models.AutoField):
        row.pk = key


def _key(row: models.Model) -> Any:
    return row._meta.pk


def _insertion(row: models.Model, after: str | None) -> tuple[str, list[Any]]:
    """Return a statement that inserts a row, where `after` names a step: only if that step made its row."""
    start, fields = _columns(type(row), connection.vendor)
    places, values = [], []
    for field in fields:
        value = getattr(row, field.attname)
        if value is None:  # a time that is set already stays: the trail says the same
            value = field.pre_save(row, add=True)
        if isinstance(value, Combinable):  # the database's to say, as the number of the transaction
            compiler = InsertQuery(type(row)).get_compiler(connection=connection)
            place, more = compiler.compile(compiler.prepare_value(field, value))
        elif value is None:
            place, more = "NULL", []
        else:
            place, more = "%s", [field.get_db_prep_save(value, connection)]
        places.append(place)
        values += more
    values_of_row = ", ".join(places)  # placeholders, NULL, or an expression of ours
    chosen = f"SELECT {values_of_row} FROM {after}" if after else f"VALUES ({values_of_row})"  # nosec B608
    return f"{start} {chosen} ON CONFLICT DO NOTHING", values


@cache
def _columns(model: type[models.Model], vendor: str) -> tuple[str, tuple[Any, ...]]:
    fields = tuple(field for field in model._meta.concrete_fields if not isinstance(field, models.AutoField))
    return f"INSERT INTO {_table(model)} ({_names([field.column for field in fields])})", fields


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


def _names(columns: Sequence[Any]) -> str:
    return ", ".join(connection.ops.quote_name(column) for column in columns)
