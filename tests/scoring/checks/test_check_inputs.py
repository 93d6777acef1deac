"""What holds for every check: one answer in both units, faults by name and all at once, sources, cautions."""

from collections.abc import Mapping
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.checks import (
    CHECKS,
    CheckInputInvalid,
    CheckUnknown,
    Choice,
    Number,
    Rows,
    TrenchInputs,
    Whole,
    check_trench,
    run_check,
)

STEADY = settings(derandomize=True, max_examples=40, deadline=None)
NAMES = ["trench", "liner", "drain", "air-test", "water-test", "spoil"]

# International yard and pound, 1959: 1 ft = 0.3048 m, 1 lbf = 4.4482216152605 N, all exact.
POUND_N, FOOT_M = Decimal("4.4482216152605"), Decimal("0.3048")
SI_PER_US = {
    "ft": FOOT_M,
    "in": Decimal("25.4"),
    "cy": 27 * FOOT_M**3,
    "sf": FOOT_M**2,
    "psi": POUND_N / Decimal("0.0254") ** 2 / 1000,
    "pcf": POUND_N / FOOT_M**3 / 1000,
    "ft/s": FOOT_M,
    "ft3/s": FOOT_M**3,
}
INPUT_UNIT = {"length": "ft", "size": "in", "volume": "cy", "stress": "psi", "density": "pcf"}


def test_the_six_checks_are_there():
    assert list(CHECKS) == NAMES


def test_an_unknown_check_names_those_known():
    with pytest.raises(CheckUnknown, match="trench, liner"):
        run_check("manhole", {})


@pytest.mark.parametrize("name", NAMES)
def test_every_check_says_what_it_stands_on(name):
    result = CHECKS[name].run(CHECKS[name].example)
    assert result["governs"]
    assert result["source"]
    assert result["cautions"]
    assert result["rules"] == "checks/1"
    assert set(result["result_units"]) <= set(result)


@pytest.mark.parametrize("name", NAMES)
def test_the_same_inputs_give_the_same_answer(name):
    assert CHECKS[name].run(CHECKS[name].example) == CHECKS[name].run(dict(CHECKS[name].example))


# --- both units ------------------------------------------------------------------------------------------


def amounts(field):
    """Amounts well inside a field's limits, in US units, with few digits."""
    low, high = field.limits("us")
    thousandths = st.integers(1, 999).map(lambda share: Decimal(share) / 1000)
    drawn = thousandths.map(lambda share: (low + (min(high, low + 1000) - low) * share).quantize(Decimal("0.001")))
    return drawn.filter(lambda amount: low < amount < high)


@st.composite
def documents(draw, name):
    """A document in US units that is well-formed field by field."""
    document = {}
    for field in CHECKS[name].fields:
        if isinstance(field, Number):
            is_given = field.is_required or draw(st.booleans())
            document[field.name] = draw(amounts(field)) if is_given else None
        elif isinstance(field, Choice | Whole):
            document[field.name] = draw(st.sampled_from(field.choices))
        elif isinstance(field, Rows):
            row = st.fixed_dictionaries({inner.name: amounts(inner) for inner in field.fields})
            document[field.name] = draw(st.lists(row, min_size=1, max_size=3))
        else:
            document[field.name] = draw(st.booleans())
    return {**document, "units": "us"}


def in_si(document, fields):
    measures = {field.name: INPUT_UNIT.get(field.measure) for field in fields if isinstance(field, Number)}
    twin = {}
    for name, value in document.items():
        if isinstance(value, list):
            rows = next(field for field in fields if field.name == name)
            twin[name] = [in_si(row, rows.fields) for row in value]
        elif measures.get(name) and value is not None:
            twin[name] = value * SI_PER_US[measures[name]]
        else:
            twin[name] = value
    return twin


def answer(name, document):
    try:
        return run_check(name, document)
    except CheckInputInvalid as refused:
        return [(fault.path, fault.code) for fault in refused.faults]


@pytest.mark.parametrize("name", NAMES)
@STEADY
@given(data=st.data())
def test_feet_and_metres_give_the_same_answer(name, data):
    document = data.draw(documents(name))
    us = answer(name, document)
    si = answer(name, {**in_si(document, CHECKS[name].fields), "units": "si"})
    if isinstance(us, list):
        assert si == us
        return
    for result, unit in us["result_units"].items():
        factor = SI_PER_US.get(unit, 1) if unit != si["result_units"][result] else 1
        expected = None if us[result] is None else pytest.approx(float(us[result] * factor), rel=2e-5)
        assert (None if si[result] is None else float(si[result])) == expected
    same = [key for key in us if key not in us["result_units"] and key not in ("units", "result_units", "notes")]
    assert {key: si[key] for key in same if key != "cases"} == {key: us[key] for key in same if key != "cases"}


