"""A customer's own codes: loaded as versions, and findings said in them and read from them, with what gets lost."""

from __future__ import annotations

from typing import Any

import pytest

from tests import people
from tests.api.answers import fault_codes, nothing_changes, read, refused
from tests.client import Api

# Invented codes of an invented firm.
ALDER: dict[str, Any] = {
    "id": "alder-codes",
    "version": 1,
    "title": "Codes of the Alder Falls road office",
    "entries": [
        {"code": "K1", "kind": "crack", "carries": ["clock_from", "clock_to", "width_mm"]},
        {"code": "K2", "kind": "crack", "attributes": {"pattern": "multiple"}, "carries": ["width_mm"]},
        {"code": "V1", "kind": "displaced_joint", "attributes": {"at_joint": True}, "carries": ["offset_mm"]},
        {"code": "N", "kind": "infiltration", "carries": ["degree"]},
        {"code": "M", "what": "feature", "kind": "bend", "carries": ["label"]},
    ],
}


@pytest.fixture
def admin(firm: people.Firm) -> Api:
    """A client of the firm that may load code maps."""
    return Api(firm.token("admin"))


@pytest.fixture
def codes(admin: Api) -> str:
    """The id of the loaded map."""
    return str(read(admin.post("/code-maps", {"document": ALDER}), 201)["id"])


def test_a_code_map_is_loaded_as_a_version_and_never_changes(admin: Api, codes: str) -> None:
    assert read(admin.get(f"/code-maps/{codes}"))["document"] == ALDER
    with nothing_changes(but=("KeptAnswer",)):
        assert read(admin.post("/code-maps", {"document": ALDER}))["id"] == codes
    with nothing_changes():
        refused(admin.post("/code-maps", {"document": {**ALDER, "title": "Other"}}), 409, "version_exists")
    newer = read(admin.post("/code-maps", {"document": {**ALDER, "version": 2}}), 201)
    assert [row["version"] for row in read(admin.get("/code-maps?code=alder-codes"))["items"]] == [1, 2]
    assert newer["code"] == "alder-codes"


def test_every_fault_of_a_code_map_is_named_at_its_place(admin: Api) -> None:
    wrong = {
        "id": "x",
        "version": 1,
        "title": "x",
        "entries": [
            {"code": "A", "kind": "crak"},
            {"code": "A", "kind": "crack", "carries": ["colour"]},
            {"code": "B", "kind": "crack", "attributes": {"at_joint": "yes"}},
        ],
    }
    with nothing_changes():
        problem = refused(admin.post("/code-maps", {"document": wrong}), 422, "invalid")
    found = fault_codes(problem)
    assert found["/document/entries/0/kind"] == "unknown_value"
    assert found["/document/entries/1/code"] == "code_repeated"
    assert found["/document/entries/1/carries/0"] == "unknown_value"
    assert found["/document/entries/2/attributes/at_joint"] == "wrong_value"


def test_findings_are_said_in_codes_with_sizes_in_millimetres_and_what_is_lost(api: Api, codes: str) -> None:
    asked = {
        "units": "us",
        "defects": [
            {"ref": "a", "kind": "crack", "at": 3, "width_mm": 0.8, "clock_from": 11},
            {"ref": "b", "kind": "displaced_joint", "at": 6, "at_joint": True, "offset": 1.5, "degree": "severe"},
            {"ref": "c", "kind": "roots", "at": 9, "degree": "plug", "video_s": 12.5, "note": "All the bore."},
        ],
        "features": [{"kind": "bend", "at": 12, "label": "first bend", "clock_from": 3}],
    }
    with nothing_changes(but=("KeptAnswer",)):
        a, b, c, bend = read(api.post(f"/code-maps/{codes}/to-external", asked))["findings"]
    assert (a["ref"], a["code"], a["lost"]) == ("a", "K1", [])
    assert {name: float(value) for name, value in a["values"].items()} == {"clock_from": 11, "width_mm": 0.8}
    assert (b["code"], {name: float(v) for name, v in b["values"].items()}) == ("V1", {"offset_mm": 38.1})
    assert [(one["field"], one["value"]) for one in b["lost"]] == [("degree", "severe")]
    assert c["code"] is None
    assert [one["field"] for one in c["lost"]] == ["kind", "degree", "video_s", "note"]
    assert (bend["what"], bend["code"], bend["values"]) == ("feature", "M", {"label": "first bend"})
    assert [one["field"] for one in bend["lost"]] == ["clock_from"]


