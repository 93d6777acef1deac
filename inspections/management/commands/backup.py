"""A copy of the embedded service's database, taken while it serves."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser


class Command(BaseCommand):
    help = (
        "Copy the database of the embedded service to a new file, whole and checked, while the service goes on. "
        "Keep the file and PULLBACK_HOME/secret_key apart: together they sign webhooks."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="where to; must not be there yet")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.EMBEDDED:
            raise CommandError("PostgreSQL is backed up by its own tools; see Backup and restore in DEVELOPERS.md.")
        source, target = Path(settings.DATABASES["default"]["NAME"]), options["file"]
        if not source.exists():
            raise CommandError(f"There is no database at {source}; set PULLBACK_HOME.")
        if target.exists():
            raise CommandError(f"{target} is there already; name a new file.")
        unfinished = target.with_name(f"{target.name}.unfinished")
        try:
            _copy(source, unfinished)
            os.replace(unfinished, target)
        except (OSError, sqlite3.Error) as error:
            unfinished.unlink(missing_ok=True)
            raise CommandError(f"Nothing was kept: {error}.") from error
        self.stdout.write(f"{target} holds all that was committed: {target.stat().st_size} bytes, checked.")


def _copy(source: Path, target: Path) -> None:
    """Copy what is committed, check it, and have it on the disk. Raises sqlite3.Error, OSError."""
    os.close(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600))  # names of customers are in it
    with (
        closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as live,
        closing(sqlite3.connect(target)) as copy,
    ):
        live.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it
        (found,) = copy.execute("PRAGMA integrity_check").fetchone()
        if found != "ok":
            raise sqlite3.DatabaseError(str(found))
    with target.open("rb") as file:
        os.fsync(file.fileno())
