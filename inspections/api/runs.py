"""Addresses of runs: drafts, submit, amendments, review, grading."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents, exact_json
from inspections.api.fields import Nothing
from inspections.api.gradings import grading_of_run
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes import reads as shapes
from inspections.api.shapes.run import AmendmentRequest, ReviewReasons, RunShape
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import (
    ReferenceTaken,
    RunAlreadySubmitted,
    RunIncomplete,
    RunIsDraft,
    RunIsSealed,
    RunNotSubmitted,
)
from inspections.measures import converted
from inspections.merge import merged
from inspections.models import Amendment, Run
from inspections.queries import find, history, pages, results
from inspections.services import runs
from inspections.services.revisions import Outcome
from inspections.services.run_problems import problems_of
from inspections.translate import Document


def run_answer(view: ResourceView, row: Run) -> Document:
    return run_shown(view, documents.run(row))


def run_shown(view: ResourceView, document: Document) -> Document:
    """Return a run as it is answered: with what a draft lacks and with its alarms, in the units asked for."""
    units = document["units"]
    problems = [problem.document() for problem in problems_of(document)] if document["state"] == "draft" else []
    # Alarms are computed, so they are in SI; everything else of a run is as it was written.
    shown = {**document, "problems": problems, "alarms": converted(results.run_alarms(document), "si", units)}
    return converted(shown, units, view.units(units))  # type: ignore[no-any-return] # a document stays one


def _grading(view: ResourceView, row: Run) -> Document | None:
    graded = pages.default_grading(row)
    return None if graded is None else grading_of_run(graded, view.units(row.units))


RUNS = Reading(
    called="runs",
    shape=shapes.Run,
    rows=pages.runs,
    document=run_answer,
    filters=named("state", "job", "lateral", "external_ref", "inspector", property="job__property"),
    expansions={"job": lambda view, row: documents.job(row.job), "grading": _grading},
    takes_units=True,
)
AMENDMENTS = Reading(
    called="amendments",
    shape=shapes.Amendment,
    rows=lambda organisation, expanded: Amendment.objects.filter(organisation=organisation),
    document=lambda view, row: _amendment(row),
    filters=named(),
)


class Runs(Many):
    """All runs of the organisation."""

    scopes_needed = {"POST": "runs:write"}
    reading = RUNS

    @lists(RUNS, "List runs")
    def get(self, request: Request) -> Response:
        return self.page(request)

    @described(
        "Send a run",
        body=RunShape,
        answer=answers.Run,
        makes=True,
        refuses=(ReferenceTaken,),
        examples=examples.shown("Sixty feet of clay", examples.RUN),
    )
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        outcome = runs.run_create(actor=self.actor, document=RunShape.checked(request.data))
        return _answer(self, outcome)


class OneRun(One):
    """One run."""

    scopes_needed = {"PUT": "runs:write", "PATCH": "runs:write", "DELETE": "runs:write"}
    reading = RUNS
    own_words = frozenset({"at"})

    @reads(RUNS, "Read a run", takes_at=True)
    def get(self, request: Request, id: str) -> Response:
        if self.at is not None:
            then = history.run(self.actor.organisation, parsed_id(id), self.at)
            self.hold_to_one("at", "expand")
            return self.found(self.selected(run_shown(self, then)), then["revision"])
        if self.expanded:
            return self.read(id)
        row = find.one(Run, self.actor.organisation, parsed_id(id))
        self.units(row.units)  # refused also where nothing is sent
        return self.unchanged(row.revision) or self.found(self.reading.shown(self, row), row.revision)

    @described(
        "Make or replace a run under your own id",
        body=RunShape,
        answer=answers.Run,
        makes=True,
        refuses=(ReferenceTaken, RunIsSealed),
        examples=examples.shown("Sixty feet of clay", examples.RUN),
    )
    def put(self, request: Request, id: str) -> Response:
        document = RunShape.checked(request.data)
        outcome = runs.run_put(actor=self.actor, id=parsed_id(id), document=document, expected=self.expected)
        return _answer(self, outcome)

    @described(
        "Change a draft",
        body=RunShape,
        answer=answers.Run,
        patches=True,
        refuses=(ReferenceTaken, RunIsSealed),
        examples=examples.shown("Where it ended", examples.RUN_CHANGE),
    )
    def patch(self, request: Request, id: str) -> Response:
        def edit(document: Document) -> Document:
            return RunShape.checked(merged(document, request.data))

        outcome = runs.run_change(actor=self.actor, id=parsed_id(id), edit=edit, expected=self.expected)
        return _answer(self, outcome)

    @described("Take a draft away", deletes=True, refuses=(RunIsSealed,))
    def delete(self, request: Request, id: str) -> Response:
        runs.run_delete(actor=self.actor, id=parsed_id(id), expected=self.expected)
        return Response(status=204)


class RunSubmit(ResourceView):
    """Seal a run."""

    scopes_needed = {"POST": "runs:write"}

    @described(
        "Submit a run: seal it and have it graded",
        answer=answers.Submitted,
        status=202,
        acts=True,
        may_match=True,
        refuses=(RunAlreadySubmitted, RunIncomplete),
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        Nothing.checked(request.data)
        run, calculation = runs.run_submit(actor=self.actor, id=parsed_id(id), expected=self.expected)
        body = {
            "id": str(run.id),
            "state": run.state,
            "revision": run.revision,
            "calculation": {"id": str(calculation.id), "url": f"/api/v1/calculations/{calculation.id}"},
        }
        return self.found(body, run.revision, status=202)


class RunAmendments(Many):
    """Changes of a sealed run."""

    scopes_needed = {"POST": "runs:write"}
    reading = AMENDMENTS

    @lists(AMENDMENTS, "List the amendments of a run")
    def get(self, request: Request, id: str) -> Response:
        run = find.one(Run, self.actor.organisation, parsed_id(id))
        return self.page(request, self.rows().filter(run=run))

    @described(
        "Amend a sealed run, with the reason",
        body=AmendmentRequest,
        answer=answers.Amended,
        makes=True,
        needs_key=False,
        examples=examples.shown("A word put right", examples.AMENDMENT),
        refuses=(ReferenceTaken, RunIsDraft, RunIncomplete),
        located=False,
        may_match=True,
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        asked = AmendmentRequest.checked(request.data)

        def check(document: Document) -> Document:
            return RunShape.checked(merged(document, asked["changes"]), at=("changes",))

        amendment, calculation = runs.run_amend(
            actor=self.actor,
            id=parsed_id(id),
            reason=asked["reason"],
            changes=asked["changes"],
            check=check,
            expected=self.expected,
        )
        body = {
            **_amendment(amendment),
            "calculation": {"id": str(calculation.id), "url": f"/api/v1/calculations/{calculation.id}"},
        }
        return self.found(body, amendment.run_revision, status=201)


class RunAccept(ResourceView):
    """Accept a submitted run."""

    scopes_needed = {"POST": "audit:read"}

    @described(
        "Accept a submitted run", answer=answers.Run, acts=True, may_match=True, refuses=(RunIsDraft, RunNotSubmitted)
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        Nothing.checked(request.data)
        row = runs.run_review(actor=self.actor, id=parsed_id(id), verdict="accepted", expected=self.expected)
        return self.found(run_answer(self, row), row.revision)


class RunReturn(ResourceView):
    """Return a submitted run with reasons."""

    scopes_needed = {"POST": "audit:read"}

    @described(
        "Return a submitted run with reasons",
        body=ReviewReasons,
        answer=answers.Run,
        status=200,
        acts=True,
        examples=examples.shown("Film again", examples.REASONS),
        refuses=(RunIsDraft, RunNotSubmitted),
        may_match=True,
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        reasons = ReviewReasons.checked(request.data)["reasons"]
        row = runs.run_review(
            actor=self.actor, id=parsed_id(id), verdict="returned", reasons=reasons, expected=self.expected
        )
        return self.found(run_answer(self, row), row.revision)


def _answer(view: ResourceView, outcome: Outcome[Run]) -> Response:
    row = outcome.row
    response = view.found(run_answer(view, row), row.revision, status=201 if outcome.is_new else 200)
    if outcome.is_new:
        response["Location"] = f"/api/v1/runs/{row.id}"
    return response


def _amendment(row: Amendment) -> Document:
    return {
        "id": str(row.id),
        "run": str(row.run_id),
        "run_revision": row.run_revision,
        "reason": row.reason,
        "changes": exact_json.load(row.changes),
        "before": exact_json.load(row.before),
        "by": row.by,
        **documents.stamps(row),
    }
