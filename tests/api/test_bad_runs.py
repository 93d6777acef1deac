"""What is wrong in a run is refused at once, every fault by its place, and nothing changes."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests import builders
from tests.api.answers import fault_codes, job_of, nothing_changes, refused
from tests.client import Api

JOINT = {"kind": "joint", "at": 3}
CRACK = {"kind": "crack", "at": 3}
PIPE = {"from": 0, "to": 60}

# What is wrong by content: 422. Each: what is sent, where the fault is, its code.
CONTENT: list[tuple[str, dict[str, Any], str, str]] = [
    ("unknown units", {"units": "metric"}, "/units", "unknown_value"),
    ("to before from", {"segments": [{"from": 9, "to": 2}]}, "/segments/0/to", "to_before_from"),
    ("defect to before at", {"defects": [{**CRACK, "at": 9, "to": 2}]}, "/defects/0/to", "to_before_from"),
    ("unseen to before from", {"unseen": [{"from": 9, "to": 2, "reason": "fog"}]}, "/unseen/0/to", "to_before_from"),
    ("counter runs back", {"counter_start": 70}, "/counter_end", "to_before_from"),
    ("segment without length", {"segments": [{"from": 2, "to": 2}]}, "/segments/0/to", "no_length"),
    ("segment too short", {"segments": [{"from": 2, "to": 2.00000000001}]}, "/segments/0/to", "no_length"),
    ("segment beyond the end", {"segments": [{"from": 0, "to": 60.1}]}, "/segments/0/to", "beyond_counter_end"),
    ("feature beyond the end", {"features": [{"kind": "joint", "at": 61}]}, "/features/0/at", "beyond_counter_end"),
    ("defect beyond the end", {"defects": [{"kind": "hole", "at": 60.01}]}, "/defects/0/at", "beyond_counter_end"),
    ("defect runs beyond", {"defects": [{**CRACK, "to": 61}]}, "/defects/0/to", "beyond_counter_end"),
    ("unseen beyond", {"unseen": [{"from": 61, "reason": "fog"}]}, "/unseen/0/from", "beyond_counter_end"),
    ("before the start", {"counter_start": 3.5}, "/features/0/at", "before_counter_start"),
    ("overlap", {"segments": [PIPE, {"from": 59.9, "to": 60}]}, "/segments/1/from", "segments_overlap"),
    ("clock of 0", {"features": [{**JOINT, "clock_from": 0}]}, "/features/0/clock_from", "not_on_the_dial"),
    ("clock of 13", {"defects": [{**CRACK, "clock_to": 13}]}, "/defects/0/clock_to", "not_on_the_dial"),
    ("clock of 12.01", {"defects": [{**CRACK, "clock_to": 12.01}]}, "/defects/0/clock_to", "not_on_the_dial"),
    ("percent 100.1", {"defects": [{"kind": "sag", "at": 3, "percent": 100.1}]}, "/defects/0/percent", "too_large"),
    ("negative percent", {"defects": [{"kind": "sag", "at": 3, "percent": -1}]}, "/defects/0/percent", "too_small"),
    ("unknown kind", {"defects": [{"kind": "crak", "at": 3}]}, "/defects/0/kind", "unknown_value"),
    ("unknown feature", {"features": [{"kind": "hinge", "at": 3}]}, "/features/0/kind", "unknown_value"),
    ("kind left out", {"defects": [{"at": 3}]}, "/defects/0/kind", "required"),
    ("place left out", {"defects": [{"kind": "hole"}]}, "/defects/0/at", "required"),
    ("degree of another kind", {"defects": [{**CRACK, "degree": "plug"}]}, "/defects/0/degree", "degree_not_of_kind"),
    ("measure of another kind", {"defects": [{**CRACK, "offset": 1}]}, "/defects/0/offset", "measure_not_of_kind"),
    (
        "pattern of a hole",
        {"defects": [{"kind": "hole", "at": 3, "pattern": "spiral"}]},
        "/defects/0/pattern",
        "measure_not_of_kind",
    ),
    (
        "one ref twice",
        {"defects": [{**CRACK, "ref": "1"}, {**CRACK, "ref": "01"}, {**CRACK, "ref": "1"}]},
        "/defects/2/ref",
        "ref_taken",
    ),
    ("stopped_by without a stop", {"stopped_by": "bend"}, "/stopped_by", "not_stopped"),
    ("ends before it starts", {"ended_at": "2027-03-01T08:00:00-05:00"}, "/ended_at", "end_before_start"),
    ("direction left out", {"direction": None}, "/direction", "null"),
    ("blank text", {"inspector": "  "}, "/inspector", "empty_text"),
    ("too long a text", {"inspector": "x" * 201}, "/inspector", "too_long"),
    ("no digest", {"clips": [{"uri": "a", "sha256": "AB"}]}, "/clips/0/sha256", "not_a_digest"),
    ("too many clips", {"clips": [{"uri": "a"}] * 201}, "/clips", "too_many"),
    ("diameter 0", {"segments": [{**PIPE, "diameter": 0}]}, "/segments/0/diameter", "too_small"),
    ("diameter of dust", {"segments": [{**PIPE, "diameter": 1e-9}]}, "/segments/0/diameter", "too_small"),
    ("spacing of dust", {"segments": [{**PIPE, "joint_spacing": 1e-9}]}, "/segments/0/joint_spacing", "too_small"),
]

# What is wrong by form: 400.
FORM: list[tuple[str, dict[str, Any], str, str]] = [
    ("unknown field", {"colour": "red"}, "/colour", "unknown_field"),
    ("unknown field inside", {"defects": [{**CRACK, "clok": 3}]}, "/defects/0/clok", "unknown_field"),
    ("5 as text", {"counter_end": "60"}, "/counter_end", "not_a_number"),
    ("a text as 5", {"inspector": 5}, "/inspector", "not_text"),
    ("true as a number", {"counter_end": True}, "/counter_end", "not_a_number"),
    ("1 as true", {"defects": [{**CRACK, "at_joint": 1}]}, "/defects/0/at_joint", "not_yes_or_no"),
    ("a word of a list as number", {"direction": 1}, "/direction", "not_text"),
    ("no time", {"started_at": "yesterday"}, "/started_at", "not_a_time"),
    ("a date only", {"started_at": "2027-03-01"}, "/started_at", "not_a_time"),
    ("no offset", {"started_at": "2027-03-01T08:00:00"}, "/started_at", "no_offset"),
    ("no such day", {"started_at": "2027-02-29T08:00:00Z"}, "/started_at", "not_a_time"),
    ("offset +22:47", {"started_at": "2027-03-01T08:00:00+22:47"}, "/started_at", "not_a_time"),
    ("an object for a list", {"defects": {}}, "/defects", "not_a_list"),
    ("a list for an object", {"camera": []}, "/camera", "not_an_object"),
    ("a number for an entry", {"features": [3]}, "/features/0", "not_an_object"),
    ("no id", {"job": "AF-1001"}, "/job", "not_a_uuid"),
]

# What no JSON reader should take: 400. Each: text put in for the inspector's name or the counter's end.
RAW: list[tuple[str, str, str, str]] = [
    ("NUL", '"Linden Marsh"', '"Lin\\u0000den"', "/inspector"),
    ("NUL byte escaped in a key", '"inspector"', '"insp\\u0000ector"', "/insp\ufffdector"),
    ("lone surrogate", '"Linden Marsh"', '"\\ud800"', "/inspector"),
    ("duplicate key", '"inspector":', '"inspector": "A", "inspector":', "/inspector"),
    ("10^400", '"counter_end": 60', '"counter_end": 1e400', "/counter_end"),
    ("2^53 + 1", '"counter_end": 60', '"counter_end": 9007199254740993', "/counter_end"),
    ("a number of 5,000 digits", '"counter_end": 60', '"counter_end": ' + "9" * 5000, "/counter_end"),
    ("a number of dust", '"counter_end": 60', '"counter_end": 1e-400', "/counter_end"),
    ("nesting of 40", '"Linden Marsh"', "[" * 40 + "]" * 40, "/inspector" + "/0" * 32),
]
UNREADABLE = [
    ("NaN", '"counter_end": 60', '"counter_end": NaN'),
    ("Infinity", '"counter_end": 60', '"counter_end": -Infinity'),
    ("a raw NUL", '"Linden Marsh"', '"Lin\x00den"'),
    ("nesting of 100,000", '"Linden Marsh"', "[" * 100_000 + "]" * 100_000),
    ("nesting never closed", '"Linden Marsh"', "[" * 100_000),
    ("a comma too many", '"counter_end": 60', '"counter_end": 60,'),
    ("an exponent of 30 digits", '"counter_end": 60', '"counter_end": 1e' + "9" * 30),
]


@pytest.mark.parametrize(("changes", "place", "code"), [row[1:] for row in CONTENT], ids=[row[0] for row in CONTENT])
def test_content_that_cannot_be_is_refused_by_its_place(
    api: Api, changes: dict[str, Any], place: str, code: str
) -> None:
    body = builders.run(job_of(api)["id"], **changes)
    with nothing_changes():
        assert fault_codes(refused(api.post("/runs", body), 422, "invalid", place))[place] == code


@pytest.mark.parametrize(("changes", "place", "code"), [row[1:] for row in FORM], ids=[row[0] for row in FORM])
def test_values_of_the_wrong_form_are_refused_by_their_place(
    api: Api, changes: dict[str, Any], place: str, code: str
) -> None:
    body = builders.run(job_of(api)["id"], **changes)
    with nothing_changes():
        assert fault_codes(refused(api.post("/runs", body), 400, "malformed", place))[place] == code


@pytest.mark.parametrize(("was", "put", "place"), [row[1:] for row in RAW], ids=[row[0] for row in RAW])
def test_what_json_readers_disagree_about_is_refused_by_its_place(api: Api, was: str, put: str, place: str) -> None:
    text = json.dumps(builders.run(job_of(api)["id"]))
    assert was in text
    with nothing_changes():
        refused(api.post("/runs", text.replace(was, put)), 400, "malformed", place)


@pytest.mark.parametrize(("was", "put"), [row[1:] for row in UNREADABLE], ids=[row[0] for row in UNREADABLE])
def test_what_is_no_json_is_refused(api: Api, was: str, put: str) -> None:
    text = json.dumps(builders.run(job_of(api)["id"]))
    assert was in text
    with nothing_changes():
        refused(api.post("/runs", text.replace(was, put)), 400, "malformed")


def test_all_faults_are_named_at_once(api: Api) -> None:
    body = builders.run(
        job_of(api)["id"],
        units="metric",
        colour="red",
        segments=[{"from": 9, "to": 2}, {"from": 0, "to": 70}],
        defects=[{"kind": "crak", "at": 3, "clock_from": 13}, {"kind": "sag", "at": 99, "percent": 101}],
    )
    with nothing_changes():
        problem = refused(api.post("/runs", body), 400, "malformed")
    assert fault_codes(problem) == {
        "/colour": "unknown_field",
        "/units": "unknown_value",
        "/segments/0/to": "to_before_from",
        "/segments/1/to": "beyond_counter_end",
        "/segments/0/from": "segments_overlap",
        "/defects/0/kind": "unknown_value",
        "/defects/0/clock_from": "not_on_the_dial",
        "/defects/1/percent": "too_large",
        "/defects/1/at": "beyond_counter_end",
    }


def test_a_misspelt_word_hears_the_near_one(api: Api) -> None:
    body = builders.run(job_of(api)["id"], defects=[{"kind": "crak", "at": 3, "clok_from": 3}])
    details = {one["pointer"]: one["detail"] for one in refused(api.post("/runs", body), 400, "malformed")["errors"]}
    assert "Did you mean crack?" in details["/defects/0/kind"]
    assert "did you mean clock_from?" in details["/defects/0/clok_from"]


@pytest.mark.parametrize("clock", [0.01, 12])
def test_both_ends_of_the_dial_are_taken(api: Api, clock: float) -> None:
    defects = [{"kind": "sag", "at": 60, "percent": 100, "clock_from": clock}]
    assert api.post("/runs", builders.run(job_of(api)["id"], defects=defects)).status_code == 201
