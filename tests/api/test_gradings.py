"""Several schemes on one pipe: each grading under its own scheme and direction, old ones readable for ever."""

from __future__ import annotations

from typing import Any

import pytest

from inspections import exact_json
from scoring.grading import BUILT_IN_SCHEMES
from tests import people
from tests.api.answers import draft_of, nothing_changes, plain, read, refused, sealed_of
from tests.client import Api

pytestmark = pytest.mark.usefixtures("works")


@pytest.fixture
def keeper(firm: people.Firm) -> Api:
    """A client of the firm that may load schemes."""
    return Api(firm.token("admin", client="keeper"))


def next_version(code: str = "open-five", **changes: Any) -> dict[str, Any]:
    """A built-in scheme once more under the next number."""
    document = exact_json.load(exact_json.write_text(BUILT_IN_SCHEMES[code]))
    return {**document, "version": int(document["version"]) + 1, **changes}


def loaded(keeper: Api, document: dict[str, Any], *, is_default: bool = False) -> dict[str, Any]:
    """Have a scheme loaded."""
    asked = plain({"document": document, "is_default": is_default})
    scheme: dict[str, Any] = read(keeper.post("/grading-schemes", asked), 201)
    return scheme


def test_a_submit_grades_the_run_under_every_scheme(api: Api) -> None:
    run = sealed_of(api)
    for code, document in BUILT_IN_SCHEMES.items():
        grading = read(api.get(f"/runs/{run['id']}/grading?scheme={code}"))
        assert (grading["scheme"]["id"], grading["scheme"]["worst"]) == (code, document["direction"]["worst"])
    assert read(api.get(f"/runs/{run['id']}/grading"))["scheme"]["id"] == "open-five"


def test_a_lateral_is_shown_under_every_scheme_with_its_direction_the_default_first(api: Api) -> None:
    run = sealed_of(api)
    shown = read(api.get(f"/laterals/{run['lateral']}/gradings"))
    assert [one["scheme"]["id"] for one in shown["gradings"]] == [
        "open-five",
        *sorted(set(BUILT_IN_SCHEMES) - {"open-five"}),
    ]
    directions = {one["scheme"]["id"]: (one["scheme"]["best"], one["scheme"]["worst"]) for one in shown["gradings"]}
    assert directions == {"open-five": (1, 5), "five-class": (5, 1), "density-four": (1, 4)}
    assert shown["is_current"] is True


def test_where_schemes_disagree_is_said_for_the_whole_and_for_each_finding(api: Api) -> None:
    run = sealed_of(api)
    shown = read(api.get(f"/laterals/{run['lateral']}/gradings"))
    assert [one["aspect"] for one in shown["disagreements"][:3]] == ["structural", "service", "overall"]
    by_scheme = {one["scheme"]["id"]: one for one in shown["gradings"]}
    for said in shown["disagreements"]:
        assert [one["scheme"] for one in said["opinions"]] == [one["scheme"]["id"] for one in shown["gradings"]]
        if said["ref"] is None:
            for opinion in said["opinions"]:
                assert opinion["grade"] == by_scheme[opinion["scheme"]][said["aspect"]]["grade"]


def test_schemes_that_give_the_same_severity_in_opposite_directions_do_not_disagree(api: Api) -> None:
    """A sag of 40 %: open-five 3 of 1 to 5, the handbook's class 3 of 5 to 1: both half way (25 to 50 % row)."""
    run = sealed_of(api, defects=[{"ref": "d", "kind": "sag", "at": 44, "to": 49, "percent": 40}])
    shown = read(api.get(f"/laterals/{run['lateral']}/gradings"))
    service = next(one for one in shown["disagreements"] if (one["ref"], one["aspect"]) == (None, "service"))
    said = {one["scheme"]: (one["grade"], one["severity"]) for one in service["opinions"]}
    assert said["open-five"] == (3, 0.5)
    assert said["five-class"] == (3, 0.5)


