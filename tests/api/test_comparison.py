"""An earlier and a later inspection of one lateral side by side."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from tests import builders, people
from tests.api.answers import draft_of, fault_codes, job_of, nothing_changes, read, refused, sealed_of
from tests.client import Api

pytestmark = pytest.mark.usefixtures("works")

# Two years later: the fracture has become broken pieces, the roots are cut, the offset of the joint went from
# 1.0 in to 1.6 in (25.4 to 40.6 mm; doubt a quarter of the larger, 10.2 mm), the sag is as it was, a hole is new.
LATER = [
    {"ref": "q", "kind": "broken", "at": 27.4, "clock_from": 10, "clock_to": 2},
    {"ref": "r", "kind": "displaced_joint", "at": 36, "offset": 1.6, "at_joint": True},
    {"ref": "s", "kind": "sag", "at": 44, "to": 49, "percent": 40},
    {"ref": "t", "kind": "hole", "at": 20, "clock_from": 6},
]


@pytest.fixture
def then(api: Api) -> dict[str, Any]:
    """The first inspection."""
    return sealed_of(api)


@pytest.fixture
def now(api: Api, then: dict[str, Any]) -> dict[str, Any]:
    """The inspection two years later, under a job of its own."""
    job = job_of(api, external_ref="AF-1002", purpose="post_repair")
    return sealed_of(api, job, defects=LATER, started_at="2029-03-01T08:20:00-05:00")


def refs(group: list[dict[str, Any]], side: str) -> list[str]:
    """The refs that one inspection has in a group, as its inspector wrote them."""
    return [one[side]["sources"][0]["ref"] for one in group if one[side]]


def test_the_latest_job_is_compared_with_the_one_before(api: Api, then: Any, now: Any) -> None:
    found = read(api.get(f"/laterals/{then['lateral']}/comparison"))
    assert (found["earlier"]["runs"], found["later"]["runs"]) == ([then["id"]], [now["id"]])
    assert (found["earlier"]["inspected_on"], found["later"]["inspected_on"]) == ("2027-03-01", "2029-03-01")
    assert refs(found["new"], "later") == ["t"]
    assert refs(found["repaired"], "earlier") == ["a"]
    assert refs(found["grown"], "later") == ["q", "r"]
    assert refs(found["unchanged"], "later") + refs(found["not_seen"], "later") == ["s"]


def test_by_how_much_something_grew_is_said_in_the_units_asked_for(api: Api, then: Any, now: Any) -> None:
    path = f"/laterals/{then['lateral']}/comparison"
    for units, wanted in (("us", (1, 1.6, 0.4)), ("si", (25.4, 40.64, 10.16))):
        found = read(api.get(f"{path}?units={units}"))
        grown = next(one for one in found["grown"] if one["later"]["kind"] == "displaced_joint")
        [change] = grown["changes"]
        assert (change["measure"], change["worse"]) == ("offset", True)
        assert tuple(float(change[key]) for key in ("earlier", "later", "doubt")) == pytest.approx(wanted)
        assert found["units"] == units
    in_feet, in_metres = (float(read(api.get(f"{path}?units={u}"))["compared_length"]) for u in ("us", "si"))
    assert in_metres == pytest.approx(in_feet * 0.3048, abs=0.001)


def test_inspections_are_named_by_runs_or_by_jobs(api: Api, then: Any, now: Any) -> None:
    path = f"/laterals/{then['lateral']}/comparison"
    usual = read(api.get(path))
    for earlier, later in ((then["id"], now["id"]), (then["job"], now["job"]), (then["id"], now["job"])):
        assert read(api.get(f"{path}?earlier={earlier}&later={later}")) == usual
    assert read(api.get(f"{path}?later={now['job']}")) == usual
    assert read(api.get(f"{path}?earlier={then['job']}")) == usual


def test_several_runs_make_one_inspection(api: Api, then: Any, now: Any) -> None:
    second = read(api.post("/runs", builders.upstream_run(then["job"])), 201)
    read(api.post(f"/runs/{second['id']}/submit"), 202)
    path = f"/laterals/{then['lateral']}/comparison"
    both = read(api.get(path))
    assert sorted(both["earlier"]["runs"]) == sorted([then["id"], second["id"]])
    assert read(api.get(f"{path}?earlier={then['id']},{second['id']}"))["new"] == both["new"]
    one = read(api.get(f"{path}?earlier={then['id']}"))
    assert one["inputs_sha256"] != both["inputs_sha256"]


def test_one_inspection_alone_is_nothing_to_compare(api: Api, then: Any) -> None:
    path = f"/laterals/{then['lateral']}/comparison"
    with nothing_changes():
        refused(api.get(path), 409, "nothing_to_compare")
        refused(api.get(f"{path}?later={then['id']}"), 409, "nothing_to_compare")
        refused(api.get(f"{path}?earlier={then['job']}"), 409, "nothing_to_compare")


def test_what_is_named_and_not_there_is_said_at_its_place(api: Api, then: Any, now: Any) -> None:
    elsewhere = sealed_of(api, job_of(api, external_ref="AF-9", property={"address": {"line1": "3 Weir Row"}}))
    draft = draft_of(api, job_of(api, external_ref="AF-10"))
    path = f"/laterals/{then['lateral']}/comparison"
    cases = [
        (uuid.uuid4(), "no_such_record"),
        (elsewhere["id"], "run_of_other_lateral"),
        (elsewhere["job"], "job_without_runs"),
        (draft["id"], "run_is_draft"),
        (draft["job"], "job_without_runs"),
    ]
    with nothing_changes():
        for id, code in cases:
            for side in ("earlier", "later"):
                problem = refused(api.get(f"{path}?{side}={id}"), 422, "invalid", f"/{side}")
                assert fault_codes(problem) == {f"/{side}": code}
        refused(api.get(f"{path}?earlier=x"), 400, "malformed", "/earlier")
        refused(api.get(f"{path}?earlier="), 400, "malformed", "/earlier")
        refused(api.get(f"{path}?earlier={','.join([then['id']] * 21)}"), 422, "invalid", "/earlier")
        refused(api.get(f"{path}?colour=red"), 400, "malformed", "/colour")


def test_two_inspections_share_no_run_and_stand_in_order_of_time(api: Api, then: Any, now: Any) -> None:
    path = f"/laterals/{then['lateral']}/comparison"
    same = refused(api.get(f"{path}?earlier={now['id']}&later={now['job']}"), 422, "invalid", "/later")
    assert fault_codes(same) == {"/later": "same_run"}
    swapped = refused(api.get(f"{path}?earlier={now['id']}&later={then['id']}"), 422, "invalid", "/earlier")
    assert fault_codes(swapped) == {"/earlier": "later_than_later"}


def test_what_must_not_wait_stands_on_top(api: Api, then: Any) -> None:
    job = job_of(api, external_ref="AF-1002")
    line = {"ref": "g", "kind": "foreign_line", "at": 30}
    sealed_of(api, job, defects=[line], started_at="2029-03-01T08:20:00-05:00")
    found = read(api.get(f"/laterals/{then['lateral']}/comparison"))
    assert [one["code"] for one in found["alarms"]] == ["foreign_line"]


def test_a_comparison_of_another_firm_does_not_exist(
    api: Api, rival_api: Api, firm: people.Firm, then: Any, now: Any
) -> None:
    path = f"/laterals/{then['lateral']}/comparison"
    blind = Api(firm.token("runs:write"))
    with nothing_changes():
        refused(rival_api.get(path), 404, "not_found")
        refused(blind.get(path), 403, "scope_missing")
    mine = sealed_of(rival_api)
    problem = refused(rival_api.get(f"/laterals/{mine['lateral']}/comparison?earlier={then['id']}"), 422, "invalid")
    assert fault_codes(problem) == {"/earlier": "no_such_record"}
