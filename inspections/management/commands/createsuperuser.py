"""Django's own command of this name writes past the audit trail, so it is closed."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError


class Command(BaseCommand):
    help = "Closed: use `manage.py administrator`, which leaves an entry in the audit trail."

    def handle(self, *args: Any, **options: Any) -> None:
        raise CommandError("Use manage.py administrator --organisation NAME --username NAME: it notes who did what.")