def test_the_lateral_is_read_under_the_scheme_asked_for(api: Api) -> None:
    run = sealed_of(api)
    path = f"/laterals/{run['lateral']}"
    for code in BUILT_IN_SCHEMES:
        assert read(api.get(f"{path}?scheme={code}"))["grading"]["scheme"]["id"] == code
    assert read(api.get(path))["grading"]["scheme"]["id"] == "open-five"
    refused(api.get(f"{path}?scheme=nowhere"), 404, "not_graded_yet")
    refused(api.get(f"{path}?scheme=%00"), 404, "not_graded_yet")


def test_a_run_is_also_graded_under_a_scheme_loaded_before_its_submit(api: Api, keeper: Api) -> None:
    scheme = loaded(keeper, next_version(id="own-five", version=1))
    run = sealed_of(api)
    assert read(api.get(f"/runs/{run['id']}/grading?scheme=own-five"))["scheme"]["version"] == 1
    assert read(api.get(f"/runs/{run['id']}/grading?scheme={scheme['id']}"))["scheme"]["id"] == "own-five"


def test_an_old_grading_stays_readable_under_the_version_that_made_it(api: Api, keeper: Api) -> None:
    run = sealed_of(api)
    before = read(api.get(f"/runs/{run['id']}/grading"))
    loaded(keeper, next_version(), is_default=True)
    assert read(api.get(f"/runs/{run['id']}/grading")) == before
    assert read(api.get(f"/laterals/{run['lateral']}"))["grading"]["scheme"]["version"] == before["scheme"]["version"]
    read(api.post(f"/runs/{run['id']}/amendments", {"reason": "x", "changes": {"inspector": "Ash Heath"}}), 201)
    kept = read(api.get(f"/runs/{run['id']}/gradings"))["items"]
    assert before in kept
    five = [(one["scheme"]["version"], one["run_revision"]) for one in kept if one["scheme"]["id"] == "open-five"]
    assert five == [(1, 1), (2, 3)]
    assert {one["rules_version"] for one in kept} == {before["rules_version"]}
    assert len({one["inputs_sha256"] for one in kept}) == len(kept)


def test_kept_gradings_come_in_pages_and_in_the_units_asked_for(api: Api) -> None:
    run = sealed_of(api)
    first = read(api.get(f"/runs/{run['id']}/gradings?limit=1&units=si"))
    assert first["items"][0]["units"] == "si"
    ids = [first["items"][0]["id"]]
    while first["next"]:
        first = read(api.get(first["next"].split("/api/v1")[1]))
        ids += [one["id"] for one in first["items"]]
    assert len(set(ids)) == len(ids) == len(BUILT_IN_SCHEMES)


def test_a_lateral_without_a_grading_says_so(api: Api) -> None:
    draft = draft_of(api)
    refused(api.get(f"/laterals/{draft['lateral']}/gradings"), 404, "not_graded_yet")
    refused(api.get(f"/laterals/{draft['lateral']}?scheme=open-five"), 404, "not_graded_yet")
    assert read(api.get(f"/runs/{draft['id']}/gradings"))["items"] == []


def test_gradings_of_another_firm_do_not_exist(api: Api, rival_api: Api, firm: people.Firm) -> None:
    run = sealed_of(api)
    blind = Api(firm.token("runs:write"))
    for path in (f"/runs/{run['id']}/gradings", f"/laterals/{run['lateral']}/gradings"):
        with nothing_changes():
            refused(rival_api.get(path), 404, "not_found")
            refused(blind.get(path), 403, "scope_missing")
            refused(api.get(f"{path}?colour=red"), 400, "malformed", "/colour")


def test_a_reading_in_feet_comes_back_as_it_was_written_not_as_its_rounding_in_metres(api: Api) -> None:
    """48.8 ft are 14.87424 m, kept as 14.8742, which is 48.79987 ft."""
    run = sealed_of(api, unseen=[{"from": 44.3, "to": 48.8, "reason": "fog"}])
    [unseen] = read(api.get(f"/runs/{run['id']}/grading?units=us"))["coverage"]["unseen"]
    assert (float(unseen["from"]), float(unseen["to"])) == (44.3, 48.8)
    assert float(read(api.get(f"/runs/{run['id']}/grading?units=si"))["coverage"]["unseen"][0]["to"]) == 14.8742
