"""Search in the lists of the desk, also with a hundred thousand records behind them.

A word is looked for in the record's own columns and in those of the records it refers to. The latter are found first,
each kind in its own table: one condition over joined tables would read and join all of them for every word.
"""

from collections.abc import Iterable
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.db.models import Model, Q, QuerySet
from django.utils.text import smart_split, unescape_string_literal

_MOST_WORDS: Final = 20
_NOTHING: Final = Q(pk__in=())


def found(rows: QuerySet[Any], columns: Iterable[str], typed: str) -> QuerySet[Any]:
    """Return the rows in which each word stands in one of the columns; words in quotes stand together.

    Who types a whole reference means that record and no other.
    """
    names = tuple(columns)
    if not typed.strip():
        return rows
    if "external_ref" in names and (exact := rows.filter(external_ref=typed.strip())).exists():
        return exact
    for word in _words(typed):
        rows = rows.filter(_holding(rows.model, names, word))
    return rows


def _words(typed: str) -> list[str]:
    words = list(smart_split(typed))[:_MOST_WORDS]
    return [unescape_string_literal(word) if word[:1] in "\"'" and word[:1] == word[-1:] else word for word in words]


def _holding(model: type[Model], columns: Iterable[str], word: str) -> Q:
    """Return the condition that a word stands in one of the columns; `customer__name` leads to another table."""
    condition, beyond = _NOTHING, dict[str, list[str]]()
    for column in columns:
        head, _, rest = column.partition("__")
        if rest and model._meta.get_field(head).related_model is None:
            condition |= _compared(model, head, column, word)
        elif rest:
            beyond.setdefault(head, []).append(rest)
        else:
            condition |= Q(**{f"{head}__icontains": word})
    for head, rest_of in beyond.items():
        other: Any = model._meta.get_field(head).related_model
        holding = other._default_manager.filter(_holding(other, rest_of, word))
        condition |= Q(**{f"{head}__in": holding.values("pk")})
    return condition


def _compared(model: type[Model], head: str, column: str, word: str) -> Q:
    """Return the condition on a column that says itself how it is compared, as `id__exact`; what is no id is none."""
    field: Any = model._meta.get_field(head)
    try:
        return Q(**{column: field.to_python(word)})
    except ValidationError:
        return _NOTHING
