"""The engineering checks over the API: a document in, results with their units, source and cautions out."""

import json

import pytest
from django.test import Client

from inspections.models import KeptAnswer
from inspections.vocabulary import MATERIALS, SOILS
from scoring.checks import CHECKS
from tests.client import Api

TRENCH = {"units": "us", "depth": 8, "bottom_width": 3, "length": 20, "soil": "B"}
LINER = {
    "units": "us",
    "condition": "fully_deteriorated",
    "diameter": 6,
    "cover": 8,
    "water_over_crown": 4,
    "agency_minimum_mm": 3.5,
    "step_mm": 0.7,
}
AIR = {
    "units": "us",
    "standard": "F1417",
    "sections": [{"diameter": 4, "length": 50}],
    "pressure_drop_psi": 0.5,
    "measured_s": 112,
}


def send(api, name, body):
    """POST without an Idempotency-Key, as the checks allow."""
    return api.http.post(f"/api/v1/checks/{name}", json.dumps(body), content_type="application/json")


def faults(response):
    return [(fault["pointer"], fault["code"]) for fault in response.json()["errors"]]


def test_a_trench_is_computed(api):
    response = send(api, "trench", TRENCH)
    assert response.status_code == 200
    result = response.json()
    assert result["volume"] == pytest.approx(65.19, rel=0.005)  # 88 sf x 20 ft / 27
    assert (result["soil_used"], result["top_width"]) == ("B", 19)
    assert result["result_units"]["volume"] == "cy"
    assert any("competent person" in caution for caution in result["cautions"])


def test_a_liner_is_computed_with_its_governing_case(api):
    result = send(api, "liner", LINER).json()
    assert result["thickness_mm"] == pytest.approx(2.51, rel=0.005)  # ASTM F1216 X1.4: 6 in / 60.73
    assert (result["governs"], result["order_mm"]) == ("stiffness", 3.5)
    assert [case["case"] for case in result["cases"]] == ["buckling", "stress", "stiffness"]
    assert result["cases"][1]["thickness_mm"] is None


def test_a_drain_is_computed(api):
    body = {"units": "us", "diameter": 6, "slope_percent": 1, "roughness": 0.013, "fixture_units": 701}
    result = send(api, "drain", body).json()
    assert result["velocity"] == pytest.approx(2.858, rel=0.005)
    assert (result["slope_ok"], result["minimum_slope_percent"]) == (False, 1.0417)  # 1 % < 1/8 in/ft


def test_an_adverse_grade_has_no_number(api):
    result = send(api, "drain", {"units": "us", "diameter": 6, "slope_percent": -1}).json()
    assert (result["velocity"], result["flow"], result["governs"]) == (None, None, "adverse_grade")


def test_an_air_test_is_judged(api):
    result = send(api, "air-test", AIR).json()
    assert (result["required_s"], result["passed"]) == (113, False)  # ASTM F1417 Table 2: 1:53
    assert send(api, "air-test", {**AIR, "measured_s": 113}).json()["passed"] is True


def test_a_water_test_is_judged(api):
    body = {"units": "us", "diameter": 4, "length": 66, "limit_gpd_per_inch_mile": 3000, "measured_gph": 6.25}
    result = send(api, "water-test", body).json()
    assert (result["allowed_gph"], result["passed"]) == (6.25, True)  # 3,000 x 4 x 66 / 5280 / 24


def test_spoil_is_counted_in_loads(api):
    body = {"units": "us", "bank_volume": 1000, "swell_percent": 30, "truck_volume": 7}
    result = send(api, "spoil", body).json()
    assert (result["loose_volume"], result["loads"]) == (1300, 186)


def test_metres_are_answered_in_metres(api):
    body = {"units": "si", "depth": 1.524, "bottom_width": 0.9144, "length": 6.096, "soil": "B"}
    result = send(api, "trench", body).json()
    assert result["protective_system_required"] is True  # exactly 5 ft
    assert result["spoil_setback"] == 0.6096
    assert result["result_units"]["top_width"] == "m"


def test_numbers_are_read_digit_for_digit(api):
    raw = json.dumps({**TRENCH, "depth": "here"}).replace('"here"', "4.9999999999999999")
    response = api.http.post("/api/v1/checks/trench", raw, content_type="application/json")
    # as a double this would be 5.0; the rule rounds at a billionth of a foot, so it counts as 5 all the same
    assert response.json()["protective_system_required"] is True
    assert send(api, "trench", {**TRENCH, "depth": 4.9999}).json()["protective_system_required"] is False


# --- refusals --------------------------------------------------------------------------------------------


def test_all_faults_of_form_come_at_once(api):
    response = send(api, "trench", {**TRENCH, "depth": "8", "cave_in_signs": 1, "colour": "red", "soil": "D"})
    assert response.status_code == 400
    assert response["Content-Type"] == "application/problem+json"
    assert sorted(faults(response)) == [
        ("/cave_in_signs", "not_yes_or_no"),
        ("/colour", "unknown_field"),
        ("/depth", "not_a_number"),
        ("/soil", "unknown_value"),
    ]


def test_content_out_of_range_is_422_and_says_the_range(api):
    response = send(api, "liner", {**LINER, "diameter": 3, "cover": 0})
    assert response.status_code == 422
    assert faults(response) == [("/diameter", "out_of_range"), ("/cover", "out_of_range")]
    assert "from 4 to 108 in" in response.json()["errors"][0]["detail"]


