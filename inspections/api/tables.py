"""Tables that come in: a header of field names with dots, then a document a row, each cell what its field holds."""

import csv
import difflib
import io
import re
from collections.abc import Iterator, Mapping
from typing import Any, Final

from inspections import exact_json
from inspections.api.fields import ListOf, Number, Shape, YesNo
from inspections.errors import Fault, Malformed
from inspections.spreadsheets import written

Document = dict[str, Any]

_NUMBER: Final = re.compile(r"-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?")
_YES_NO: Final = {"true": True, "false": False}
LONGEST_CELL: Final = 10_000


class RowUnread(Exception):
    """A row has other cells than the header has columns."""


def columns_of(shape: Shape, before: str = "") -> dict[str, Any]:
    """Return the field of every column a table of this shape may have; lists have no column."""
    columns: dict[str, Any] = {}
    for name, field in shape.fields.items():
        if isinstance(field, Shape):
            columns |= columns_of(field, f"{before}{name}.")
        elif not isinstance(field, ListOf):
            columns[f"{before}{name}"] = field
    return columns


def documents(body: bytes, shape: type[Shape], ignored: frozenset[str]) -> Iterator[tuple[int, Document | RowUnread]]:
    """Yield each row as a document, with the line it begins on. Columns of `ignored` are passed over.

    Raises Malformed, naming the column, where the table cannot be read at all.
    """
    rows = _rows(body)
    _, header = next(rows, (1, []))
    columns = columns_of(shape())
    _hold_header(header, columns, ignored)
    for line, row in rows:
        if not row:
            continue
        if len(row) != len(header):
            yield line, RowUnread(f"The header has {len(header)} columns, this row {len(row)} cells.")
            continue
        cells = {name: cell for name, cell in zip(header, row, strict=True) if name not in ignored and cell != ""}
        yield line, _nested({name: _value(columns[name], written(cell)) for name, cell in cells.items()})


def _rows(body: bytes) -> Iterator[tuple[int, list[str]]]:
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Malformed("The table is not UTF-8; save it as CSV in UTF-8.") from error
    csv.field_size_limit(LONGEST_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    line = 1
    try:
        for row in reader:
            yield line, row
            line = reader.line_num + 1
    except csv.Error as error:
        raise Malformed(f"From line {line} on the table cannot be read: {error}; mend its quotes.") from error


def _hold_header(header: list[str], columns: Mapping[str, Any], ignored: frozenset[str]) -> None:
    if not header:
        raise Malformed("The table is empty; its first line names the columns.")
    faults = [_unknown(name, columns) for name in header if name not in columns and name not in ignored]
    twice = sorted({name for name in header if header.count(name) > 1})
    faults += [Fault((name,), "duplicate_key", "This column stands twice; send it once.") for name in twice]
    if faults:
        raise Malformed("The header of the table has faults; nothing was read.", faults=faults)


def _unknown(name: str, columns: Mapping[str, Any]) -> Fault:
    near = difflib.get_close_matches(name[:100], columns, n=1)
    hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(columns)}. Lists come as NDJSON."
    return Fault((name[:100],), "unknown_field", f"There is no such column; {hint}")


def _value(field: Any, text: str) -> Any:
    """Return what a cell says; where it is nothing of the field's sort, its text, which the field then refuses."""
    if isinstance(field, Number) and len(text) <= 100 and _NUMBER.fullmatch(text):
        return exact_json.read(text.encode())
    if isinstance(field, YesNo):
        return _YES_NO.get(text.lower(), text)
    return text


def _nested(cells: Mapping[str, Any]) -> Document:
    document: Document = {}
    for name, value in cells.items():
        *parents, last = name.split(".")
        place = document
        for parent in parents:
            place = place.setdefault(parent, {})
        place[last] = value
    return document
