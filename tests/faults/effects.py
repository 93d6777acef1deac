"""What stands in the database, counted from outside: effects that are missing, effects that exist twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

import psycopg

_OPEN = "SELECT count(*) FROM inspections_calculation WHERE state IN ('queued', 'running')"


class Effects:
    """Reads one database."""

    def __init__(self, url: str) -> None:
        self.url = url

    def rows(self, statement: str, *values: Any) -> list[tuple[Any, ...]]:
        """Return what a statement finds."""
        with psycopg.connect(self.url, autocommit=True) as database:
            return database.execute(statement, values or None).fetchall()

    def one(self, statement: str, *values: Any) -> Any:
        """Return the one value a statement finds."""
        return self.rows(statement, *values)[0][0]

    def open_calculations(self) -> int:
        """Return how many calculations have not ended."""
        return int(self.one(_OPEN))

    def ended_calculations(self) -> int:
        """Return how many calculations are done."""
        return int(self.one("SELECT count(*) FROM inspections_calculation WHERE state = 'done'"))

    def attempts(self) -> Counter[int]:
        """Return how many calculations needed how many attempts."""
        counted = self.rows("SELECT attempts, count(*) FROM inspections_calculation GROUP BY attempts")
        return Counter(dict(counted))

    def graded(self, runs: Iterable[str]) -> tuple[int, int]:
        """Return how many of these runs lack an effect of their grading, and how many effects exist twice.

        One submit of one run on a lateral of its own makes: one calculation, done; one grading a scheme; one event and
        one audit entry that say the run is graded, one of each for its lateral.
        """
        runs = list(runs)
        schemes = self.one("SELECT count(*) FROM inspections_gradingscheme")
        wanted = {
            "SELECT subject, count(*) FROM inspections_calculation WHERE kind = 'grade_run' AND state = 'done'"
            " GROUP BY subject": 1,
            "SELECT run_id, count(*) FROM inspections_rungrading GROUP BY run_id": schemes,
            "SELECT substr(subject, 6)::uuid, count(*) FROM inspections_event WHERE type = 'run.graded'"
            " GROUP BY subject": 1,
            "SELECT record_id::uuid, count(*) FROM inspections_auditentry WHERE record_type = 'run'"
            " AND action = 'graded' GROUP BY record_id": 1,
            "SELECT r.id, count(*) FROM inspections_run r JOIN inspections_event e ON e.type = 'lateral.graded'"
            " AND e.subject = 'laterals/' || r.lateral_id GROUP BY r.id": 1,
            "SELECT r.id, count(*) FROM inspections_run r JOIN inspections_auditentry a ON a.action = 'graded'"
            " AND a.record_type = 'lateral' AND a.record_id = r.lateral_id::text GROUP BY r.id": 1,
        }
        return self._held_against(runs, wanted)

    def made(self, kind: str, ids: Iterable[str], *, event: str, action: str) -> tuple[int, int]:
        """Return how many of these records are missing or lack their event or audit entry, and how many have two."""
        wanted = {
            f"SELECT id, 1 FROM inspections_{kind}": 1,
            f"SELECT substr(subject, {len(kind) + 3})::uuid, count(*) FROM inspections_event"
            f" WHERE type = '{kind}.{event}' GROUP BY subject": 1,
            f"SELECT record_id::uuid, count(*) FROM inspections_auditentry WHERE record_type = '{kind}'"
            f" AND action = '{action}' GROUP BY record_id": 1,
        }
        return self._held_against(list(ids), wanted)

    def _held_against(self, ids: list[str], wanted: dict[str, int]) -> tuple[int, int]:
        lacking, twice = set(), set()
        for statement, count in wanted.items():
            found = {str(id): number for id, number in self.rows(statement)}
            lacking |= {id for id in ids if found.get(id, 0) < count}
            twice |= {id for id, number in found.items() if number > count}
        return len(lacking), len(twice)
