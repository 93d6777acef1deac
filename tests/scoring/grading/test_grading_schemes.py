"""A scheme is checked when it is loaded: what is wrong is named with its place, all at once."""

import json
from copy import deepcopy
from decimal import Decimal

import pytest

from inspections import vocabulary
from scoring.grading import BUILT_IN_SCHEMES, KINDS, SchemeInvalid, apply_scheme, load_scheme
from scoring.grading.kinds import words_of
from scoring.types import Defect


def document(name="open-five"):
    return deepcopy(BUILT_IN_SCHEMES[name])


def faults(changed):
    with pytest.raises(SchemeInvalid) as caught:
        load_scheme(changed)
    return [(fault.path, fault.code) for fault in caught.value.faults]


def rows_of(changed, rule):
    return [row for row in changed["rows"] if row["rule"] == rule]


@pytest.mark.parametrize("name", BUILT_IN_SCHEMES)
def test_every_built_in_scheme_is_sound_and_every_row_has_a_source(name):
    scheme = load_scheme(document(name))
    assert (scheme.id, scheme.version) == (name, 1)
    assert all(row.source for row in scheme.rows)


@pytest.mark.parametrize("name", BUILT_IN_SCHEMES)
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_gets_a_grade_when_nothing_else_is_known(name, kind):
    graded = apply_scheme(Defect("d", kind, Decimal(1)), load_scheme(document(name)))
    assert graded
    assert all(one.finding.rule.startswith(f"{name}/") for one in graded)


@pytest.mark.parametrize("name", BUILT_IN_SCHEMES)
def test_a_scheme_that_went_through_json_is_the_same_scheme(name):
    """Numbers come back as floats: 0.2 counts with the digits it is written with."""
    text = json.dumps(document(name), default=float)
    assert load_scheme(json.loads(text)) == load_scheme(document(name))


def test_a_gap_between_two_ranges_is_found():
    changed = document()
    rows_of(changed, "open-five/crack/width")[1]["when"]["range"]["below"] = Decimal("0.4")
    assert faults(changed) == [("/rows", "gap")]


def test_a_single_value_left_out_is_a_gap():
    changed = document()
    rows_of(changed, "open-five/crack/width")[4]["when"]["range"] = {"above": Decimal(6)}
    rows_of(changed, "open-five/crack/width")[3]["when"]["range"] = {"from": Decimal(2), "below": Decimal(6)}
    with pytest.raises(SchemeInvalid) as caught:
        load_scheme(changed)
    assert "width_mm 6" in caught.value.faults[0].sentence


def test_a_value_two_rows_claim_is_an_overlap():
    changed = document()
    rows_of(changed, "open-five/crack/width")[2]["when"]["range"] = {"from": Decimal("0.5"), "to": Decimal(2)}
    assert faults(changed) == [("/rows", "overlap")]


def test_a_measure_without_an_end_above_is_a_gap_a_share_may_end_at_100():
    changed = document()
    rows_of(changed, "open-five/sag/depth")[3]["when"]["range"]["to"] = 100
    assert load_scheme(changed)
    rows_of(changed, "open-five/crack/width")[4]["when"]["range"]["to"] = 100
    assert faults(changed) == [("/rows", "gap")]


def test_a_share_of_exactly_100_needs_a_grade():
    changed = document()
    last = rows_of(changed, "open-five/sag/depth")[3]["when"]
    last["range"] = {"above": 50, "below": 100}
    assert faults(changed) == [("/rows", "gap")]


def test_a_nominal_size_left_out_is_a_gap():
    changed = document()
    for row in rows_of(changed, "open-five/displaced-joint/offset-below-300"):
        row["when"]["size_mm"]["or_unknown"] = False
    assert faults(changed) == [("/rows", "gap")]


def test_a_missing_kind_is_found():
    changed = document()
    changed["rows"] = [row for row in changed["rows"] if row["kinds"] != ["sag"]]
    assert faults(changed) == [("/rows", "missing_kind")]


def test_a_kind_with_limits_for_acting_at_once_only_is_missing():
    changed = document()
    changed["rows"] = [
        row for row in changed["rows"] if "infiltration" not in row["kinds"] or row["applies"] == "always"
    ]
    assert faults(changed) == [("/rows", "missing_kind")]


def test_a_degree_nobody_gave_needs_a_grade_too():
    changed = document()
    changed["rows"] = [
        row for row in changed["rows"] if not (row["rule"] == "open-five/sag/degree" and None in row["when"]["degree"])
    ]
    assert faults(changed) == [("/rows", "gap")]


@pytest.mark.parametrize("source", [None, "", "  ", 7])
def test_a_row_without_a_source_is_refused(source):
    changed = document()
    changed["rows"][3]["source"] = source
    assert faults(changed) == [("/rows/3/source", "not_a_text")]


