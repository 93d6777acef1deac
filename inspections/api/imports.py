"""Addresses of imports: rows in, one answer a line."""

from typing import Any, Final

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import exact_json
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes import reads as shapes
from inspections.api.shapes.imports import ObservationRow
from inspections.api.shapes.run import DefectShape, FeatureShape
from inspections.api.views import once, parsed_id
from inspections.api.wire import NDJSON, NDJSONParser
from inspections.errors import Fault, Invalid, Malformed
from inspections.models import Import, ImportedObservation, Run
from inspections.queries import find
from inspections.services import imports
from inspections.services.imports import Line

# One request writes in one transaction, and other writers wait for it; every run it touches costs some milliseconds.
MOST_LINES: Final = 2000
MOST_RUNS: Final = 200
_SHAPES: Final = {"defect": DefectShape, "feature": FeatureShape}


IMPORTS = Reading(
    called="imports",
    shape=shapes.Import,
    rows=lambda organisation, expanded: Import.objects.filter(organisation=organisation),
    document=lambda view, row: imports.import_document(row),
    filters=named("source", "kind"),
    is_covered=False,
)
OBSERVATIONS = Reading(
    called="observations",
    shape=shapes.ImportedObservation,
    rows=lambda organisation, expanded: ImportedObservation.objects.filter(organisation=organisation),
    document=lambda view, row: imports.observation_document(row),
    filters={"ref": "ref", "in_run": "is_in_run", "imported_by": "imported_by"},
)


class Imports(Many):
    """Imports of observations, line by line."""

    scopes_needed = {"POST": "runs:write"}
    reading = IMPORTS
    parser_classes = [NDJSONParser]

    @lists(IMPORTS, "List imports")
    def get(self, request: Request) -> Response:
        return self.page(request)

    @described(
        "Import rows of observations: each line is answered, what is sound is taken, nothing is dropped",
        body={NDJSON: ObservationRow},
        forms={NDJSON: answers.ImportedLine},
        acts=True,
        requires_key=True,
        places=(200,),
        examples=examples.shown("One row", examples.OBSERVATION, media=NDJSON),
    )
    def post(self, request: Request) -> Response:
        _ = request._request.body  # kept by Django from here on: the answer is kept under a digest of it
        lines = _lines(request.data)  # before the transaction, which holds up other writers
        answer: Response = self._taken(request, lines)
        return answer

    @once(key_required=True)
    def _taken(self, request: Request, lines: list[Line]) -> Response:
        made = imports.import_rows(actor=self.actor, lines=lines, check=_checked)
        body = b"".join(exact_json.write(line.document()) + b"\n" for line in lines)
        return Response(body, content_type=NDJSON, headers={"Location": f"/api/v1/imports/{made.id}"})


class OneImport(One):
    """One import."""

    reading = IMPORTS

    @reads(IMPORTS, "Read what an import brought")
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)


class RunObservations(Many):
    """Imported observations of a run, also those that are kept beside it."""

    reading = OBSERVATIONS

    @lists(OBSERVATIONS, "List the imported observations of a run as they were sent")
    def get(self, request: Request, id: str) -> Response:
        run = find.one(Run, self.actor.organisation, parsed_id(id))
        return self.page(request, self.rows().filter(run=run))


def _lines(body: Any) -> list[Line]:
    raw = body.split(b"\n") if isinstance(body, bytes) else []
    while raw and not raw[-1].strip():
        raw.pop()
    if not 1 <= len(raw) <= MOST_LINES:
        detail = f"An import has 1 to {MOST_LINES} lines; this has {len(raw)}. Send it in parts."
        raise Invalid(detail, faults=[Fault((), "line_count", detail)])
    lines = [_line(number, text) for number, text in enumerate(raw, start=1)]
    runs = len({(line.sent["job"], line.sent["run"]) for line in lines if line.sent and not line.refused})
    if runs > MOST_RUNS:
        detail = (
            f"The rows of one import belong to at most {MOST_RUNS} runs; these are of {runs}. Sort the rows by run."
        )
        raise Invalid(detail, faults=[Fault((), "run_count", detail)])
    return lines


def _line(number: int, text: bytes) -> Line:
    line = Line(number)
    try:
        document = exact_json.read(text)
        ref = document.get("ref") if isinstance(document, dict) else None
        line.ref = ref if isinstance(ref, str) else None
        line.sent = ObservationRow.checked(document)
    except (Invalid, Malformed) as error:
        for fault in error.faults:
            line.refuse(fault.code, f"{fault.pointer}: {fault.detail}")
        if not error.faults:
            line.refuse("not_json", error.detail)
    return line


def _checked(what: str, entry: dict[str, Any]) -> dict[str, Any]:
    return _SHAPES[what].checked(entry)
