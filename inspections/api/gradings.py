"""Addresses of gradings: of a run, of a lateral, several schemes side by side."""

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import exact_json
from inspections.api.reading import Many, Reading, lists
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.shapes import reads as shapes
from inspections.api.views import ResourceView, parsed_id
from inspections.errors import NotGradedYet
from inspections.measures import converted
from inspections.models import Lateral, LateralGrading, Run, RunGrading
from inspections.queries import find, opinions, results
from inspections.translate import Document
from scoring.units import Units


class RunGradingView(ResourceView):
    """The grading of a run."""

    parameters = frozenset({"units", "scheme"})

    @described(
        "Read the grading of a run",
        answer=answers.RunGrading,
        takes_units=True,
        named=("scheme",),
        refuses=(NotGradedYet,),
    )
    def get(self, request: Request, id: str) -> Response:
        run = find.one(Run, self.actor.organisation, parsed_id(id))
        graded = results.run_grading(run, request.query_params.get("scheme"))
        units = self.units(run.units)
        return self.found(grading_of_run(graded, units), f"{graded.id}-{units}")


GRADINGS = Reading(
    called="gradings",
    shape=shapes.RunGrading,
    rows=lambda organisation, expanded: RunGrading.objects.filter(organisation=organisation).select_related("run"),
    document=lambda view, row: grading_of_run(row, view.units(row.run.units)),
    filters={"scheme": "scheme__code"},
    takes_units=True,
)


class RunGradings(Many):
    """Every grading of a run that was ever kept."""

    reading = GRADINGS

    @lists(GRADINGS, "List all kept gradings of a run, each under the version of scheme and rules that made it")
    def get(self, request: Request, id: str) -> Response:
        run = find.one(Run, self.actor.organisation, parsed_id(id))
        return self.page(request, self.rows().filter(run=run))


class LateralGradings(ResourceView):
    """One lateral under every scheme."""

    parameters = frozenset({"units"})

    @described(
        "Read the gradings of a lateral under every scheme side by side, and where they disagree",
        answer=answers.LateralGradings,
        takes_units=True,
        refuses=(NotGradedYet,),
    )
    def get(self, request: Request, id: str) -> Response:
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        found = results.reconciled(lateral)
        rows = results.side_by_side(found) if found else []
        if found is None or not rows:
            raise NotGradedYet("The lateral is not graded yet; submit a run and follow its calculation.")
        units = self.units(found.units)
        kept = [exact_json.load(row.document) for row in rows]
        body = {
            "lateral": str(lateral.id),
            "units": "si",
            "is_current": found.inputs_revision == lateral.inputs_revision,
            "alarms": kept[0]["alarms"],
            "gradings": [_of_lateral(row, document) for row, document in zip(rows, kept, strict=True)],
            "disagreements": opinions.opinions(kept),
        }
        tag = "-".join([str(lateral.inputs_revision), units, *(str(row.id)[:8] for row in rows)])
        return self.found(converted(body, "si", units), tag)


def grading_of_run(row: RunGrading, units: Units) -> Any:
    body = {
        "run": str(row.run_id),
        "run_revision": row.run_revision,
        "units": "si",
        **exact_json.load(row.document),
        "id": str(row.id),
        "rules_version": row.rules_version,
        "inputs_sha256": row.inputs_sha256,
        "calculation": str(row.calculation_id),
        "computed_at": row.created_at,
    }
    return converted(body, "si", units)


def _of_lateral(row: LateralGrading, document: Document) -> Document:
    return {
        **document,
        "id": str(row.id),
        "rules_version": row.reconciled.rules_version,
        "inputs_sha256": row.inputs_sha256,
        "calculation": str(row.calculation_id),
        "computed_at": row.created_at,
    }
