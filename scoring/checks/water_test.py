"""Water test of a drain: the leakage allowed, and the head that must hold.

The limit is jurisdiction data and has no default. Computed in inches, feet and US gallons.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from scoring.checks.check import DECISION_AID, Check
from scoring.checks.fields import UNITS, Field, Number
from scoring.checks.measures import rounded, to_us
from scoring.checks.reading import judge
from scoring.units import Units

FEET_PER_MILE: Final = 5280
HOURS_PER_DAY: Final = 24


@dataclass(frozen=True, slots=True)
class HeadTest:
    """A head of water that must stand for a time without falling."""

    head_ft: Decimal
    hold_s: int
    source: str


HEAD_TESTS: Final[Mapping[str, HeadTest]] = {
    "ipc": HeadTest(Decimal(10), 900, "International Plumbing Code, section 312"),
    "chicago": HeadTest(Decimal(10), 900, "Chicago plumbing code"),
    "philadelphia": HeadTest(Decimal(10), 900, "Philadelphia plumbing code"),
    "oakland": HeadTest(Decimal(5), 900, "Oakland Municipal Code 13.08.500"),
}


@dataclass(frozen=True, slots=True)
class WaterTestInputs:
    """A leakage test. Diameter in in or mm, length in ft or m; gallons are US in both units.

    Raises `CheckInputInvalid`.
    """

    units: Units
    diameter: Decimal
    length: Decimal
    limit_gpd_per_inch_mile: Decimal
    measured_gph: Decimal | None = None

    def __post_init__(self) -> None:
        judge(self, FIELDS)


@dataclass(frozen=True, slots=True)
class WaterTestResults:
    """The leakage allowed in gallons an hour, and with a reading whether the drain passed."""

    allowed_gph: Decimal
    passed: bool | None
    governs: str
    source: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


_HOUSE: Final = "house rule"
FIELDS: Final[tuple[Field, ...]] = (
    UNITS,
    Number("diameter", "size", "inside diameter", Decimal(1), Decimal(144), is_required=True, reason=_HOUSE),
    Number("length", "length", "length under test", Decimal(0), Decimal(100_000), True, True, reason=_HOUSE),
    Number("limit_gpd_per_inch_mile", "limit", "gallons allowed per inch of diameter, mile and day",
           Decimal(0), Decimal(100_000), is_required=True, reason=_HOUSE),
    Number("measured_gph", "leakage", "leakage read, in gallons an hour", Decimal(0), Decimal(1_000_000)),
)  # fmt: skip


def check_water_test(inputs: WaterTestInputs) -> WaterTestResults:
    """Return the leakage allowed, limit x D x L / 5280 / 24, and whether the reading passes.

    A reading of exactly the allowed leakage passes.
    """
    diameter_in = to_us(inputs.diameter, "size", inputs.units)
    length_ft = to_us(inputs.length, "length", inputs.units)
    allowed_gph = inputs.limit_gpd_per_inch_mile * diameter_in * length_ft / FEET_PER_MILE / HOURS_PER_DAY
    shown_gph = rounded(allowed_gph)
    return WaterTestResults(
        allowed_gph=shown_gph,
        passed=None if inputs.measured_gph is None else inputs.measured_gph <= shown_gph,
        governs="leakage_limit",
        source=("leakage = limit x diameter x length / 5280; the limit as given",),
        cautions=(
            DECISION_AID,
            "A recording is not a pressure test, and a test says nothing about the wall.",
        ),
        notes=(
            "Many codes ask for a head that holds instead: 10 ft for 15 minutes (International Plumbing "
            "Code, section 312), 5 ft for 15 minutes (Oakland 13.08.500).",
        ),
    )


def head_holds(code: str, head_ft: Decimal, held_s: Decimal) -> bool:
    """Return whether a head of water stood high and long enough. Raises KeyError for a code not held."""
    asked = HEAD_TESTS[code]
    return head_ft >= asked.head_ft and held_s >= asked.hold_s


_EXAMPLE: Final[Mapping[str, Any]] = {
    "units": "us", "diameter": 6, "length": 60, "limit_gpd_per_inch_mile": 500,
    "measured_gph": Decimal("0.4"),
}  # fmt: skip

WATER_TEST: Final = Check(
    name="water-test",
    title="Water test: allowed leakage, pass or fail",
    fields=FIELDS,
    rules=(),
    inputs_type=WaterTestInputs,
    results_type=WaterTestResults,
    result_measures={"allowed_gph": "leakage"},
    compute=check_water_test,
    example=_EXAMPLE,
)
