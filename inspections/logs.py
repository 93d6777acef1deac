"""Logs as lines of JSON: one event a line whatever it quotes, each with the id of the request it belongs to."""

import json
import logging
from datetime import UTC, datetime
from typing import Any, Final

from inspections import tracing

_OF_EVERY_RECORD: Final = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "taskName"}
# What Django and others attach to records that holds whole requests, addresses or settings.
_KEPT_OUT: Final = frozenset({"request", "server_time", "status_code", "data", "sql", "params"})


class Lines(logging.Formatter):
    """Time, level, who says it, what, for which request; then what was said beside it (`extra=`)."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "message": record.getMessage(),
            "request_id": getattr(record, "request_id", "") or tracing.current(),
        }
        beside = {name: value for name, value in vars(record).items() if name not in _OF_EVERY_RECORD | _KEPT_OUT}
        line |= {name: value for name, value in beside.items() if name not in line}
        if record.exc_info:
            line["error"] = self.formatException(record.exc_info)
        # ASCII only: what would move a cursor, end a line or turn the reading direction is escaped.
        return json.dumps(line, default=str, ensure_ascii=True)
