"""Keys stay out of logs: whatever logs them, wherever they stand."""

import logging
import re
from typing import Final

from inspections.logs import Lines

# Tokens, secrets of subscriptions, and the keys in the addresses of shared reports.
_KEYS: Final = re.compile(r"(pbk_|pbr_|whsec_)[A-Za-z0-9_+/=-]{8,}")


class KeysMasked(logging.Formatter):
    """Formats a record, its traceback too, with every key cut to its prefix."""

    def format(self, record: logging.LogRecord) -> str:
        return _KEYS.sub(r"\1...", super().format(record))


class LinesMasked(KeysMasked, Lines):
    """Formats a record as a line of JSON with every key cut."""
