"""How an address ends: announced in every answer from the day it is deprecated, and never on short notice."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import format_datetime
from typing import Final

NOTICE: Final = timedelta(days=365)


@dataclass(frozen=True, slots=True)
class Retirement:
    """When an address was deprecated, when it ends, and what takes its place. Raises ValueError under a year."""

    since: datetime
    ends: datetime
    successor: str

    def __post_init__(self) -> None:
        if self.ends - self.since < NOTICE:
            raise ValueError(f"An address that is deprecated goes on for at least {NOTICE.days} days.")

    def headers(self) -> dict[str, str]:
        """Return Deprecation (RFC 9745), Sunset (RFC 8594) and the link to the successor (RFC 8288)."""
        return {
            "Deprecation": f"@{self.since.timestamp():.0f}",
            "Sunset": format_datetime(self.ends, usegmt=True),
            "Link": f'<{self.successor}>; rel="successor-version"',
        }
