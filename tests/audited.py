"""Holds changes against the trail: what changed in the tables has exactly one new entry each, and nothing else has."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from inspections.models import AuditEntry
from inspections.services import trail
from tests.api.answers import every_row

# The kinds of record that have a chain, by their table; parts of them, queues and kept answers have none.
CHAINS: Final = {
    "AccessPoint": "access_point",
    "ApiToken": "token",
    "Bid": "bid",
    "Closing": "closing",
    "CodeMap": "code_map",
    "Customer": "customer",
    "GradingScheme": "grading_scheme",
    "Import": "import",
    "Job": "job",
    "Lateral": "lateral",
    "MatchDecision": "match_decision",
    "Organisation": "organisation",
    "Property": "property",
    "RateBook": "rate_book",
    "Recomputation": "recomputation",
    "RepairScope": "repair_scope",
    "ReportLink": "report_link",
    "RuleSet": "rule_set",
    "Run": "run",
    "Site": "site",
    "Subscription": "subscription",
    "User": "user",
}
# Counters of the work itself, no change of what a record says.
_COUNTERS: Final = {
    "Lateral": {"inputs_revision", "site_revision", "updated_at"},
    "Subscription": {"silent_attempts", "rests_until"},
    "User": {"last_login"},
    "Recomputation": {"done", "total", "changed", "calculation_id", "updated_at"},
    "RepairScope": {"calculation_id", "updated_at"},
    "Closing": {"calculation_id", "updated_at"},
}
# Of these an entry tells although no column of the record changes, or its row is a queue's.
_TOLD_ALL_THE_SAME: Final = {("subscription", "tested"), ("calculation", "run_again"), ("delivery", "replayed")}
# A loaded default takes the place of another: one act, noted with the record that was loaded.
_FOLLOWS: Final = {"is_default"}


def _state() -> dict[tuple[str, str], dict[str, object]]:
    found = {}
    for table, rows in every_row().items():
        if table in CHAINS:
            for row in rows:
                key = str(row.get("id") or row.get("lateral_id"))
                if table == "Site" and row["revision"] == 0:
                    continue  # empty, made and taken away with its lateral, which tells
                found[CHAINS[table], key] = {n: v for n, v in row.items() if n not in _COUNTERS.get(table, ())}
    return found


@contextmanager
def one_entry_each(through: str, request_id: str | None = None, least: int = 1) -> Iterator[None]:
    """Hold that inside the block each record that changes gets one entry: by whom, through what, from what to what."""
    before, newest = _state(), AuditEntry.objects.order_by("-id").values_list("id", flat=True).first() or 0
    yield
    after = _state()
    changed = {key for key in before.keys() | after.keys() if before.get(key) != after.get(key)}
    only_followed = {key for key in changed if key in before and key in after and _differ(before[key], after[key])}
    entries = list(AuditEntry.objects.filter(id__gt=newest).order_by("id"))
    told = Counter((entry.record_type, entry.record_id) for entry in entries)
    assert len(entries) >= least
    silent = changed - only_followed - set(told)
    assert not silent, f"changed without an entry: {silent}"
    assert max(told.values(), default=1) == 1, f"more than one entry: {told}"
    for entry in entries:
        key = (entry.record_type, entry.record_id)
        assert key in changed or (entry.record_type, entry.action) in _TOLD_ALL_THE_SAME, f"nothing changed: {key}"
        assert entry.actor and entry.through == through
        assert request_id is None or entry.request_id == request_id
        assert entry.before != "null" or key not in before or entry.record_type in ("user", "subscription"), key
    assert trail.first_bad_row() is None


def _differ(one: dict[str, object], other: dict[str, object]) -> bool:
    names = {name for name in one if one[name] != other[name]}
    return bool(names) and names <= _FOLLOWS
