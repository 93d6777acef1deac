"""Both sides of the limits a scope works with: minimum lengths, reaches, protection, spacing."""

from dataclasses import replace
from decimal import Decimal

import pytest

from scoring.scope import DEFAULT_RATE_BOOK, Scope, load_rate_book, plan, scope_document
from scoring.types import Boundary, Depth, Policy, Site, Surface
from tests.scoring.scope.laterals import feature, found, graded, line
from tests.scoring.scope.test_books import changed
from tests.scoring.scope.test_plans import RULES, limits, scoped


def behind_a_trap(trap: str, method: str) -> Scope:
    """A crack between the head of the line and a trap."""
    lateral = line([found("c", "crack", "0.1", sd="0")], features=(feature("trap", trap),))
    return scoped(lateral, graded(("c", 4)), policy=Policy(3, margin_m=Decimal("0.05"), methods=(method,)))


@pytest.mark.parametrize(("trap", "refused"), [("0.609", {"minimum_length"}), ("0.6096", set())])
def test_a_liner_is_refused_where_its_minimum_length_has_no_room(trap: str, refused: set[str]) -> None:
    # 2 ft (0.6096 m) in the default rate book
    scope = behind_a_trap(trap, "sectional_liner")
    assert limits(scope, "c", "sectional_liner") == refused
    if refused:
        detail = next(one.detail for one in dict(scope.refused)["c"] if one.method == "sectional_liner")
        assert "2 ft (0.61 m) at least" in detail


def test_no_piece_of_liner_is_shorter_than_its_minimum_in_any_plan() -> None:
    lateral = line([found("c", "crack", "3")], features=(feature("trap", "0.2"),))
    for each in scoped(lateral, graded(("c", 4))).plans:
        for section in each.sections:
            if "liner" in section.method:
                assert section.to_m - section.from_m >= Decimal("0.6096")
    whole = scoped(lateral, graded(("c", 4)), policy=Policy(3, methods=("full_liner",))).plans[2]
    assert [(left.from_m, left.to_m) for left in whole.leaves] == [(Decimal(0), Decimal("0.2"))]


def test_what_can_be_dug_short_is_charged_its_minimum() -> None:
    """The yard is 2 ft long between the wall and what may not be dug: 4 ft are charged, so 2 ft more at 80 a foot."""
    site = Site(
        boundaries=(Boundary("building_wall", Decimal(5)),),
        surfaces=tuple(
            Surface(Decimal(first), Decimal(last), kind)
            for first, last, kind in (("0", "5.6096", "lawn"), ("5.6096", "20", "driveway"))
        ),
    )
    lateral = line([found("s", "sag", "5.3", sd="0")])
    policy = Policy(3, margin_m=Decimal("0.1"), methods=("spot_repair",), dig_allowed_in=("lawn",))
    (section,) = scoped(lateral, graded(("s", 4)), site, policy).plans[0].sections
    assert (section.from_m, section.to_m) == (Decimal(5), Decimal("5.6096"))
    missing = next(each for each in section.quantities if each.item == "missing_length")
    assert (missing.amount, missing.amount_due) == (Decimal("0.6096"), Decimal("160.00"))


@pytest.mark.parametrize(("station", "refused"), [("5.9144", set()), ("5.9145", {"away_from_trap"})])
def test_trap_removal_reaches_three_feet(station: str, refused: set[str]) -> None:
    lateral = line([found("r", "crack", station, sd="0")], features=(feature("trap", "5"),))
    scope = scoped(lateral, graded(("r", 4)), policy=Policy(3, margin_m=Decimal(0), methods=("trap_removal",)))
    assert limits(scope, "r", "trap_removal") == refused


@pytest.mark.parametrize(("station", "refused"), [("6.524", set()), ("6.5241", {"outside_building"})])
def test_replacement_inside_ends_five_feet_outside(station: str, refused: set[str]) -> None:
    site = Site(boundaries=(Boundary("building_wall", Decimal(5)),))
    lateral = line([found("r", "sag", station, sd="0")])
    policy = Policy(3, margin_m=Decimal(0), methods=("inside_replacement",))
    assert limits(scoped(lateral, graded(("r", 4)), site, policy), "r", "inside_replacement") == refused


