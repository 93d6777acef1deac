"""Rows of observations with their real dirt: what is sound is taken, the rest is named, nothing is dropped."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import pytest

from inspections.models import AuditEntry, Event, ImportedObservation
from tests import people
from tests.api.answers import draft_of, fault_codes, job_of, nothing_changes, read, refused
from tests.api.test_code_maps import ALDER
from tests.client import Api

Answer = list[dict[str, Any]]


def row(ref: str, at: float, kind: str | None = "crack", **changes: Any) -> dict[str, Any]:
    """One observation of the run R-1 of the job AF-1001."""
    return {"job": "AF-1001", "run": "R-1", "ref": ref, "units": "us", "at": at, "kind": kind, **changes}


def text_of(rows: list[Any]) -> str:
    return "\n".join(one if isinstance(one, str) else json.dumps(one) for one in rows) + "\n"


def send(api: Api, rows: list[Any], *, key: str = "", query: str = "") -> Any:
    headers = {"Idempotency-Key": key or f"key-{hash(text_of(rows))}"}
    return api._send("POST", f"/imports{query}", text_of(rows), headers, media="application/x-ndjson")


def lines_of(response: Any) -> Answer:
    assert response.status_code == 200, response.content[:500]
    assert response.headers["Content-Type"] == "application/x-ndjson"
    return [json.loads(line) for line in response.content.decode().splitlines()]


def codes(answer: Answer) -> list[tuple[str, str | None]]:
    return [(one["outcome"], one["code"]) for one in answer]


@pytest.fixture
def run(api: Api) -> dict[str, Any]:
    """A draft of 60 ft without findings."""
    return draft_of(api, external_ref="R-1", defects=[], features=[], unseen=[])


def defects(api: Api, run: dict[str, Any]) -> list[tuple[str, float, float | None]]:
    found = read(api.get(f"/runs/{run['id']}"))["defects"]
    return [(one["ref"], float(one["at"]), one["to"] and float(one["to"])) for one in found]


def test_sound_rows_stand_in_their_run_as_if_they_had_been_sent_with_it(api: Api, run: dict[str, Any]) -> None:
    rows = [
        row("1", 12.50, "roots", degree="bundles", at_joint=True, clock_from=3, note="by the elm"),
        row("2", 20, label="S1", mark="start"),
        row("3", 24, label="S1", mark="finish"),
        row("4", 30, "bend", label="first bend", clock_from=9),
    ]
    assert codes(lines_of(send(api, rows))) == [("taken", None)] * 4
    assert defects(api, run) == [("1", 12.5, None), ("2", 20, 24)]
    found = read(api.get(f"/runs/{run['id']}"))
    assert (found["defects"][0]["degree"], found["defects"][0]["note"]) == ("bundles", "by the elm")
    assert [(one["kind"], one["label"]) for one in found["features"]] == [("bend", "first bend")]
    assert b'"at":12.5' in api.get(f"/runs/{run['id']}").content


def test_every_kind_of_dirt_is_flagged_and_none_is_dropped(api: Api, run: dict[str, Any]) -> None:
    rows = [
        row("a", 5, label="S1", mark="start"),
        row("b", 9, label="S1", mark="finish"),
        row("c", 15, label="S01", mark="start"),
        row("d", 19, label="S01", mark="finish"),
        row("e", 21, "roots", label="S2", mark="start"),  # never finished
        row("f", 22, "roots", label="S3", mark="finish"),  # never started
        row("g", 30, label="S4", mark="start"),  # two starts, one finish
        row("h", 31, label="S4", mark="start"),
        row("i", 33, label="S4", mark="finish"),
        row("j", 60.5),  # the run is 60 ft long
        row("k", 40, "hole", clock_from=0),
        row("l", 41, "hole", clock_from=3, clock_to=0),
        row("m", 42, mark="start"),
        row("n", 43, label="S5"),
        row("o", 48, label="S6", mark="start"),
        row("p", 46, label="S6", mark="finish"),
        row("q", 50, "crack", label="S7", mark="start"),
        row("r", 52, "roots", label="S7", mark="finish"),
    ]
    answer = lines_of(send(api, rows))
    assert [one["line"] for one in answer] == list(range(1, len(rows) + 1))
    assert [one["ref"] for one in answer] == [one["ref"] for one in rows]
    assert codes(answer) == [
        *[("flagged", "label_looks_like_another")] * 4,
        ("flagged", "unclosed"),
        ("flagged", "unopened"),
        *[("flagged", "doubled")] * 3,
        ("flagged", "beyond_surveyed_length"),
        *[("flagged", "clock_zero")] * 2,
        ("flagged", "unlabelled"),
        ("flagged", "unmarked"),
        *[("flagged", "backwards")] * 2,
        *[("flagged", "crossed")] * 2,
    ]
    assert [one["ref"] for one in answer if not one["in_run"]] == ["j"]
    # Two stretches and every other sighting as a point; of the two ends of a stretch one carries it.
    assert {ref for ref, _, _ in defects(api, run)} == {one["ref"] for one in rows} - {"b", "d", "j"}
    stretches = {ref: (at, to) for ref, at, to in defects(api, run) if to is not None}
    assert stretches == {"a": (5, 9), "c": (15, 19)}
    kept = read(api.get(f"/runs/{run['id']}/imported-observations?limit=200"))["items"]
    assert {one["ref"] for one in kept} == {one["ref"] for one in rows}
    assert {one["ref"]: one["findings"] for one in kept} == {one["ref"]: one["findings"] for one in answer}
    beyond = next(one for one in kept if one["ref"] == "j")
    assert (float(beyond["sent"]["at"]), beyond["in_run"]) == (60.5, False)


def test_what_is_not_sound_is_refused_by_line_and_the_rest_is_taken(api: Api, run: dict[str, Any]) -> None:
    draft_of(api, read(api.get(f"/jobs/{run['job']}")), external_ref="R-2")
    sealed = draft_of(api, read(api.get(f"/jobs/{run['job']}")), external_ref="R-3")
    read(api.post(f"/runs/{sealed['id']}/submit"), 202)
    rows: list[Any] = [
        row("1", 5),
        "{not json",
        "",
        "[]",
        row("2", 5, colour="red"),
        row("3", -1),
        row("4", 5, "crak"),
        row("5", 5, percent=10),
        row("6", 5, None),
        row("7", 5, job="AF-9999"),
        row("8", 5, run="R-9"),
        row("9", 5, run="R-3"),
        row("10", 5, units="si"),
        row("11", 5, None, code="K1"),
        row("1", 6),
        row("a", 5, run="R-2"),  # the inspector named a defect so
        row("12", 5, clock_from=13),
        row("13", 5, note="\x00"),
        row("14", 7),
    ]
    answer = lines_of(send(api, rows))
    assert [one["code"] for one in answer] == [
        None,
        "not_json",
        "not_json",
        "not_an_object",
        "unknown_field",
        "too_small",
        "unknown_value",
        "measure_not_of_kind",
        "kind_or_code",
        "job_unknown",
        "run_unknown",
        "run_is_sealed",
        "units_differ",
        "code_map_unknown",
        "ref_taken",
        "ref_taken",
        "too_large",
        "unusable_character",
        None,
    ]
    assert Counter(one["outcome"] for one in answer) == {"taken": 2, "refused": 17}
    assert all(one["detail"] and not one["in_run"] for one in answer if one["outcome"] == "refused")
    assert defects(api, run) == [("1", 5, None), ("14", 7, None)]


def test_a_stretch_whose_ends_come_in_two_imports_becomes_one(api: Api, run: dict[str, Any]) -> None:
    start, finish = row("1", 20, label="S1", mark="start"), row("2", 24, label="S1", mark="finish")
    assert codes(lines_of(send(api, [start]))) == [("flagged", "unclosed")]
    assert defects(api, run) == [("1", 20, None)]
    assert codes(lines_of(send(api, [finish]))) == [("taken", None)]
    assert defects(api, run) == [("1", 20, 24)]
    kept = read(api.get(f"/runs/{run['id']}/imported-observations"))["items"]
    assert [(one["ref"], one["outcome"]) for one in kept] == [("1", "taken"), ("2", "taken")]


def test_a_row_beyond_the_length_is_taken_once_the_length_is_corrected(api: Api, run: dict[str, Any]) -> None:
    late = [row("1", 61)]
    assert codes(lines_of(send(api, late))) == [("flagged", "beyond_surveyed_length")]
    assert defects(api, run) == []
    read(api.patch(f"/runs/{run['id']}", {"counter_end": 62}, **{"If-Match": "*"}))
    assert codes(lines_of(send(api, late, key="again"))) == [("taken", "already_here")]
    assert defects(api, run) == [("1", 61, None)]


def test_what_a_person_changed_in_the_draft_is_not_written_over(api: Api, run: dict[str, Any]) -> None:
    lines_of(send(api, [row("1", 20, label="S1", mark="start")]))
    document = read(api.get(f"/runs/{run['id']}"))["defects"][0]
    mine = {**document, "kind": "fracture", "at": 20}
    read(api.patch(f"/runs/{run['id']}", {"defects": [mine]}, **{"If-Match": "*"}))
    answer = lines_of(send(api, [row("2", 24, label="S1", mark="finish")]))
    assert read(api.get(f"/runs/{run['id']}"))["defects"] == [mine]
    kept = {one["ref"]: one for one in read(api.get(f"/runs/{run['id']}/imported-observations"))["items"]}
    assert [one["code"] for one in kept["1"]["findings"]] == ["changed_since"]
    assert codes(answer) == [("taken", None)]


def test_rows_in_codes_are_read_by_the_firms_code_map_with_what_it_loses(
    api: Api, firm: people.Firm, run: dict[str, Any]
) -> None:
    admin = Api(firm.token("admin"))
    read(admin.post("/code-maps", {"document": ALDER}), 201)
    rows = [
        row("1", 5, None, code="K1", code_map="alder-codes", width_mm=0.8, clock_from=11),
        row("2", 6, None, code="V1", code_map="alder-codes", offset=1.5, degree="severe"),
        row("3", 7, None, code="k1", code_map="alder-codes"),
        row("4", 8, None, code="M", code_map="alder-codes", label="first bend"),
    ]
    answer = lines_of(send(api, rows))
    assert codes(answer) == [
        ("taken", None),
        ("flagged", "value_not_taken"),
        ("refused", "code_unknown"),
        ("taken", None),
    ]
    found = read(api.get(f"/runs/{run['id']}"))
    assert [(one["kind"], one["at_joint"], one["offset"]) for one in found["defects"]] == [
        ("crack", False, None),
        ("displaced_joint", True, 1.5),
    ]
    assert found["features"][0]["label"] == "first bend"


def test_rows_that_say_how_their_run_went_make_a_draft(api: Api) -> None:
    job = job_of(api)
    rows = [row("1", 5, direction="downstream", surveyed_length=48.50), row("2", 6, surveyed_length=50), row("3", 49)]
    answer = lines_of(send(api, rows))
    assert codes(answer) == [
        ("taken", None),
        ("flagged", "surveyed_length_differs"),
        ("flagged", "beyond_surveyed_length"),
    ]
    [run] = read(api.get("/runs?external_ref=R-1"))["items"]
    assert (run["job"], run["direction"], float(run["counter_end"]), run["state"]) == (
        job["id"],
        "downstream",
        48.5,
        "draft",
    )


def test_an_import_is_safe_to_repeat(api: Api, run: dict[str, Any]) -> None:
    rows = [row("1", 5), row("2", 6, clock_from=0)]
    first = send(api, rows, key="once")
    with nothing_changes():
        again = send(api, rows, key="once")
    assert (again.content, again.headers["Idempotency-Replayed"]) == (first.content, "true")
    assert again.headers["Content-Type"] == "application/x-ndjson"
    revision = read(api.get(f"/runs/{run['id']}"))["revision"]
    assert codes(lines_of(send(api, rows, key="twice"))) == [("taken", "already_here"), ("flagged", "clock_zero")]
    assert read(api.get(f"/runs/{run['id']}"))["revision"] == revision
    assert ImportedObservation.objects.count() == 2


def test_a_dry_run_says_the_same_and_changes_nothing(api: Api, run: dict[str, Any]) -> None:
    rows = [row("1", 5), row("2", 61), row("3", 5, "crak")]
    with nothing_changes():
        tried = send(api, rows, query="?dry_run=true")
    assert lines_of(tried) == lines_of(send(api, rows, key="real"))


def test_an_import_is_kept_with_its_counts_one_entry_and_one_event(api: Api, run: dict[str, Any]) -> None:
    response = send(api, [row("1", 5), row("2", 61), row("3", 5, "crak")])
    made = read(api.get(response.headers["Location"].removeprefix("/api/v1")))
    assert [made[name] for name in ("lines", "taken", "flagged", "refused")] == [3, 1, 1, 1]
    assert [one["id"] for one in read(api.get("/imports"))["items"]] == [made["id"]]
    assert AuditEntry.objects.filter(record_type="import", record_id=made["id"]).count() == 1
    assert Event.objects.filter(type="import.made").count() == 1
    assert AuditEntry.objects.filter(record_type="run", record_id=run["id"], action="changed").count() == 1


def test_the_request_itself_is_held_to_its_form(api: Api) -> None:
    with nothing_changes():
        refused(api.post("/imports", [row("1", 5)]), 415, "media_type_not_supported")
        refused(api._send("POST", "/imports", "{}", {}, media="application/x-ndjson"), 400, "idempotency_key_required")
        for rows in ([], ["{}"] * 2001):
            problem = refused(send(api, rows), 422, "invalid")
            assert fault_codes(problem) == {"": "line_count"}
        scattered = [{**row(str(n), 5), "run": f"R-{n}"} for n in range(201)]
        assert fault_codes(refused(send(api, scattered), 422, "invalid")) == {"": "run_count"}


def test_rows_reach_no_record_of_another_firm_and_need_the_scope(
    api: Api, rival_api: Api, firm: people.Firm, run: dict[str, Any]
) -> None:
    reader = Api(firm.token("records:read"))
    with nothing_changes():
        refused(send(reader, [row("1", 5)]), 403, "scope_missing")
    assert codes(lines_of(send(rival_api, [row("1", 5)]))) == [("refused", "job_unknown")]
    assert defects(api, run) == []
    made = read(rival_api.get("/imports"))["items"][0]
    refused(api.get(f"/imports/{made['id']}"), 404, "not_found")
    refused(rival_api.get(f"/runs/{run['id']}/imported-observations"), 404, "not_found")
