"""A run is made with its trail in one go; what stands in its way leaves nothing half-made."""

from __future__ import annotations

import uuid

from inspections.models import AuditEntry, Defect, Event, Job, Run
from inspections.services import trail
from tests import builders
from tests.api.answers import job_of, read
from tests.client import Api

STAR = {"If-Match": "*"}


def test_an_id_used_again_after_its_draft_was_taken_away_goes_on_in_its_chain(api: Api) -> None:
    path = f"/runs/{uuid.uuid4()}"
    body = builders.run(job_of(api)["id"])
    read(api.put(path, body), 201)
    assert api.delete(path, **STAR).status_code == 204
    read(api.put(path, body), 201)
    chain = AuditEntry.objects.filter(record_type="run", record_id=path.rpartition("/")[2]).order_by("number")
    assert [(one.number, one.action) for one in chain] == [(1, "created"), (2, "deleted"), (3, "created")]
    assert Event.objects.filter(subject=path[1:], type="run.created").count() == 2
    assert trail.first_bad_row() is None


def test_a_reference_that_is_taken_begins_no_other_job(api: Api) -> None:
    first, second = job_of(api), read(api.post("/jobs", builders.job(external_ref="AF-1002")), 201)
    read(api.put(f"/runs/{uuid.uuid4()}", builders.run(first["id"], external_ref="R-1")), 201)
    refused = api.put(f"/runs/{uuid.uuid4()}", builders.run(second["id"], external_ref="R-1"))
    assert refused.status_code == 409
    assert Job.objects.get(pk=second["id"]).state == "requested"
    assert (Run.objects.count(), Defect.objects.count()) == (1, 4)
    assert trail.first_bad_row() is None


def test_another_firms_id_is_not_there_and_nothing_is_written(api: Api, rival_api: Api) -> None:
    path = f"/runs/{uuid.uuid4()}"
    read(api.put(path, builders.run(job_of(api)["id"])), 201)
    theirs = read(rival_api.post("/jobs", builders.job()), 201)
    assert rival_api.put(path, builders.run(theirs["id"])).status_code == 404
    assert Job.objects.get(pk=theirs["id"]).state == "requested"
    assert Run.objects.count() == 1


def test_the_rows_hold_in_si_what_the_document_says(api: Api) -> None:
    run = read(api.put(f"/runs/{uuid.uuid4()}", builders.run(job_of(api)["id"])), 201)
    row = Defect.objects.get(run=run["id"], ref="d")
    assert (row.position, str(row.at_m.normalize()), str(row.to_m.normalize())) == (
        3,
        "13.4112",
        "14.9352",
    )  # 0.3048 m
    assert str(Defect.objects.get(run=run["id"], ref="c").offset_mm.normalize()) == "25.4"  # 25.4 mm an inch
