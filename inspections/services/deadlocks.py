"""Two transactions that wait for each other: the database ends one of them, and that one is done again."""

from typing import Final

from django.db import OperationalError

TRIES: Final = 4
_ENDED_BY_THE_DATABASE: Final = frozenset({"40P01", "40001"})  # deadlock_detected, serialization_failure


def is_deadlock(error: BaseException) -> bool:
    """Tell whether the database ended a transaction only because another one stood in its way."""
    return isinstance(error, OperationalError) and getattr(error.__cause__, "sqlstate", "") in _ENDED_BY_THE_DATABASE
