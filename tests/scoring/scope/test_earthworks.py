"""Quantities of a trench against worked public formulas; 1 cy = 0.764554857984 m3, 1 ft = 0.3048 m."""

from decimal import Decimal

import pytest

from scoring.scope import DEFAULT_RATE_BOOK, DEFAULT_RULE_SET, load_rate_book, load_rule_set, plan, scope_document
from scoring.scope.rate_book import CUBIC_YARD_M3
from scoring.scope.trench import Earthworks, Pipe, cross_section, new_pipe, pit_volume_m3, trench_width_m
from scoring.types import Depth, Policy, Site, Surface
from scoring.units import FOOT_M
from tests.scoring.scope.laterals import found, graded, line


def ft(length: str) -> Decimal:
    return Decimal(length) * FOOT_M


def cy(volume_m3: Decimal) -> float:
    return float(volume_m3 / CUBIC_YARD_M3)


def trench(depth: str, width: str, slope: str, length: str) -> Earthworks:
    areas = cross_section(ft(depth), ft(width), Decimal(slope), new_pipe(Decimal("152.4")), ft("4") / 12, ft("0.5"))
    return areas.times(ft(length))


def test_worked_open_cut_of_twenty_feet() -> None:
    # 20 ft long, 8 ft deep, shored, 2.5 ft wide, 6 in SDR-35 (OD 6.275 in), 4 in bedding, 6 in over the crown:
    # 20 x 8 x 2.5 / 27 = 14.81; 20 x 2.5 x 4/12 / 27 = 0.617; pi/4 (6.275/12)^2 x 20 / 27 = 0.159;
    # 20 x 2.5 x 16.275/12 / 27 - 0.159 = 2.352; 14.815 - 2.512 = 12.303.
    made = trench("8", "2.5", "0", "20")
    assert cy(made.excavation) == pytest.approx(14.81, rel=5e-3)
    assert cy(made.bedding) == pytest.approx(0.617, rel=5e-3)
    assert cy(made.pipe) == pytest.approx(0.159, rel=5e-3)
    assert cy(made.embedment) == pytest.approx(2.352, rel=5e-3)
    assert cy(made.backfill) == pytest.approx(12.303, rel=5e-3)


@pytest.mark.parametrize(("slope", "volume"), [("1", 65.19), ("0", 17.78), ("1.5", 88.89)])
def test_sides_sloped_by_soil(slope: str, volume: float) -> None:
    # b 3, d 8, 20 ft long: d (b + s d) L / 27, 29 CFR 1926 Subpart P Table B-1 slopes B 1, C 1.5.
    assert cy(trench("8", "3", slope, "20").excavation) == pytest.approx(volume, rel=5e-4)


@pytest.mark.parametrize(("slope", "volume"), [("0", 7.11), ("1", 56.10)])
def test_pit_with_four_sides(slope: str, volume: float) -> None:
    # Bottom 6 x 4 ft, 8 ft deep: d (a b + s d (a + b) + 4/3 s2 d2) / 27.
    assert cy(pit_volume_m3(ft("6"), ft("4"), ft("8"), Decimal(slope))) == pytest.approx(volume, rel=1e-3)


@pytest.mark.parametrize("slope", ["0", "1", "1.5"])
@pytest.mark.parametrize("depth", ["0.5", "1.4", "4", "8", "19"])
def test_excavation_is_embedment_pipe_and_backfill(slope: str, depth: str) -> None:
    made = trench(depth, "2.5", slope, "20")
    assert made.excavation == pytest.approx(made.embedment + made.pipe + made.backfill)
    assert made.backfill >= 0


def test_width_for_flexible_pipe() -> None:
    # ASTM D2321, 6 in SDR-35: max(6.275 + 16, 1.25 x 6.275 + 12) = 22.275 in.
    assert trench_width_m(Decimal("0.159385"), Decimal(0)) * 1000 / Decimal("25.4") == Decimal("22.275")
    assert trench_width_m(Decimal("0.159385"), Decimal("0.762")) == Decimal("0.762")


def test_wall_is_half_of_what_the_outside_is_more() -> None:
    assert Pipe(Decimal(100), Decimal("0.110")).wall_m == Decimal("0.005")


def quantities_of(units: str) -> dict[str, dict[str, object]]:
    """The sag forces a dig of 20 ft: 10 to 30 ft with no margin and no doubt, 8 ft to the trench bottom."""
    lateral = line([found("sag", "sag", "3.048", "9.144", sd="0")], "15.24")
    # invert depth: 8 ft less 4 in of bedding less the wall of 4 in pipe, (4.215 - 4) / 2 in
    depth_m = ft("8") - ft("4") / 12 - Decimal("0.0027305")
    site = Site(depths=(Depth(Decimal(0), depth_m, "invert"),), surfaces=(street(),), soil="B")
    policy = Policy(4, margin_m=Decimal(0), methods=("open_cut_replacement",))
    scope = plan(
        lateral, graded(("sag", 4)), site, policy, load_rate_book(DEFAULT_RATE_BOOK), load_rule_set(DEFAULT_RULE_SET)
    )
    section = scope_document(scope, units)["plans"][0]["sections"][0]  # type: ignore[arg-type]
    return {each["item"]: each for each in section["quantities"]}


def street() -> Surface:
    return Surface(Decimal(0), Decimal("15.24"), "asphalt_street")


def test_a_section_carries_its_quantities_with_the_numbers_in_them() -> None:
    items = quantities_of("us")
    # 2.5 x 8 x 20 / 27 = 14.815 cy; pavement (2.5 + 2 x 1) x (20 + 2 x 1) / 9 = 11.0 sy.
    assert items["excavation"]["quantity"] == Decimal("14.815")
    assert items["excavation"]["unit"] == "cy"
    assert items["excavation"]["formula"] == "2.5 ft wide × 8 ft deep × 20 ft ÷ 27"
    assert items["restore_asphalt_street"]["quantity"] == 11
    assert items["restore_asphalt_street"]["unit"] == "sy"
    assert items["open_cut_replacement"]["formula"] == "30 ft − 10 ft"
    # Under a street all goes: 14.815 x 1.30 = 19.259 loose cy, in 10 cy trucks 2 loads.
    assert items["spoil_haul"]["quantity"] == Decimal("19.259")
    assert items["truck_loads"]["quantity"] == 2
    # 2 walls x 8 ft x 20 ft
    assert items["shoring"]["quantity"] == 320


def test_the_same_section_in_si() -> None:
    items = quantities_of("si")
    assert items["excavation"]["unit"] == "m3"
    assert items["excavation"]["formula"] == "0.762 m wide × 2.438 m deep × 6.096 m"
    # 14.815 cy x 0.764555 = 11.327 m3
    assert items["excavation"]["quantity"] == Decimal("11.327")


def test_the_bill_of_a_section_keeps_the_identity_and_adds_up() -> None:
    items = quantities_of("us")
    parts = sum(items[name]["quantity"] for name in ("embedment", "pipe_in_trench", "backfill"))  # type: ignore[misc]
    assert abs(items["excavation"]["quantity"] - parts) <= Decimal("0.002")  # type: ignore[operator]
