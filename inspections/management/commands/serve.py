"""The embedded service: migrates, serves, works."""

import signal
import threading
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from inspections.embedded import EmbeddedService, HomeTaken, PortTaken


class Command(BaseCommand):
    help = "Serve and work in one process; the data live under PULLBACK_HOME."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.EMBEDDED:
            raise CommandError("serve is the embedded service; unset PULLBACK_DATABASE_URL, or start gunicorn.")
        try:
            with EmbeddedService(port=options["port"]) as service:
                self.stdout.write(f"Pullback serves at {service.address}/api/v1/docs (data in {settings.HOME})")
                self.stdout.flush()
                until_told_to_stop()
        except PortTaken as error:
            raise CommandError(f"Port {options['port']} is taken ({error}); name another with --port.") from error
        except HomeTaken as error:
            raise CommandError(f"{error} is served by another process; set PULLBACK_HOME to another.") from error


def until_told_to_stop() -> None:
    """Wait for Ctrl-C or SIGTERM."""
    told = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: told.set())
    while not told.wait(0.2):
        pass
