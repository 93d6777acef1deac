"""Hold the committed OpenAPI document against the one of the last tag."""

import json
import subprocess  # nosec B404 # git alone, below
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from inspections.api.contract import breaks

_DOCUMENT = "inspections/api/openapi.json"


class Command(BaseCommand):
    """Fails where a client of the last tagged version could be broken, and says by what."""

    help = "Compare the committed OpenAPI document with that of the last tag (or of --since)."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--since", help="a tag or commit instead of the last tag")

    def handle(self, *args: Any, **options: Any) -> None:
        since = options["since"] or _git("describe", "--tags", "--abbrev=0")
        if not since:
            self.stdout.write("No version is tagged yet, so nobody relies on one.")
            return
        before = _git("show", f"{since}:{_DOCUMENT}")
        if not before:
            raise CommandError(f"{since} holds no {_DOCUMENT}; name another with --since.")
        after = json.loads((settings.BASE_DIR / _DOCUMENT).read_text())
        found = breaks(json.loads(before), after)
        if found:
            raise CommandError("\n".join([f"Clients of {since} would be broken:", *found]))
        self.stdout.write(f"All that {since} promised still holds.")


def _git(*words: str) -> str:
    """Return what git says, or nothing where it knows no such thing."""
    command = ["git", *words]  # words of this module and of who types the command
    done = subprocess.run(command, cwd=settings.BASE_DIR, capture_output=True, text=True, check=False)  # nosec B603
    return done.stdout.strip() if done.returncode == 0 else ""
