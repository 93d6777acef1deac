"""Check every chain of the audit trail."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inspections.models import AuditEntry
from inspections.services import trail


class Command(BaseCommand):
    help = "Walk every chain of the audit trail and name the first row that does not fit."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--anchor", type=Path, help="what anchor_audit printed earlier, kept outside since")

    def handle(self, *args: Any, **options: Any) -> None:
        anchor = _anchor(options["anchor"]) if options["anchor"] else {}
        bad = trail.first_bad_row(anchor=anchor)
        if bad is not None:
            row, reason = bad
            where = f"{row.record_type} {row.record_id}, entry {row.number}"
            found = f"(row {row.pk})" if row.pk else "(of the anchor)"
            raise CommandError(f"The trail does not hold: {where} {found} {reason}.")
        against = f", {len(anchor)} heads of the anchor still there" if options["anchor"] else ""
        self.stdout.write(f"The trail holds: {AuditEntry.objects.count()} entries, every chain complete{against}.")


def _anchor(file: Path) -> dict[tuple[str, str], tuple[int, str]]:
    """Read the heads of an anchor."""
    try:
        heads = [json.loads(line) for line in file.read_text().splitlines()]
        return {(head["record_type"], head["record_id"]): (head["number"], head["hash"]) for head in heads}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CommandError(f"{file} is not what anchor_audit prints ({error}).") from error
