"""Addresses of imports of records: each line is answered by the very view that answers such a record alone."""

import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Final

from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from inspections import exact_json
from inspections.api import batches, tables
from inspections.api.fields import Shape
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes import imports as shapes
from inspections.api.views import ResourceView, once
from inspections.api.wire import CSV, NDJSON, CSVParser, NDJSONParser
from inspections.errors import Fault, Invalid, Malformed, ReferenceTaken
from inspections.models import AccessPoint, Customer, Job, Property, Run
from inspections.services import imports

Document = dict[str, Any]

# One request writes in one transaction, and other writers wait for it.
MOST_LINES: Final = 500
# What an export says of a record beside what a caller sends: taken back in, it changes nothing.
_STAMPS: Final = frozenset({"created_at", "updated_at", "revision"})
_REPLACE: Final = "replace"


@dataclass(slots=True)
class _Line:
    """One line, what it says, and what became of it."""

    number: int
    document: Document = field(default_factory=dict)
    outcome: str = "refused"
    id: str | None = None
    code: str | None = None
    detail: str | None = None
    errors: list[Document] = field(default_factory=list)

    def refuse(self, code: str, detail: str, *faults: Fault) -> None:
        self.outcome, self.code, self.detail = "refused", code, detail
        self.errors = [{"pointer": one.pointer, "code": one.code, "detail": one.detail} for one in faults]

    @property
    def ref(self) -> str | None:
        ref = self.document.get("external_ref")
        return ref if isinstance(ref, str) else None

    def shown(self) -> Document:
        said = {name: getattr(self, name) for name in ("id", "outcome", "code", "detail", "errors")}
        return {"line": self.number, "external_ref": self.ref, **said}


class RecordImport(ResourceView):
    """Records of one kind, a line each."""

    kind: ClassVar[str]
    shape: ClassVar[type[Shape]]
    model: ClassVar[Any]
    # By the field of a line that names a record of the caller's by its external_ref: what it stands for.
    refs: ClassVar[Mapping[str, tuple[str, Any]]] = {}
    parameters = frozenset({_REPLACE})

    @once(key_required=True)
    def taken(self, request: Request, lines: list[_Line]) -> Response:
        """Answer each line, and note the import."""
        seen: dict[tuple[str, str], int] = {}
        for line in lines:
            if line.code is None and self._is_named(line, seen):
                self._take(request, line)
        outcomes = [line.outcome for line in lines]
        made = imports.records_imported(
            actor=self.actor, kind=self.kind, lines=len(lines), refused=outcomes.count("refused")
        )
        body = b"".join(exact_json.write(line.shown()) + b"\n" for line in lines)
        return Response(body, content_type=NDJSON, headers={"Location": f"/api/v1/imports/{made.id}"})

    def lines(self, request: Request) -> list[_Line]:
        """Return the lines of the body; those that cannot be read are refused already."""
        if request.query_params.get(_REPLACE, "false") not in ("true", "false"):
            fault = Fault((_REPLACE,), "not_yes_or_no", "This is true or false.")
            raise Invalid("What is to be replaced is not said.", faults=[fault])
        is_table = (request.content_type or "").partition(";")[0].strip().lower() == CSV
        lines = list(self._rows(request.data) if is_table else _documents(request.data))
        if not 1 <= len(lines) <= MOST_LINES:
            detail = f"An import has 1 to {MOST_LINES} records; this has {len(lines)}. Send it in parts."
            raise Invalid(detail, faults=[Fault((), "line_count", detail)])
        return lines

    def _rows(self, body: Any) -> Iterator[_Line]:
        for number, found in tables.documents(body if isinstance(body, bytes) else b"", self.shape, _STAMPS):
            line = _Line(number)
            if isinstance(found, tables.RowUnread):
                line.refuse("cell_count", str(found))
            else:
                line.document = found
            yield line

    def _is_named(self, line: _Line, seen: dict[tuple[str, str], int]) -> bool:
        """Hold that a line says which record it is, and that no line before it said the same."""
        id = line.document.get("id")
        if id is not None and not _is_uuid(id):  # it becomes part of an address
            detail = "This is a UUID; your own key goes into external_ref."
            line.refuse(Malformed.code, detail, Fault(("id",), "not_a_uuid", detail))
            return False
        keys = [(name, str(line.document[name])) for name in ("id", "external_ref") if line.document.get(name)]
        if not keys:
            detail = "Send external_ref or id: by it the line is known when it comes again."
            line.refuse("required", detail, Fault(("external_ref",), "required", detail))
            return False
        earlier = next((seen[key] for key in keys if key in seen), None)
        if earlier is not None:
            line.refuse("stands_twice", f"Line {earlier} names the same record; keep one of them.")
            return False
        seen.update(dict.fromkeys(keys, line.number))
        return self._refs_found(line)

    def _refs_found(self, line: _Line) -> bool:
        for name, (stands_for, model) in self.refs.items():
            ref = line.document.pop(name, None)
            if ref is None:
                continue
            rows = model.objects.filter(organisation=self.actor.organisation, source=self.actor.client)
            row = rows.filter(external_ref=ref).first() if isinstance(ref, str) else None
            if row is None or line.document.get(stands_for) is not None:
                said = "no_such_record" if row is None else "one_of_two"
                detail = f"Nothing of yours is called {ref}." if row is None else f"Send {name} or {stands_for}."
                line.refuse(Invalid.code, detail, Fault((name,), said, detail))
                return False
            line.document[stands_for] = str(row.pk)
        return True

    def _take(self, request: Request, line: _Line) -> None:
        replaces = request.query_params.get(_REPLACE) == "true"
        answer = self._answered(request, line, line.document.get("id"))
        if replaces and answer["status"] == 428:
            answer = self._answered(request, line, line.document.get("id"), "*")
        elif replaces and _is_taken(answer) and line.document.get("id") is None:
            answer = self._answered(request, line, self._known_as(line.ref), "*")
        if answer["status"] >= 400:
            problem = answer["body"]
            line.code, line.detail, line.errors = problem["code"], problem["detail"], problem["errors"]
            return
        line.id = answer["body"]["id"]
        line.outcome = "made" if answer["status"] == 201 else answer["outcome"]

    def _answered(self, request: Request, line: _Line, id: Any, if_match: str | None = None) -> Document:
        body = {name: value for name, value in line.document.items() if name != "id"}
        path = f"/{self.kind}" if id is None else f"/{self.kind}/{id}"
        headers = {"If-Match": if_match} if if_match else None
        entry = {"method": "POST" if id is None else "PUT", "path": path, "headers": headers, "body": body}
        return {**batches.answered(request, entry), "outcome": "changed" if if_match else "unchanged"}

    def _known_as(self, ref: str | None) -> str:
        """Return the id of the caller's own record of this external_ref; it was just found taken."""
        rows = self.model.objects.filter(organisation=self.actor.organisation, source=self.actor.client)
        return str(rows.values_list("id", flat=True).get(external_ref=ref))