# --- faults ----------------------------------------------------------------------------------------------


def faults_of(name, document):
    with pytest.raises(CheckInputInvalid) as refused:
        run_check(name, document)
    return refused.value.faults


def test_all_faults_come_at_once_and_name_their_field():
    faults = faults_of(
        "trench",
        {"units": "us", "depth": "8", "bottom_width": 0, "soil": "D", "cave_in_signs": 1, "hue": 3},
    )
    assert {(fault.path, fault.code) for fault in faults} == {
        ("/hue", "unknown_field"),
        ("/depth", "not_a_number"),
        ("/bottom_width", "out_of_range"),
        ("/length", "required"),
        ("/soil", "unknown_value"),
        ("/cave_in_signs", "not_yes_or_no"),
    }
    assert all(fault.path[1:] in fault.detail for fault in faults)


@pytest.mark.parametrize("name", NAMES)
def test_units_are_asked_for(name):
    document = {key: value for key, value in CHECKS[name].example.items() if key != "units"}
    assert [(fault.path, fault.code) for fault in faults_of(name, document)] == [("/units", "required")]
    assert ("/units", "unknown_value") in [
        (fault.path, fault.code) for fault in faults_of(name, {**document, "units": "metric"})
    ]


@pytest.mark.parametrize(
    ("depth", "code"),
    [
        ("8", "not_a_number"),
        (True, "not_a_number"),
        ([8], "not_a_number"),
        (Decimal("NaN"), "not_a_number"),
        (float("inf"), "not_a_number"),
        (Decimal("1E+400"), "too_many_digits"),
        (Decimal("1E-400"), "too_many_digits"),
        (10**40, "too_many_digits"),
    ],
)
def test_what_is_no_sensible_number_is_refused(depth, code):
    document = {"units": "us", "depth": depth, "bottom_width": 3, "length": 20}
    assert [(fault.path, fault.code) for fault in faults_of("trench", document)] == [("/depth", code)]


def test_a_missing_or_null_yes_or_no_is_no():
    document = {"units": "us", "depth": 3, "bottom_width": 3, "length": 20, "cave_in_signs": None}
    assert run_check("trench", document)["protective_system_required"] is False


def test_an_unknown_name_is_given_as_a_json_pointer():
    document = {"units": "us", "depth": 3, "bottom_width": 3, "length": 20, "a/b~c": 1}
    assert [fault.path for fault in faults_of("trench", document)] == ["/a~1b~0c"]


def test_a_misspelt_name_gets_the_near_one():
    document = {"units": "us", "depth": 3, "bottom_width": 3, "length": 20, "cave_in_sings": True}
    (fault,) = faults_of("trench", document)
    assert "cave_in_signs" in fault.detail


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"soil": 2}, ("/soil", "not_text")),
        ({"sloped_sides": "2"}, ("/sloped_sides", "not_a_whole_number")),
        ({"sloped_sides": True}, ("/sloped_sides", "not_a_whole_number")),
        ({"sloped_sides": Decimal("2.5")}, ("/sloped_sides", "not_a_whole_number")),
        ({"bad_air_possible": "no"}, ("/bad_air_possible", "not_yes_or_no")),
    ],
)
def test_each_kind_of_input_is_held_to_its_kind(changes, fault):
    document = {"units": "us", "depth": 3, "bottom_width": 3, "length": 20, **changes}
    assert [(found.path, found.code) for found in faults_of("trench", document)] == [fault]


def test_inputs_made_in_code_are_held_to_the_same_limits():
    with pytest.raises(CheckInputInvalid) as refused:
        TrenchInputs(units="us", depth=Decimal(0), bottom_width=Decimal(3), length=Decimal(20))
    assert [fault.path for fault in refused.value.faults] == ["/depth"]


def test_a_function_and_its_document_agree():
    inputs = TrenchInputs(units="us", depth=Decimal(8), bottom_width=Decimal(3), length=Decimal(20), soil="B")
    document = {"units": "us", "depth": 8, "bottom_width": 3, "length": 20, "soil": "B"}
    assert check_trench(inputs).volume == run_check("trench", document)["volume"]


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.decimals() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=5,
)


@pytest.mark.parametrize("name", NAMES)
@STEADY
@given(data=st.data())
def test_whatever_is_sent_is_answered_or_refused(name, data):
    field_names = st.sampled_from([field.name for field in CHECKS[name].fields])
    document = {**CHECKS[name].example, **data.draw(st.dictionaries(field_names | st.text(max_size=5), JSON))}
    result = answer(name, document)
    assert isinstance(result, Mapping) or result
