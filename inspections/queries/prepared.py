"""Queries that are asked with every request: their SQL is built once, only the values are put in anew."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from django.db import connection, models

M = TypeVar("M", bound=models.Model)
# Values for samples: no record has them, no query says them for another reason.
SAMPLE_IDS: Final = (uuid.UUID(int=0x1D), uuid.UUID(int=0x2D))
SAMPLE_TEXT: Final = "a sample text"


@dataclass(frozen=True, slots=True)
class _Built:
    """The SQL of one connection, which parameter is which value, and how columns become values."""

    sql: str
    parameters: tuple[Any, ...]
    places: tuple[tuple[int, int], ...]
    compiler: Any
    converters: Any


class Prepared:
    """A query by `values_list`, as it is made for sample values that differ from each other and from all it says."""

    def __init__(self, rows: Callable[..., Any], *samples: Any) -> None:
        self._rows = rows
        self._samples = samples

    def __call__(self, *values: Any) -> list[Any]:
        """Return all rows for these values, which are of the samples' types."""
        kept = connection.__dict__.setdefault("prepared_queries", {})
        built: _Built = kept.get(self) or kept.setdefault(self, self._build())
        parameters = list(built.parameters)
        for place, number in built.places:
            parameters[place] = _kept(values[number])
        with connection.cursor() as cursor:
            cursor.execute(built.sql, parameters)
            rows = cursor.fetchall()
        return list(built.compiler.apply_converters(rows, built.converters)) if built.converters else rows

    def _build(self) -> _Built:
        compiler = self._rows(*self._samples).query.get_compiler(connection=connection)
        sql, parameters = compiler.as_sql()
        samples = [_kept(sample) for sample in self._samples]
        places = tuple((n, samples.index(one)) for n, one in enumerate(parameters) if one in samples)
        if {number for _, number in places} != set(range(len(samples))):
            raise ValueError("a sample value does not stand in the query as it was given")
        columns = [column for column, _, _ in compiler.select[: compiler.col_count]]
        return _Built(sql, tuple(parameters), places, compiler, compiler.get_converters(columns))


def _kept(value: Any) -> Any:
    """Return a value as the database keeps it."""
    return value.hex if isinstance(value, uuid.UUID) and not connection.features.has_native_uuid_field else value


def columns(model: type[models.Model]) -> list[str]:
    """Return the names that a whole row of a model has in `values_list`."""
    return [field.attname for field in model._meta.concrete_fields]


def made(model: type[M], values: Any) -> M:
    """Return the row of a model whose `columns` have these values."""
    return model.from_db(connection.alias, columns(model), values)
