"""Check every chain of the audit trail."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inspections.models import AuditEntry
from inspections.services import trail


class Command(BaseCommand):
    help = "Walk every chain of the audit trail and name the first row that does not fit."

    def handle(self, *args: Any, **options: Any) -> None:
        bad = trail.first_bad_row()
        if bad is not None:
            row, reason = bad
            where = f"{row.record_type} {row.record_id}, entry {row.number}"
            raise CommandError(f"The trail does not hold: {where} (row {row.pk}) {reason}.")
        self.stdout.write(f"The trail holds: {AuditEntry.objects.count()} entries, every chain complete.")