def test_all_faults_come_at_once_each_with_its_place():
    changed = document()
    changed["version"] = "one"
    changed["colour"] = "red"
    changed["rows"][0]["grade"] = 6
    changed["rows"][1]["kinds"] = ["crak"]
    changed["rows"][2]["when"]["range"] = {"from": 2, "above": 3}
    changed["rows"][5]["when"]["range"] = {"from": Decimal("NaN")}
    changed["rows"][6]["applies"] = "sometimes"
    assert faults(changed) == [
        ("/colour", "unknown_field"),
        ("/version", "not_a_whole_number"),
        ("/rows/0/grade", "no_such_grade"),
        ("/rows/1/kinds/0", "unknown_value"),
        ("/rows/2/when/range", "two_limits"),
        ("/rows/5/when/range/from", "not_a_number"),
        ("/rows/6/applies", "unknown_value"),
    ]


@pytest.mark.parametrize(
    "limits", [{}, {"from": 3, "to": 2}, {"from": 3, "below": 3}, {"above": 3, "to": 3}, {"from": -1}]
)
def test_a_range_that_holds_nothing_is_refused(limits):
    changed = document()
    changed["rows"][0]["when"]["range"] = limits
    assert faults(changed)


def test_a_single_value_is_a_range():
    changed = document()
    row = rows_of(changed, "open-five/crack/width")[3]
    row["when"]["range"] = {"from": 2, "below": 5}
    only_five = deepcopy(row)
    only_five["when"]["range"] = {"from": 5, "to": 5}
    changed["rows"].append(only_five)
    assert load_scheme(changed)


@pytest.mark.parametrize(
    ("direction", "code"),
    [
        ({"best": 1, "worst": 1, "nothing_found": 0}, "no_direction"),
        ({"best": 1, "worst": 5, "nothing_found": 3}, "is_a_grade"),
        ({"best": 1, "worst": True, "nothing_found": 0}, "not_a_whole_number"),
        (None, "not_an_object"),
    ],
)
def test_a_direction_must_lead_somewhere(direction, code):
    changed = document()
    changed["direction"] = direction
    assert code in [found for _, found in faults(changed)]


@pytest.mark.parametrize("changed", [None, [], "open-five", {}, {"rows": []}, {"rows": [3]}, {"rows": {}}])
def test_what_is_no_scheme_at_all_is_refused_in_the_same_way(changed):
    assert faults(changed)


def test_a_scheme_of_endless_cases_is_refused_rather_than_worked_through():
    changed = document()
    changed["rows"] += [
        {
            "rule": "many", "kinds": ["hole"], "applies": "measured", "aspect": "structural", "grade": 3,
            "source": "invented",
            "when": {
                "measure": "width_mm",
                "range": {"from": number, "below": number + 1},
                "size_mm": {"from": number, "below": number + 1},
            },
        }
        for number in range(100)
    ]  # fmt: skip
    assert faults(changed) == [("/rows", "too_many_cases")]


def test_the_built_in_documents_cannot_be_swapped():
    with pytest.raises(TypeError):
        BUILT_IN_SCHEMES["open-five"] = {}


@pytest.mark.parametrize(
    ("rule", "field", "word"),
    [
        ("open-five/roots/degree", "degree", "plgu"),
        ("open-five/crack/several", "pattern", "multipel"),
        ("open-five/crack/opening", "opening", "Open"),
        ("open-five/joint/degree", "degree", "plug"),  # of roots, never of a joint
    ],
)
def test_a_word_no_finding_can_bear_is_a_fault_because_its_row_would_never_be_used(rule, field, word):
    changed = document()
    row = rows_of(changed, rule)[0]
    row["when"][field] = [word]
    assert faults(changed) == [(f"/rows/{changed['rows'].index(row)}/when/{field}/0", "unknown_value")]


def test_schemes_know_the_words_that_findings_are_taken_with():
    """Heavy and severe are one word to a scheme, whichever of them a kind is said to be."""
    for kind in KINDS:
        taken = set(vocabulary.degrees_for(kind))
        assert taken <= set(words_of(kind, "degree")) <= taken | {"heavy", "severe"}
        assert set(words_of(kind, "pattern")) == set(vocabulary.PATTERNS)
        assert set(words_of(kind, "opening")) == set(vocabulary.OPENINGS)


def test_a_scheme_taken_before_words_were_held_to_grades_as_it_did():
    changed = document()
    rows_of(changed, "open-five/crack/several")[0]["when"]["pattern"] = ["multipel"]
    kept = load_scheme(changed, is_kept=True)
    [graded] = apply_scheme(Defect("d", "crack", Decimal(1), pattern="multiple"), kept)
    assert graded.finding.rule == "open-five/crack/seen"