def test_a_fault_in_a_section_has_its_place(api):
    response = send(api, "air-test", {**AIR, "sections": [AIR["sections"][0], {"diameter": 4, "length": 0}]})
    assert (response.status_code, faults(response)) == (422, [("/sections/1/length", "out_of_range")])


def test_an_unknown_code_names_those_known(api):
    response = send(api, "drain", {"units": "us", "diameter": 4, "slope_percent": 2, "code": "alder-falls"})
    assert faults(response) == [("/code", "unknown_value")]
    assert "ipc" in response.json()["errors"][0]["detail"]


@pytest.mark.parametrize("raw", ["[]", "5", '"us"', "null"])
def test_a_body_that_is_no_object_is_refused(api, raw):
    response = api.http.post("/api/v1/checks/spoil", raw, content_type="application/json")
    assert response.status_code == 400
    assert response["Content-Type"] == "application/problem+json"


def test_an_empty_body_lacks_everything(api):
    response = api.http.post("/api/v1/checks/spoil", "", content_type="application/json")
    assert response.status_code == 422
    assert ("/units", "required") in faults(response)


@pytest.mark.parametrize("depth", ["1e400", "-1e400", "1e-400", "123456789012345678901234567890"])
def test_a_number_beyond_reason_is_refused(api, depth):
    raw = json.dumps({**TRENCH, "depth": "here"}).replace('"here"', depth)
    response = api.http.post("/api/v1/checks/trench", raw, content_type="application/json")
    assert response.status_code == 400


def test_form_data_is_refused(api):
    assert api.http.post("/api/v1/checks/trench", {"depth": "8"}).status_code == 415


def test_an_unknown_check_does_not_exist(api):
    response = send(api, "manhole", TRENCH)
    assert (response.status_code, response.json()["code"]) == (404, "not_found")


def test_a_check_is_posted_not_read(api):
    assert api.get("/checks/trench").status_code == 405


def test_a_parameter_that_means_nothing_is_refused(api):
    response = api.http.post("/api/v1/checks/trench?units=si", json.dumps(TRENCH), content_type="application/json")
    assert (response.status_code, faults(response)) == (400, [("/units", "unknown_parameter")])


# --- who may, and what is kept ---------------------------------------------------------------------------


def test_reading_records_is_scope_enough(firm):
    assert send(Api(firm.token("records:read")), "trench", TRENCH).status_code == 200


def test_without_that_scope_it_is_not_allowed(firm):
    assert send(Api(firm.token("jobs:write")), "trench", TRENCH).status_code == 403


def test_without_a_token_nobody_computes(db):
    response = Client().post("/api/v1/checks/trench", json.dumps(TRENCH), content_type="application/json")
    assert response.status_code == 401


def test_without_a_key_nothing_is_kept(api):
    send(api, "trench", TRENCH)
    assert not KeptAnswer.objects.exists()


def test_a_key_is_honoured_all_the_same(api):
    first = api.post("/checks/trench", TRENCH, key="dig-1")
    again = api.post("/checks/trench", TRENCH, key="dig-1")
    assert (first.content, again["Idempotency-Replayed"]) == (again.content, "true")
    assert api.post("/checks/trench", {**TRENCH, "depth": 9}, key="dig-1").status_code == 422


def test_the_same_body_gives_the_same_bytes(api):
    assert send(api, "liner", LINER).content == send(api, "liner", LINER).content


# --- the OpenAPI document --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", list(CHECKS))
def test_every_check_is_described_with_a_working_example(api, name):
    document = api.get("/openapi.json").json()
    operation = _operation(document, name)
    content = operation["requestBody"]["content"]["application/json"]
    shape = document["components"]["schemas"][content["schema"]["$ref"].rsplit("/", 1)[1]]
    assert set(shape["properties"]) == {field.name for field in CHECKS[name].fields}
    assert set(shape["required"]) == {field.name for field in CHECKS[name].fields if field.is_required}
    (example,) = content["examples"].values()
    response = send(api, name, example["value"])
    (shown,) = operation["responses"]["200"]["content"]["application/json"]["examples"].values()
    assert response.json() == shown["value"]


@pytest.mark.parametrize("name", list(CHECKS))
def test_every_result_is_described(api, name):
    document = api.get("/openapi.json").json()
    answer = _operation(document, name)["responses"]["200"]["content"]
    shape = document["components"]["schemas"][answer["application/json"]["schema"]["$ref"].rsplit("/", 1)[1]]
    (example,) = _operation(document, name)["requestBody"]["content"]["application/json"]["examples"].values()
    result = send(api, name, example["value"]).json()
    assert set(shape["properties"]) == set(result)
    for key, value in result.items():
        assert _fits(value, shape["properties"][key]), key


def _operation(document, name):
    return document["paths"][f"/api/v1/checks/{name}"]["post"]


def _fits(value, described):
    """Whether a value is of the JSON type described; a reference is to a list of words."""
    kinds = {
        "string": str,
        "boolean": bool,
        "integer": int,
        "number": (int, float),
        "array": list,
        "object": dict,
        "null": type(None),
    }
    types = described.get("type", "string")
    return any(isinstance(value, kinds[kind]) for kind in ([types] if isinstance(types, str) else types))


def test_soils_and_materials_are_the_words_used_everywhere():
    soils = next(field for field in CHECKS["trench"].fields if field.name == "soil")
    materials = next(field for field in CHECKS["drain"].fields if field.name == "material")
    assert list(soils.choices) == list(SOILS)
    assert list(materials.choices) == list(MATERIALS)
