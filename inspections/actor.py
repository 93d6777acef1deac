"""Who does something, through what, on whose behalf: passed to every service, never looked up."""

from dataclasses import dataclass

from inspections.models import Organisation


@dataclass(frozen=True, slots=True)
class Actor:
    """The one who acts. `client` is the source of what they write; `name` is what the trail shows."""

    organisation: Organisation
    client: str
    name: str
    through: str  # api, admin, command, worker
    request_id: str = ""
