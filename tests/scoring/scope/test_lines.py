"""The lines of a section carry their unit prices; its checks carry its own numbers."""

from decimal import Decimal
from typing import Any

import pytest

from scoring.scope import scope_document
from scoring.scope.check_runs import run
from scoring.scope.rate_book import CUBIC_YARD_M3
from scoring.types import Depth, Policy, Site, Surface
from tests.scoring.scope.laterals import found, generated, graded, line
from tests.scoring.scope.test_plans import scoped


def section(method: str, units: str = "us", kind: str = "broken", site: Site | None = None) -> dict[str, Any]:
    surface = Surface(Decimal(0), Decimal(20), "asphalt_street")
    depth = (Depth(Decimal(0), Decimal("1.2"), "invert"), Depth(Decimal(20), Decimal("1.2"), "invert"))
    site = site or Site(depths=depth, surfaces=(surface,), soil="B", drainage_fixture_units=Decimal(24))
    policy = Policy(3, margin_m=Decimal(0), methods=(method,))
    scope = scoped(line([found("d", kind, "8", "14.096", sd="0")]), graded(("d", 5)), site, policy)
    sections = scope_document(scope, units)["plans"][0]["sections"]  # type: ignore[arg-type]
    return next(each for each in sections if each["method"] == method)


def by_item(found_section: dict[str, Any]) -> dict[str, Any]:
    return {each["item"]: each for each in found_section["quantities"]}


def test_a_line_shows_its_unit_price_and_the_surcharge_of_the_surface() -> None:
    # 20 ft at 55 + 15 for the street, from the default rate book: 1,400
    found_line = by_item(section("open_cut_replacement"))["open_cut_replacement"]
    assert found_line["cost_formula"] == "20 ft × (55 + 15 asphalt street) USD"
    assert found_line["cost"] == Decimal("1400.00")
    assert found_line["rate_item"] == "methods/open_cut_replacement/per_length"
    (rate,) = found_line["rates"]
    assert rate["unit_price"] == {"low": 50, "likely": 70, "high": 100}
    assert rate["surcharge"] == {"surface": "asphalt_street", "low": 10, "likely": 15, "high": 25}


def test_derived_quantities_say_so_and_what_pays_for_them() -> None:
    lines = by_item(section("open_cut_replacement"))
    priced_in = {"bedding": "embedment", "spoil": "spoil_haul", "truck_loads": "spoil_haul"}
    for item, payer in priced_in.items():
        assert (lines[item]["is_derived"], lines[item]["priced_in"], lines[item]["cost"]) == (True, payer, None)
    assert lines["embedment"]["rate_item"] == "items/bedding"
    assert lines["embedment"]["is_derived"] is False


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("seed", range(7000, 7020))
def test_unit_prices_times_quantities_come_to_the_price_of_every_line(seed: int, units: str) -> None:
    case = generated(seed)
    scope = scope_document(scoped(case.lateral, case.findings, case.site, case.policy), units)  # type: ignore[arg-type]
    lines = [q for plan in scope["plans"] for part in plan["sections"] for q in part["quantities"]]
    for each in (one for one in lines if not one["is_derived"]):
        come_to = sum(float(rate["quantity"]) * float(rate["unit_price"]["likely"]) for rate in each["rates"])
        # Quantities are shown to three decimals, prices to four.
        rounding = sum(0.0006 * float(rate["unit_price"]["likely"]) for rate in each["rates"])
        assert come_to == pytest.approx(float(each["cost"]), abs=0.02 + rounding, rel=1e-4), each["item"]


def checks(method: str, **more: Any) -> dict[str, Any]:
    return {check["check"]: check for check in section(method, **more)["checks"]}


def test_spoil_is_checked_with_the_sections_own_volume() -> None:
    found_section = section("open_cut_replacement")
    spoil = next(check for check in found_section["checks"] if check["check"] == "spoil")
    bank = float(by_item(found_section)["spoil"]["quantity"])
    assert float(spoil["results"]["loose_volume"]) == pytest.approx(bank * 1.3, rel=1e-3)
    assert spoil["results"]["loads"] == by_item(found_section)["truck_loads"]["quantity"]


def test_published_spoil_fills_its_loads() -> None:
    # 1,000 bank cy at 30 %, 7 cy trucks: 1,300 loose cy, 186 loads (published)
    measures = {
        "bank_volume": 1000 * CUBIC_YARD_M3,
        "swell_percent": Decimal(30),
        "truck_volume": 7 * CUBIC_YARD_M3,
    }
    results = dict(run("spoil", measures, "").results)["us"]
    assert (results["loose_volume"], results["loads"]) == (1300, 186)


def test_a_liner_shows_the_drain_before_and_after_it() -> None:
    """Manning, full bore at one slope: Q goes with D^(8/3) / n, clay n 0.014, liner n 0.010."""
    found_section = checks("full_liner", kind="crack")
    drain, liner = found_section["drain"]["results"], found_section["liner"]["results"]
    bore_in = 4 - 2 * float(liner["thickness_mm"]) / 25.4
    ratio = float(drain["after"]["flow"]) / float(drain["before"]["flow"])
    assert ratio == pytest.approx((bore_in / 4) ** (8 / 3) * 0.014 / 0.010, rel=1e-3)
    assert "The slope was not measured" in found_section["drain"]["summary"]
    # IPC Table 710.1(1), 1/8 in/ft: 4 in 180, and what is left of it by the next size printed below, 3 in 36
    assert (drain["before"]["fixture_unit_limit"], drain["after"]["fixture_unit_limit"]) == (180, 36)
    assert any("nominal size" in caution for caution in found_section["drain"]["cautions"])


def test_the_acceptance_tests_stand_with_every_new_pipe() -> None:
    found_checks = checks("open_cut_replacement")
    # Air, 4 in, 0.5 psi: at least 1:53 (ASTM F1417 Table 2); water 10 ft for 15 min (IPC 312)
    assert found_checks["air-test"]["results"]["required_s"] == pytest.approx(113, abs=1)
    assert found_checks["water-test"]["results"] == {"head": 10, "hold_s": 900}


@pytest.mark.parametrize("seed", range(7100, 7130))
def test_no_check_is_left_out_in_silence(seed: int) -> None:
    case = generated(seed)
    for plan in scoped(case.lateral, case.findings, case.site, case.policy).plans:
        for part in plan.sections:
            for check in part.checks:
                assert check.governs != "not_computed" or check.summary.startswith("Not computed: ")
            if any(line.item == "spoil" and line.amount for line in part.quantities):
                assert "spoil" in {check.check for check in part.checks}
