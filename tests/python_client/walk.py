"""The README's walk with a generated client that lies beside this file: `python walk.py BASE TOKEN`."""

import sys
import time
import uuid

from client import AuthenticatedClient
from client.api.calculations import calculations_read
from client.api.jobs import jobs_create
from client.api.laterals import (
    laterals_read,
    laterals_repair_scopes_create,
    laterals_report_read,
    laterals_site_replace,
)
from client.api.repair_scopes import repair_scopes_read
from client.api.runs import runs_grading_read, runs_replace, runs_submit_create
from client.models import (
    Job,
    JobRequest,
    Problem,
    RepairScopeRead,
    Run,
    RunGrading,
    RunRequest,
    ScopeAccepted,
    ScopeRequest,
    Site,
    SiteRequest,
    Submitted,
)

JOB = {
    "external_ref": "AF-2001",
    "purpose": "backup",
    "customer": {"external_ref": "C-2001", "name": "Rowan Ashby", "kind": "household"},
    "property": {
        "external_ref": "P-2001",
        "address": {"line1": "9 Sluice Street", "locality": "Alder Falls", "country": "US"},
    },
}
RUN = {
    "units": "us",
    "direction": "downstream",
    "start_access": {"kind": "clean_out", "label": "front clean-out", "size": 4},
    "counter_start": 0,
    "counter_end": 60.0,
    "reached": "main",
    "segments": [{"from": 0, "to": 60, "material": "vitrified_clay", "diameter": 4, "joint_spacing": 3}],
    "features": [{"kind": "joint", "at": 3}, {"kind": "main", "at": 60}],
    "defects": [
        {"ref": "a", "kind": "roots", "at": 12, "at_joint": True, "degree": "bundles"},
        {"ref": "b", "kind": "fracture", "at": 27.5, "pattern": "multiple", "clock_from": 10, "clock_to": 2},
        {"ref": "d", "kind": "sag", "at": 44, "to": 49, "percent": 40},
    ],
    "unseen": [{"from": 44, "to": 46, "reason": "under_water"}],
}
SITE = {
    "units": "us",
    "soil": "B",
    "boundaries": [{"kind": "property_line", "station": 40}, {"kind": "main", "station": 60}],
    "depths": [{"station": 0, "depth": 4, "to": "invert"}, {"station": 60, "depth": 8, "to": "invert"}],
    "surfaces": [{"from": 0, "to": 60, "kind": "lawn"}],
}


def follow(client: AuthenticatedClient, id: uuid.UUID) -> None:
    """Wait until a calculation is done."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        row = calculations_read.sync(str(id), client=client)
        if row is not None and not isinstance(row, Problem) and row.state == "done":
            return
        time.sleep(0.05)
    raise AssertionError(f"calculation {id} did not end")


def walk(client: AuthenticatedClient) -> str:
    """Walk through the main job; return what came out in a line."""
    key = str(uuid.uuid4())
    job = jobs_create.sync(client=client, body=JobRequest.from_dict(JOB), idempotency_key=key)
    assert isinstance(job, Job)
    again = jobs_create.sync_detailed(client=client, body=JobRequest.from_dict(JOB), idempotency_key=key)
    assert again.headers["Idempotency-Replayed"] == "true"
    id, lateral = str(uuid.uuid4()), str(job.property_.laterals[0].id)
    run = runs_replace.sync(id, client=client, body=RunRequest.from_dict({**RUN, "job": str(job.id)}))
    assert isinstance(run, Run)
    assert not [problem for problem in run.problems if problem.stops_submit]
    submitted = runs_submit_create.sync(id, client=client)
    assert isinstance(submitted, Submitted)
    follow(client, submitted.calculation.id)
    grading = runs_grading_read.sync(id, client=client)
    assert isinstance(grading, RunGrading)
    assert not isinstance(laterals_read.sync(lateral, client=client), Problem | None)
    site = laterals_site_replace.sync(lateral, client=client, body=SiteRequest.from_dict(SITE), if_match="*")
    assert isinstance(site, Site)
    asked = laterals_repair_scopes_create.sync(
        lateral,
        client=client,
        body=ScopeRequest.from_dict({"policy": {"fix_from_grade": 3}}),
        idempotency_key=str(uuid.uuid4()),
    )
    assert isinstance(asked, ScopeAccepted)
    follow(client, asked.calculation.id)
    scope = repair_scopes_read.sync(str(asked.id), client=client)
    assert isinstance(scope, RepairScopeRead)
    wrong = runs_replace.sync(id, client=client, body=RunRequest.from_dict({**RUN, "job": str(uuid.uuid4())}))
    assert isinstance(wrong, Problem)
    assert laterals_report_read.sync_detailed(lateral, client=client).status_code == 200
    return f"grade {grading.overall.grade}; {', '.join(plan.name.value for plan in scope.plans)}; {wrong.code}"


if __name__ == "__main__":
    print(walk(AuthenticatedClient(base_url=sys.argv[1], token=sys.argv[2])))
