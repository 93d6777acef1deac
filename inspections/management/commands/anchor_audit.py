"""The heads of all chains of the audit trail, to be kept outside of the service."""

import json
from typing import Any

from django.core.management.base import BaseCommand

from inspections.services import trail


class Command(BaseCommand):
    help = (
        "Print the newest hash of every chain of the audit trail, one JSON object a line. Keep it where nobody who "
        "can change the database can change it; verify_audit --anchor and verify_trail.py hold the trail against it."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        for head in trail.heads():
            self.stdout.write(json.dumps(head))