def _is_uuid(id: Any) -> bool:
    try:
        return isinstance(id, str) and bool(uuid.UUID(id))
    except ValueError:
        return False


def _is_taken(answer: Document) -> bool:
    return bool(answer["status"] == 409 and answer["body"]["code"] == ReferenceTaken.code)


def _documents(body: Any) -> Iterator[_Line]:
    raw = body.split(b"\n") if isinstance(body, bytes) else []
    while raw and not raw[-1].strip():
        raw.pop()
    for number, text in enumerate(raw, start=1):
        line = _Line(number)
        try:
            document = exact_json.read(text)
        except Malformed as error:
            line.refuse(error.code, error.detail, *error.faults)
        else:
            if isinstance(document, dict):
                line.document = {name: value for name, value in document.items() if name not in _STAMPS}
            else:
                line.refuse("not_an_object", "A line is an object; send {...}.")
        yield line


def _address(
    kind: str, record: Any, line: type[Shape], scope: str, example: Document, **more: Any
) -> type[RecordImport]:
    """Return the view that imports records of a kind; `more`: what it sets beside."""
    forms = {NDJSON: line, CSV: str} if CSVParser in more.get("parser_classes", _BOTH) else {NDJSON: line}

    class Address(RecordImport):
        scopes_needed = {"POST": scope}
        parser_classes = _BOTH

        @described(
            f"Import {kind}: each line is answered, what is sound is taken, nothing is dropped",
            body=forms,
            forms={NDJSON: answers.ImportedRecord},
            named=(_REPLACE,),
            acts=True,
            requires_key=True,
            places=(200,),
            examples=examples.shown("One line", example, media=NDJSON),
        )
        def post(self, request: Request) -> Response:
            answer: Response = self.taken(request, self.lines(request))
            return answer

    Address.__name__ = Address.__qualname__ = f"{line.__name__}s"
    Address.kind, Address.model, Address.shape = kind, record, line
    for name, value in more.items():
        setattr(Address, name, value)
    return Address


_BOTH: Final[list[type[BaseParser]]] = [NDJSONParser, CSVParser]
_OF_CUSTOMER: Final = {"customer_ref": ("customer_id", Customer)}
_OF_PROPERTY: Final = {"property_ref": ("property", Property)}
_OF_JOB: Final = {"job_ref": ("job", Job)}
_LINES: Final = examples.IMPORTED

Customers = _address("customers", Customer, shapes.CustomerLine, "jobs:write", _LINES["customers"])
Properties = _address(
    "properties", Property, shapes.PropertyLine, "jobs:write", _LINES["properties"], refs=_OF_CUSTOMER
)
AccessPoints = _address(
    "access-points", AccessPoint, shapes.AccessPointLine, "jobs:write", _LINES["access-points"], refs=_OF_PROPERTY
)
Jobs = _address("jobs", Job, shapes.JobLine, "jobs:write", _LINES["jobs"])
# A run is lists within lists; no table holds it.
Runs = _address("runs", Run, shapes.RunLine, "runs:write", _LINES["runs"], refs=_OF_JOB, parser_classes=[NDJSONParser])
