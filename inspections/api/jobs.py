"""Addresses of jobs."""

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.runs import run_answer
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes import reads as shapes
from inspections.api.shapes.job import JobChange, JobShape
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import CustomerErased, ReferenceTaken, StateNotReachable
from inspections.merge import merged
from inspections.models import Job
from inspections.queries import history, pages
from inspections.services import jobs
from inspections.services.revisions import Outcome


def _runs(view: ResourceView, row: Job) -> list[dict[str, Any]]:
    return [run_answer(view, run) for run in documents.in_order(row.runs.all())]


JOBS = Reading(
    called="jobs",
    shape=shapes.Job,
    rows=pages.jobs,
    document=lambda view, row: documents.job(row),
    filters=named(
        *("state", "external_ref", "purpose", "customer", "property"),
        inspector="inspector__username",
        starts_after="window_start__gt",
        starts_before="window_start__lt",
    ),
    expansions={"runs": _runs},
)


class Jobs(Many):
    """All jobs of the organisation."""

    scopes_needed = {"POST": "jobs:write"}
    reading = JOBS

    @lists(JOBS, "List jobs")
    def get(self, request: Request) -> Response:
        return self.page(request)

    @described(
        "Ask for a job",
        body=JobShape,
        answer=answers.Job,
        makes=True,
        refuses=(CustomerErased, ReferenceTaken),
        examples=examples.shown("A drain that backs up", examples.JOB),
    )
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        outcome = jobs.job_request(actor=self.actor, document=JobShape.checked(request.data))
        return _answer(self, outcome)


class OneJob(One):
    """One job."""

    scopes_needed = {"PUT": "jobs:write", "PATCH": "jobs:write"}
    reading = JOBS
    own_words = frozenset({"at"})

    @reads(JOBS, "Read a job", takes_at=True)
    def get(self, request: Request, id: str) -> Response:
        if self.at is not None:
            then = history.job(self.actor.organisation, parsed_id(id), self.at)
            self.hold_to_one("at", "expand")
            return self.found(self.selected(then), then["revision"])
        return self.read(id)

    @described(
        "Make or replace a job under your own id",
        body=JobChange,
        answer=answers.Job,
        makes=True,
        refuses=(CustomerErased, ReferenceTaken, StateNotReachable),
        examples=examples.shown(f"The job the example of a run names, under {examples.JOB_ID}", examples.JOB),
    )
    def put(self, request: Request, id: str) -> Response:
        document = JobChange.checked(request.data)
        outcome = jobs.job_put(actor=self.actor, id=parsed_id(id), document=document, expected=self.expected)
        return _answer(self, outcome)

    @described(
        "Change a job, also its state and inspector",
        body=JobChange,
        answer=answers.Job,
        patches=True,
        refuses=(CustomerErased, ReferenceTaken, StateNotReachable),
        examples=examples.shown("Called off", examples.JOB_CHANGE),
    )
    def patch(self, request: Request, id: str) -> Response:
        def edit(document: dict[str, Any]) -> dict[str, Any]:
            return JobChange.checked(merged(document, request.data))

        outcome = jobs.job_change(actor=self.actor, id=parsed_id(id), edit=edit, expected=self.expected)
        return _answer(self, outcome)


def _answer(view: ResourceView, outcome: Outcome[Job]) -> Response:
    row = outcome.row
    response = view.found(documents.job(row), row.revision, status=201 if outcome.is_new else 200)
    if outcome.is_new:
        response["Location"] = f"/api/v1/jobs/{row.id}"
    return response
