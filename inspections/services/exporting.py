"""Exports: all records of a kind, from one state of the database, piece by piece, however many there are."""

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Q, QuerySet

from inspections import documents, exact_json
from inspections.measures import converted
from inspections.models import Bid, Customer, Organisation
from inspections.queries import pages, results
from inspections.queries.snapshot import Snapshot
from inspections.spreadsheets import harmless

Document = dict[str, Any]

_AT_ONCE: Final = 100


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of export: its rows, the documents of a row (one a line), and the columns of a table of them."""

    rows: Callable[[Organisation], QuerySet[Any]]
    lines: Callable[[Any], Sequence[Document]]
    columns: tuple[str, ...]
    cells: Callable[[Document], Sequence[Document]] = lambda document: [document]


def pieces(
    kind: Kind, form: str, organisation: Organisation, spans: Mapping[str, Any], snapshot: Snapshot
) -> Iterator[bytes]:
    """Yield an export piece by piece, oldest record first; `form` is ndjson or csv."""
    if form == "csv":
        yield _csv([kind.columns])
    after = Q()
    while True:
        with snapshot.reading():
            rows = kind.rows(organisation).filter(after, **spans).order_by("created_at", "id")
            found = list(rows[:_AT_ONCE])
            lines = [line for row in found for line in kind.lines(row)]
        if lines:
            yield (
                _csv(_table(kind, lines))
                if form == "csv"
                else b"".join(exact_json.write(one) + b"\n" for one in lines)
            )
        if len(found) < _AT_ONCE:
            return
        last = found[-1]
        after = Q(created_at__gte=last.created_at) & (Q(created_at__gt=last.created_at) | Q(id__gt=last.id))


def count(kind: Kind, organisation: Organisation, spans: Mapping[str, Any], snapshot: Snapshot) -> int:
    """Return how many records an export will read, so that who reads it knows how far it is."""
    with snapshot.reading():
        return kind.rows(organisation).filter(**spans).count()


def _table(kind: Kind, lines: Sequence[Document]) -> Iterator[list[Any]]:
    for line in lines:
        for cells in kind.cells(line):
            yield [_at(cells, column) for column in kind.columns]


def _at(document: Any, column: str) -> Any:
    """Return what stands in a document under a name with dots, as `customer.name`."""
    for name in column.split("."):
        document = document.get(name) if isinstance(document, dict) else None
    return document


def _csv(rows: Any) -> bytes:
    text = io.StringIO()
    csv.writer(text).writerows([_cell(value) for value in row] for row in rows)  # CRLF, as RFC 4180 has it
    return text.getvalue().encode()


def _cell(value: Any) -> Any:
    """Return a value as a cell: numbers digit for digit, text such that no spreadsheet executes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return len(value)
    if isinstance(value, str):
        return harmless(value)
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return value


def _run(row: Any) -> Document:
    document = documents.run(row)
    return {**document, "alarms": converted(results.run_alarms(document), "si", row.units)}


def _defects(row: Any) -> list[Document]:
    run = documents.run(row)
    head = {"run": run["id"], "run_state": run["state"], "job": run["job"], "lateral": run["lateral"]}
    return [{**head, "units": run["units"], **defect} for defect in run["defects"]]


def _plans(document: Document) -> list[Document]:
    """Return one line of a table a plan; one without a plan where there is none yet."""
    return [{**document, "plan": plan} for plan in document["plans"]] or [document]


def _customers(organisation: Organisation) -> QuerySet[Any]:
    return Customer.objects.filter(organisation=organisation)


def _bids(organisation: Organisation) -> QuerySet[Any]:
    return Bid.objects.filter(organisation=organisation)


def _bid_lines(document: Document) -> list[Document]:
    """Return one line of a table a line of the bid, its corrected extension beside what was written."""
    due = [one["extension"] for one in document["corrected"]["lines"]]
    lines = [{**line, "number": n, "corrected": due[n - 1]} for n, line in enumerate(document["lines"], start=1)]
    return [{**document, "line": line} for line in lines]


_STAMPS: Final = ("created_at", "updated_at", "revision")
EXPORTS: Final[Mapping[str, Kind]] = {
    "jobs": Kind(
        pages.jobs,
        lambda row: [documents.job(row)],
        (
            *("id", "external_ref", "state", "purpose", "window.start", "window.end", "instructions", "inspector"),
            *("customer.id", "customer.name", "property.id", "property.address.line1", "property.address.locality"),
            *("runs", *_STAMPS),
        ),
    ),
    "runs": Kind(
        pages.runs,
        lambda row: [_run(row)],
        (
            *("id", "external_ref", "job", "lateral", "state", "units", "direction", "recorded"),
            *("counter_start", "counter_end", "reached", "stopped_by", "inspector", "started_at", "ended_at"),
            *("defects", "unseen", "alarms", "submitted_at", "reviewed_at", *_STAMPS),
        ),
    ),
    "defects": Kind(
        pages.runs,
        _defects,
        (
            *("run", "run_state", "job", "lateral", "units", "ref", "kind", "pattern", "at", "to", "at_joint"),
            *("clock_from", "clock_to", "degree", "opening", "width_mm", "offset", "gap", "percent", "thickness"),
            *("soil_seen", "void_seen", "video_s", "note"),
        ),
    ),
    # The columns of these three are what their import takes back.
    "customers": Kind(
        _customers,
        lambda row: [documents.customer(row)],
        ("id", "external_ref", "name", "kind", "email", "phone", *_STAMPS),
    ),
    "properties": Kind(
        pages.properties,
        lambda row: [documents.property_(row)],
        (
            *("id", "external_ref", "customer_id", "address.line1", "address.line2", "address.locality"),
            *("address.region", "address.postal_code", "address.country", "location.lat", "location.lon"),
            *("year_built", "rule_set", *_STAMPS),
        ),
    ),
    "access-points": Kind(
        pages.access_points,
        lambda row: [documents.access_point(row)],
        (
            *("id", "external_ref", "property", "lateral", "units", "kind", "label", "how_to_find", "size"),
            *("location.lat", "location.lon", *_STAMPS),
        ),
    ),
    "laterals": Kind(
        pages.laterals,
        lambda row: [results.lateral_shown(row)],
        (
            *("id", "external_ref", "property", "name", "units", "from", "to", "grading.scheme.id"),
            *("grading.scheme.version", "grading.structural.grade", "grading.service.grade", "grading.overall.grade"),
            *("grading.coverage.length_share", "defects", "conflicts", "alarms", "is_current", "computed_at"),
        ),
    ),
    "repair-scopes": Kind(
        pages.repair_scopes,
        lambda row: [documents.repair_scope(row, row.units)],
        (
            *("id", "lateral", "state", "is_current", "units", "policy.fix_from_grade", "plan.name", "plan.sections"),
            *("plan.total.low", "plan.total.likely", "plan.total.high", "currency", "alarms", *_STAMPS),
        ),
        _plans,
    ),
    "bids": Kind(
        _bids,
        lambda row: [documents.bid(row)],
        (
            *(
                "id",
                "external_ref",
                "repair_scope",
                "plan",
                "bidder",
                "state",
                "received_on",
                "valid_until",
                "currency",
            ),
            *("line.number", "line.section", "line.item", "line.quantity", "line.unit", "line.unit_price"),
            *("line.extension", "line.corrected", "line.note", "total", "corrected.total", "duration_days"),
            *("exclusions", "note", *_STAMPS),
        ),
        _bid_lines,
    ),
}
FORMS: Final = {"ndjson": "application/x-ndjson", "csv": "text/csv; charset=utf-8"}