def items(bottom_ft: str, method: str, protection: str = "shored", soil: str | None = "B") -> dict[str, object]:
    """Return the quantities of a section whose trench bottom lies so deep."""
    below_m = Decimal("0.1016") + Decimal("0.0027305")  # 4 in bedding, wall of 4 in SDR-35
    depth = Depth(Decimal(0), Decimal(bottom_ft) * Decimal("0.3048") - below_m, "invert")
    site = Site(depths=(depth, replace(depth, station_m=Decimal(20))), soil=soil)
    book = load_rate_book(changed(DEFAULT_RATE_BOOK, "trench/protection", protection))
    lateral = line([found("s", "broken", "10", "14", sd="0")])
    scope = plan(lateral, graded(("s", 4)), site, Policy(3, Decimal(0), (method,)), book, RULES)
    section = scope_document(scope, "us")["plans"][0]["sections"][0]
    return {each["item"]: each["quantity"] for each in section["quantities"]}


@pytest.mark.parametrize(("bottom_ft", "is_held"), [("4.99", False), ("5", True)])
def test_from_five_feet_on_walls_are_held(bottom_ft: str, is_held: bool) -> None:
    # 29 CFR 1926.652(a)(1): required from 5.0 ft on
    dug, burst = items(bottom_ft, "open_cut_replacement"), items(bottom_ft, "pipe_bursting")
    assert ("shoring" in dug, "shoring_of_ends" in dug, "pit_shoring" in burst) == (is_held, is_held, is_held)


def test_a_trench_is_held_on_two_sides_and_its_ends_a_pit_on_four() -> None:
    # Trench 2.5 ft wide, 8 ft deep: ends 2 x 2.5 x 8 = 40 sf. Two pits 6 x 4 ft: 2 x 2 x (6 + 4) x 8 = 320 sf,
    # 2 x 6 x 4 x 8 / 27 = 14.222 cy.
    assert items("8", "open_cut_replacement")["shoring_of_ends"] == 40
    pits = items("8", "pipe_bursting")
    assert (pits["pit_shoring"], pits["pit_excavation"]) == (320, Decimal("14.222"))


def test_pits_are_shored_even_where_trenches_are_sloped() -> None:
    pits = items("8", "pipe_bursting", "sloped")
    assert (pits["pit_shoring"], pits["pit_excavation"]) == (320, Decimal("14.222"))
    assert "shoring" not in items("8", "open_cut_replacement", "sloped")


@pytest.mark.parametrize(
    ("protection", "soil", "said", "not_said"),
    [
        ("shored", None, "no side is sloped", "1.5 to 1"),
        ("shored", "B", "no side is sloped", "not classified"),
        ("sloped", None, "sloped at 1.5 to 1", "no side is sloped"),
        ("sloped", "A", "sloped at 1 to 1", "not classified"),
    ],
)
def test_the_answer_says_how_the_ground_is_held_as_the_quantities_take_it(
    protection: str, soil: str | None, said: str, not_said: str
) -> None:
    book = load_rate_book(changed(DEFAULT_RATE_BOOK, "trench/protection", protection))
    scope = plan(line([found("s", "sag", "10")]), graded(("s", 4)), Site(soil=soil), Policy(3), book, RULES)
    words = " ".join(scope.assumptions)
    assert said in words
    assert not_said not in words


@pytest.mark.parametrize(("length", "needed"), [("30.48", 0), ("30.49", 1), ("60.97", 2)])
def test_clean_outs_between_the_ends_by_the_spacing_of_the_rule_set(length: str, needed: int) -> None:
    # 100 ft (30.48 m): IPC 708
    scope = scoped(line([found("c", "crack", "10")], length), graded(("c", 4)))
    checks = {check.check: dict(check.results) for check in scope.plans[0].sections[0].checks}
    assert checks["clean_outs"]["us"]["needed"] == needed


def test_a_dearer_price_of_anything_never_makes_the_plan_cheaper() -> None:
    lateral = line([found("a", "crack", "3"), found("b", "sag", "9"), found("c", "roots", "15")])
    grades = graded(("a", 4), ("b", 4), ("c", 4))

    def cost(document: dict[str, object]) -> Decimal:
        total = plan(lateral, grades, Site(), Policy(3), load_rate_book(document), RULES).plans[0].total
        assert total is not None
        return total.likely

    base = cost(DEFAULT_RATE_BOOK)
    for item in ("excavation", "bedding", "backfill", "spoil_haul", "shoring", "permit", "connection", "clean_out"):
        dear = {"low": 100, "likely": 5000, "high": 9000}
        assert cost(changed(DEFAULT_RATE_BOOK, f"items/{item}", dear)) >= base, item
