"""Shifts the clock of the process that starts with it on PYTHONPATH by FAULTS_CLOCK_SECONDS."""

import datetime
import os
import time

_SHIFT = float(os.environ.get("FAULTS_CLOCK_SECONDS", "0"))
_time, _time_ns = time.time, time.time_ns


class _Shifted(datetime.datetime):
    """The time of day, shifted."""

    @classmethod
    def now(cls, tz: datetime.tzinfo | None = None) -> datetime.datetime:
        """Return what this machine takes for now."""
        return _right(super().now(tz) + datetime.timedelta(seconds=_SHIFT))

    @classmethod
    def utcnow(cls) -> datetime.datetime:
        """Return what this machine takes for now, in UTC, without a zone."""
        return _right(super().now(datetime.UTC).replace(tzinfo=None) + datetime.timedelta(seconds=_SHIFT))


_datetime = datetime.datetime


def _right(moment: datetime.datetime) -> datetime.datetime:
    """Return a moment as an ordinary datetime: only where it came from is wrong."""
    fields = (moment.year, moment.month, moment.day, moment.hour, moment.minute, moment.second, moment.microsecond)
    return _datetime(*fields, tzinfo=moment.tzinfo, fold=moment.fold)


class _Meta(type):
    """Lets ordinary datetimes pass for instances of the shifted class."""

    def __instancecheck__(cls, instance: object) -> bool:
        return isinstance(instance, _datetime)

    def __subclasscheck__(cls, subclass: type) -> bool:
        return issubclass(subclass, _datetime)


time.time = lambda: _time() + _SHIFT
time.time_ns = lambda: _time_ns() + int(_SHIFT * 1e9)
datetime.datetime = _Meta("datetime", (_Shifted,), {"__module__": "datetime"})  # type: ignore[misc]
