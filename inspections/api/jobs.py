"""Addresses of jobs."""

from typing import Any, Final

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.pages import page
from inspections.api.runs import run_answer
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes.job import JobChange, JobShape
from inspections.api.views import ResourceView, once, parsed_id
from inspections.merge import merged
from inspections.models import Job
from inspections.queries import find, history, pages
from inspections.services import jobs
from inspections.services.revisions import Outcome

_FILTERS: Final = (
    *("state", "external_ref", "purpose", "inspector"),
    *("created_after", "created_before", "updated_after"),
)
_FIELDS: Final = (
    *("id", "external_ref", "state", "purpose", "window", "instructions", "inspector", "customer", "property"),
    *("runs", "created_at", "updated_at", "revision"),
)
_EXPANSIONS: Final = ("runs",)


class Jobs(ResourceView):
    """All jobs of the organisation."""

    scopes_needed = {"POST": "jobs:write"}
    parameters = frozenset({"limit", "cursor", "fields", "expand", "sort", *_FILTERS})
    fields_known, expansions = _FIELDS, _EXPANSIONS

    @described(
        "List jobs",
        answer=answers.JobsRead,
        page_of="jobs",
        filters=_FILTERS,
        named=("sort",),
        fields=_FIELDS,
        expansions=_EXPANSIONS,
    )
    def get(self, request: Request) -> Response:
        rows = pages.jobs(self.actor.organisation, self.expanded)
        return page(request, rows, lambda row: _read(self, row), self.parameters)

    @described(
        "Ask for a job",
        body=JobShape,
        answer=answers.Job,
        makes=True,
        examples=examples.shown("A drain that backs up", examples.JOB),
    )
    @once(key_required=True)
    def post(self, request: Request) -> Response:
        outcome = jobs.job_request(actor=self.actor, document=JobShape.checked(request.data))
        return _answer(self, outcome)


class OneJob(ResourceView):
    """One job."""

    scopes_needed = {"PUT": "jobs:write", "PATCH": "jobs:write"}
    parameters = frozenset({"at", "fields", "expand"})
    fields_known, expansions = _FIELDS, _EXPANSIONS

    @described("Read a job", answer=answers.JobRead, takes_at=True, fields=_FIELDS, expansions=_EXPANSIONS)
    def get(self, request: Request, id: str) -> Response:
        if self.at is not None:
            then = history.job(self.actor.organisation, parsed_id(id), self.at)
            self.hold_to_one("at", "expand")
            return self.found(self.selected(then), then["revision"])
        row = find.one(Job, self.actor.organisation, parsed_id(id))
        if self.expanded:
            (row,) = pages.jobs(self.actor.organisation, self.expanded).filter(pk=row.pk)
        document = _read(self, row)
        return self.found(document, self.tag(document, row.revision))

    @described(
        "Make or replace a job under your own id",
        body=JobChange,
        answer=answers.Job,
        makes=True,
        examples=examples.shown(f"The job the example of a run names, under {examples.JOB_ID}", examples.JOB),
    )
    def put(self, request: Request, id: str) -> Response:
        document = JobChange.checked(request.data)
        outcome = jobs.job_put(actor=self.actor, id=parsed_id(id), document=document, expected=self.expected)
        return _answer(self, outcome)

    @described("Change a job, also its state and inspector", body=JobChange, answer=answers.Job, patches=True)
    def patch(self, request: Request, id: str) -> Response:
        def edit(document: dict[str, Any]) -> dict[str, Any]:
            return JobChange.checked(merged(document, request.data))

        outcome = jobs.job_change(actor=self.actor, id=parsed_id(id), edit=edit, expected=self.expected)
        return _answer(self, outcome)


def _read(view: ResourceView, row: Job) -> dict[str, Any]:
    """Return a job with what is asked to be shown in full and without what is not asked for."""
    document = view.selected(documents.job(row))
    if "runs" in view.expanded:
        ordered = sorted(row.runs.all(), key=lambda run: (run.created_at, run.id))
        document["runs"] = [run_answer(view, run) for run in ordered]
    return document


def _answer(view: ResourceView, outcome: Outcome[Job]) -> Response:
    row = outcome.row
    response = view.found(documents.job(row), row.revision, status=201 if outcome.is_new else 200)
    if outcome.is_new:
        response["Location"] = f"/api/v1/jobs/{row.id}"
    return response
