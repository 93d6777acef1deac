"""Work reported and inspected afterwards, on the scope of tests/api/bidding.py."""

from __future__ import annotations

from typing import Any

from tests.api.answers import job_of, read, sealed_of
from tests.client import Api


def inspected(api: Api, **changes: Any) -> dict[str, Any]:
    """Have a run made and submitted after the work: clay, new pipe from 25.4 to 51.6 ft, clay; nothing found."""
    job = job_of(api, external_ref=changes.pop("job_ref", "AF-2001"), purpose="post_repair")
    clay, pvc = {"material": "vitrified_clay", "diameter": 4}, {"material": "pvc", "diameter": 4}
    said = {
        "external_ref": None,
        "started_at": "2027-06-01T08:20:00-05:00",
        "segments": [
            {"from": 0, "to": 25.4, **clay},
            {"from": 25.4, "to": 51.6, **pvc},
            {"from": 51.6, "to": 60, **clay},
        ],
        "defects": [],
        "unseen": [],
        **changes,
    }
    return sealed_of(api, job, **said)


def air_test(**changes: Any) -> dict[str, Any]:
    """An air test of the new pipe: 4 in, 0.5 psi, 140 s read where 113 s are asked."""
    reading = {
        "standard": "F1417",
        "sections": [{"diameter": 4, "length": 26.2}],
        "pressure_drop_psi": 0.5,
        "measured_s": 140,
        **changes.pop("reading", {}),
    }
    return {"from": 25.4, "to": 51.6, "made_at": "2027-05-20T15:30:00-05:00", "air_test": reading, **changes}


def report(*runs: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """Both sections of the least-cost plan done, inspected by these runs, with an air test."""
    return {
        "units": "us",
        "plan": "least_cost",
        "closed_on": "2027-06-02",
        "sections": [
            {"section": 1, "done_on": "2027-05-18"},
            {"section": 2, "from": 25.4, "to": 51.6, "material": "pvc", "done_on": "2027-05-20"},
        ],
        "runs": [run["id"] for run in runs],
        "tests": [air_test()],
        **changes,
    }


def closed(api: Api, scope: dict[str, Any], document: dict[str, Any], query: str = "") -> dict[str, Any]:
    """Have a report judged and return the closing."""
    asked = read(api.post(f"/repair-scopes/{scope['id']}/closings", document), 202)
    found: dict[str, Any] = read(api.get(f"/closings/{asked['id']}{query}"))
    assert found["state"] == "done", found["error"]
    return found


def outcomes(found: dict[str, Any]) -> list[str]:
    """Return the outcome of the whole and of each section."""
    return [found["outcome"], *(one["outcome"] for one in found["sections"])]


def met(found: dict[str, Any], section: int) -> dict[str, Any]:
    """Return by criterion of a section whether it is met."""
    return {one["criterion"]: one["met"] for one in found["sections"][section - 1]["criteria"]}