def test_codes_are_read_with_what_they_say_themselves_and_what_is_not_taken_over(api: Api, codes: str) -> None:
    asked = {
        "findings": [
            {"code": "K2", "values": {"width_mm": 2.5, "clock_from": 3}},
            {"code": "V1", "values": {"at_joint": False, "offset_mm": 20}},
            {"code": "M"},
        ]
    }
    crack, joint, bend = read(api.post(f"/code-maps/{codes}/from-external", asked))["findings"]
    assert (crack["what"], crack["kind"]) == ("defect", "crack")
    assert crack["attributes"] == {"pattern": "multiple", "width_mm": 2.5}
    assert [one["field"] for one in crack["lost"]] == ["clock_from"]
    assert joint["attributes"] == {"at_joint": True, "offset_mm": 20}
    assert [(one["field"], one["value"]) for one in joint["lost"]] == [("at_joint", False)]
    assert (bend["what"], bend["kind"], bend["attributes"], bend["lost"]) == ("feature", "bend", {}, [])


def test_what_was_said_in_codes_without_loss_is_read_back_the_same(api: Api, codes: str) -> None:
    defect = {"kind": "crack", "at": 3, "width_mm": 0.8, "clock_from": 11, "clock_to": 1}
    asked = {"units": "si", "defects": [defect]}
    [said] = read(api.post(f"/code-maps/{codes}/to-external", asked))["findings"]
    values = {name: float(value) for name, value in said["values"].items()}
    back = {"findings": [{"code": said["code"], "values": values}]}
    [meant] = read(api.post(f"/code-maps/{codes}/from-external", back))["findings"]
    assert said["lost"] == meant["lost"] == []
    assert {"kind": meant["kind"], **{n: float(v) for n, v in meant["attributes"].items()}} == {
        name: value for name, value in defect.items() if name != "at"
    }


def test_what_cannot_be_read_is_named_at_its_place(api: Api, codes: str) -> None:
    path = f"/code-maps/{codes}/from-external"
    asked = {"findings": [{"code": "k1"}, {"code": "K1", "values": {"width_mm": "2", "at_joint": 1}}]}
    problem = refused(api.post(path, asked), 422, "invalid")
    assert fault_codes(problem) == {
        "/findings/0/code": "code_unknown",
        "/findings/1/values/width_mm": "wrong_value",
        "/findings/1/values/at_joint": "wrong_value",
    }
    asked = {"findings": [{"code": "K1", "values": {"width_mm": 1001, "clock_from": 13, "clock_to": -1}}]}
    problem = refused(api.post(path, asked), 422, "invalid")
    assert fault_codes(problem) == {
        "/findings/0/values/width_mm": "too_large",
        "/findings/0/values/clock_from": "too_large",
        "/findings/0/values/clock_to": "too_small",
    }
    of_another_kind = {"findings": [{"code": "N", "values": {"degree": "plug"}}]}
    problem = refused(api.post(path, of_another_kind), 422, "invalid")
    assert fault_codes(problem) == {"/findings/0/values/degree": "unknown_value"}
    refused(api.post(path, {"findings": []}), 422, "invalid", "/findings")
    refused(api.post(path, {"findings": [{"code": 1}]}), 400, "malformed", "/findings/0/code")
    wrong = {"units": "us", "defects": [{"kind": "crack", "at": 3, "offset": 1}]}
    refused(api.post(f"/code-maps/{codes}/to-external", wrong), 422, "invalid", "/defects/0/offset")


def test_a_code_map_of_another_firm_does_not_exist_and_loading_needs_the_scope(
    api: Api, rival_api: Api, firm: people.Firm, codes: str
) -> None:
    writer = Api(firm.token("runs:write"))
    body = {"units": "us", "defects": []}
    with nothing_changes():
        refused(rival_api.get(f"/code-maps/{codes}"), 404, "not_found")
        refused(rival_api.post(f"/code-maps/{codes}/to-external", body), 404, "not_found")
        refused(rival_api.post(f"/code-maps/{codes}/from-external", {"findings": [{"code": "K1"}]}), 404, "not_found")
        refused(api.post("/code-maps", {"document": ALDER}), 403, "scope_missing")
        refused(writer.post(f"/code-maps/{codes}/to-external", body), 403, "scope_missing")
    assert read(rival_api.get("/code-maps"))["items"] == []
