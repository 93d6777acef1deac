"""A customer's codes both ways. The codes here are invented for the tests."""

from copy import deepcopy
from decimal import Decimal as D

import pytest

from scoring.codes import CodeMapInvalid, CodeUnknown, from_external, load_code_map, to_external
from scoring.types import Defect, Feature

DOCUMENT = {
    "id": "alder-falls",
    "version": 3,
    "title": "Codes of an invented town",
    "entries": [
        {"code": "K", "kind": "crack", "carries": ["width_mm", "clock_from", "clock_to"]},
        {
            "code": "KL",
            "kind": "crack",
            "attributes": {"pattern": "longitudinal"},
            "carries": ["width_mm", "to_m"],
        },
        {"code": "W1", "kind": "roots", "attributes": {"degree": "hairs"}},
        {
            "code": "W2",
            "kind": "roots",
            "attributes": {"degree": "bundles", "at_joint": True},
            "carries": ["percent"],
        },
        {"code": "HS", "kind": "hole", "attributes": {"soil_seen": True}},
        {"code": "J", "what": "feature", "kind": "joint", "carries": ["label"]},
    ],
}
CODES = load_code_map(DOCUMENT)


def finding(kind, **given):
    return Defect("d", kind, D(4), **given)


def test_a_finding_gets_the_code_that_says_most_of_it():
    told = to_external(CODES, finding("crack", pattern="longitudinal", width_mm=D("1.5")))
    assert (told.code, dict(told.values), told.lost) == ("KL", {"width_mm": D("1.5")}, ())


def test_what_the_code_cannot_say_is_reported():
    told = to_external(CODES, finding("crack", opening="open", clock_from=D(3), void_seen=True))
    assert (told.code, dict(told.values)) == ("K", {"clock_from": D(3)})
    assert [(one.field, one.value) for one in told.lost] == [("opening", "open"), ("void_seen", True)]


def test_the_code_that_loses_least_is_taken():
    # K carries the clock but not the pattern; KL says the pattern and carries the stretch, not the clock
    told = to_external(CODES, finding("crack", pattern="longitudinal", to_m=D(6), clock_from=D(3)))
    assert (told.code, [one.field for one in told.lost]) == ("KL", ["clock_from"])


def test_a_code_that_says_more_than_was_seen_is_not_used():
    told = to_external(CODES, finding("roots", degree="bundles"))
    assert told.code is None
    assert [(one.field, one.value) for one in told.lost] == [("kind", "roots"), ("degree", "bundles")]


def test_a_kind_without_a_code_is_reported():
    assert [one.field for one in to_external(CODES, finding("sag", percent=D(20))).lost] == [
        "kind",
        "percent",
    ]


def test_a_code_comes_back_as_kind_and_attributes():
    back = from_external(CODES, "W2", {"percent": D(12)})
    assert (back.what, back.kind, back.lost) == ("defect", "roots", ())
    assert dict(back.attributes) == {"degree": "bundles", "at_joint": True, "percent": D(12)}


def test_a_value_the_code_does_not_carry_or_contradicts_is_reported():
    back = from_external(CODES, "W1", {"percent": D(12), "degree": "plug", "soil_seen": False, "opening": None})
    assert dict(back.attributes) == {"degree": "hairs"}
    assert [(one.field, one.value) for one in back.lost] == [("percent", D(12)), ("degree", "plug")]


@pytest.mark.parametrize("code", ["w1", "W01", "", "ZZ"])
def test_a_code_is_read_letter_by_letter(code):
    with pytest.raises(CodeUnknown):
        from_external(CODES, code)


def test_a_feature_has_codes_too():
    joint = Feature("joint", D(3), label="bell")
    told = to_external(CODES, joint)
    assert (told.code, dict(told.values)) == ("J", {"label": "bell"})
    assert from_external(CODES, "J").what == "feature"


@pytest.mark.parametrize(
    "defect",
    [
        finding("crack", width_mm=D(2), clock_from=D(10), clock_to=D(2)),
        finding("crack", pattern="longitudinal", to_m=D(9)),
        finding("roots", degree="bundles", at_joint=True, percent=D(15)),
        finding("hole", soil_seen=True),
    ],
)
def test_what_loses_nothing_comes_back_as_it_was(defect):
    told = to_external(CODES, defect)
    back = from_external(CODES, told.code, told.values)
    assert told.lost == back.lost == ()
    assert Defect("d", back.kind, D(4), **back.attributes) == defect


def faults(change):
    document = deepcopy(DOCUMENT)
    change(document)
    with pytest.raises(CodeMapInvalid) as caught:
        load_code_map(document)
    return [(fault.path, fault.code) for fault in caught.value.faults]


def test_every_fault_of_a_map_is_named_with_its_place():
    def spoil(document):
        document["version"] = "3"
        document["entries"][0]["kind"] = "krack"
        document["entries"][1]["code"] = "K"
        document["entries"][2]["attributes"] = {"degree": "hair", "colour": "brown"}
        document["entries"][3]["carries"] = ["width"]
        document["entries"][4]["attributes"] = {"soil_seen": "yes"}

    assert faults(spoil) == [
        ("/version", "not_a_whole_number"),
        ("/entries/0/kind", "unknown_value"),
        ("/entries/2/attributes/colour", "unknown_field"),
        ("/entries/3/carries/0", "unknown_value"),
        ("/entries/4/attributes/soil_seen", "wrong_value"),
        ("/entries/1/code", "code_repeated"),
        ("/entries/2/attributes/degree", "unknown_value"),
    ]


@pytest.mark.parametrize("document", [None, [], {}, {"id": "x", "version": 1, "title": "t", "entries": []}])
def test_what_is_no_map_is_refused(document):
    with pytest.raises(CodeMapInvalid):
        load_code_map(document)


def test_a_map_taken_before_words_were_held_to_can_still_be_used():
    document = deepcopy(DOCUMENT)
    document["entries"][2]["attributes"] = {"degree": "hair"}
    assert to_external(load_code_map(document, is_kept=True), finding("hole", soil_seen=True)).code == "HS"
