"""Trench or pit: what 29 CFR 1926 Subpart P asks of an excavation, and how much ground comes out.

Source: 29 CFR 1926.650 to .652 with Appendices A and B. Computed in feet and cubic yards.
Slopes are horizontal to vertical; 0 is a vertical wall.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, Literal

from scoring.checks.check import Check
from scoring.checks.faults import Fault
from scoring.checks.fields import UNITS, Choice, Field, Number, Whole, YesNo
from scoring.checks.measures import shown, to_us
from scoring.checks.reading import judge
from scoring.checks.trench_rules import (
    AIR_TEST_ABOVE_FT,
    CAUTIONS,
    ENGINEER_ABOVE_FT,
    LADDER_FROM_FT,
    PROTECTION_FROM_FT,
    SHORT_TERM_A,
    SHORT_TERM_DEPTH_FT,
    SHORT_TERM_HOURS,
    SLOPES,
    SPOIL_SETBACK_FT,
    Slope,
    ladders_for,
)
from scoring.units import Units

Soil = Literal["stable_rock", "A", "B", "C", "unclassified"]
Protection = Literal["sloped", "shored", "shielded"]

# A client's floating point writes 5 ft as 1.5239999999999998 m: still 5 ft, and still protected.
_NOISE_FT: Final = Decimal("1E-9")


@dataclass(frozen=True, slots=True)
class TrenchInputs:
    """An excavation as planned. Depth, widths and lengths in ft or m by `units`.

    `length` is the trench's, measured at its bottom. `vertical_lower` is the shielded vertical part from the
    bottom up; None with a shield: the whole depth. `sloped_sides` 2 is a trench, 4 a pit.
    Raises `CheckInputInvalid`.
    """

    units: Units
    depth: Decimal
    bottom_width: Decimal
    length: Decimal
    soil: Soil = "unclassified"
    previously_disturbed: bool = False
    open_hours: Decimal | None = None
    cave_in_signs: bool = False
    bad_air_possible: bool = False
    protection: Protection = "sloped"
    vertical_lower: Decimal | None = None
    sloped_sides: Literal[2, 4] = 2

    def __post_init__(self) -> None:
        judge(self, FIELDS, RULES)


@dataclass(frozen=True, slots=True)
class TrenchResults:
    """What the rules ask and what comes out.

    `slope_ratio` and `slope_degrees` are the steepest the soil used allows, whether or not a wall is
    sloped; `top_width`, `section_area` and `volume` (bank measure) follow the protection chosen.
    """

    soil_used: str
    slope_ratio: Decimal
    slope_degrees: Decimal
    top_width: Decimal
    section_area: Decimal
    volume: Decimal
    ladder_required: bool
    ladders: int
    air_test_required: bool
    protective_system_required: bool
    engineer_required: bool
    spoil_setback: Decimal
    governs: str
    source: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


def _vertical_lower_faults(values: Mapping[str, Any]) -> Iterable[Fault]:
    lower, depth = values.get("vertical_lower"), values.get("depth")
    if lower is None or not lower:
        return
    if values.get("protection", "shielded") != "shielded":
        detail = (
            "vertical_lower is a wall held by a shield. Send protection shielded with it, or leave it out: "
            "sloped walls slope from the bottom, shored ones are vertical all the way."
        )
        yield Fault("/vertical_lower", "conflict", detail)
    if depth is not None and lower > depth:
        yield Fault("/vertical_lower", "out_of_range", "vertical_lower is more than depth. Correct one of them.")


_HOUSE_LIMIT: Final = "house rule, beyond it the entry is taken for a slip"
FIELDS: Final[tuple[Field, ...]] = (
    UNITS,
    Number("depth", "length", "depth of the excavation", Decimal(0), Decimal(100), True, True,
           reason=_HOUSE_LIMIT),
    Number("bottom_width", "length", "width at the bottom", Decimal(0), Decimal(100), True, True,
           reason=_HOUSE_LIMIT),
    Number("length", "length", "length at the bottom", Decimal(0), Decimal(10_000), True, True,
           reason=_HOUSE_LIMIT),
    Choice("soil", "soil type as a competent person classified it", tuple(SLOPES), default="unclassified"),
    YesNo("previously_disturbed", "the ground was dug before, as over any existing drain"),
    Number("open_hours", "hours", "how long the excavation stays open", Decimal(0), Decimal(100_000), True),
    YesNo("cave_in_signs", "a competent person sees a sign of a possible cave-in"),
    YesNo("bad_air_possible", "lack of oxygen or a harmful gas could reasonably be expected"),
    Choice("protection", "how the walls are held", ("sloped", "shored", "shielded"), default="sloped"),
    Number("vertical_lower", "length", "height of the shielded vertical part, from the bottom up",
           Decimal(0), Decimal(100)),
    Whole("sloped_sides", "2: a trench, its two long walls; 4: a pit, all walls", (2, 4), default=2),
)  # fmt: skip
RULES: Final = (_vertical_lower_faults,)


def check_trench(inputs: TrenchInputs) -> TrenchResults:
    """Return what the rules ask of an excavation and its volume in bank measure."""
    units = inputs.units
    depth_ft, length_ft = _feet(inputs.depth, units), _feet(inputs.length, units)
    soil = _soil_used(inputs)
    slope = _slope(soil, depth_ft, inputs.open_hours)
    cut = _cut(inputs, depth_ft, slope.ratio)
    needs_ladder = depth_ft >= LADDER_FROM_FT
    return TrenchResults(
        soil_used=soil,
        slope_ratio=slope.ratio,
        slope_degrees=slope.degrees,
        top_width=shown(cut.top_width_ft, "length", units),
        section_area=shown(cut.section_sf, "area", units),
        volume=shown(cut.volume_cy(length_ft, inputs.sloped_sides), "volume", units),
        ladder_required=needs_ladder,
        ladders=ladders_for(length_ft) if needs_ladder else 0,
        air_test_required=depth_ft > AIR_TEST_ABOVE_FT and inputs.bad_air_possible,
        protective_system_required=_needs_protection(soil, depth_ft, inputs.cave_in_signs),
        engineer_required=depth_ft > ENGINEER_ABOVE_FT,
        spoil_setback=shown(SPOIL_SETBACK_FT, "length", units),
        governs="engineer" if depth_ft > ENGINEER_ABOVE_FT else slope.governs,
        source=_sources(slope),
        cautions=(*_special_cautions(inputs, soil, depth_ft), *CAUTIONS),
        notes=tuple(_notes(inputs, soil, depth_ft)),
    )


@dataclass(frozen=True, slots=True)
class _Cut:
    """The shape of the excavation, in feet: vertical below, sloped above."""

    bottom_ft: Decimal
    lower_ft: Decimal
    sloped_ft: Decimal
    ratio: Decimal

    @property
    def top_width_ft(self) -> Decimal:
        return self.bottom_ft + 2 * self.ratio * self.sloped_ft

    @property
    def section_sf(self) -> Decimal:
        return self.bottom_ft * self.lower_ft + (self.bottom_ft + self.top_width_ft) / 2 * self.sloped_ft

    def volume_cy(self, length_ft: Decimal, sloped_sides: int) -> Decimal:
        if sloped_sides == 2:
            return self.section_sf * length_ft / 27
        run_ft = self.ratio * self.sloped_ft
        spread_sf = run_ft * (length_ft + self.bottom_ft) + Decimal(4) / 3 * run_ft**2
        floor_sf = length_ft * self.bottom_ft
        return (floor_sf * self.lower_ft + self.sloped_ft * (floor_sf + spread_sf)) / 27


def _soil_used(inputs: TrenchInputs) -> Soil:
    """Ground that was dug before is neither type A nor rock: type B at best (App. A)."""
    if inputs.previously_disturbed and inputs.soil in ("A", "stable_rock"):
        return "B"
    return inputs.soil


def _slope(soil: Soil, depth_ft: Decimal, open_hours: Decimal | None) -> Slope:
    is_short = open_hours is not None and open_hours <= SHORT_TERM_HOURS
    if soil == "A" and is_short and depth_ft <= SHORT_TERM_DEPTH_FT:
        return SHORT_TERM_A
    return SLOPES[soil]


def _cut(inputs: TrenchInputs, depth_ft: Decimal, ratio: Decimal) -> _Cut:
    lower_ft = Decimal(0) if inputs.protection == "sloped" else depth_ft
    if inputs.protection == "shielded" and inputs.vertical_lower is not None:
        lower_ft = _feet(inputs.vertical_lower, inputs.units)
    bottom_ft = _feet(inputs.bottom_width, inputs.units)
    return _Cut(bottom_ft, lower_ft, depth_ft - lower_ft, ratio)


def _feet(length: Decimal, units: Units) -> Decimal:
    return to_us(length, "length", units).quantize(_NOISE_FT)


def _needs_protection(soil: Soil, depth_ft: Decimal, has_cave_in_signs: bool) -> bool:
    return soil != "stable_rock" and (depth_ft >= PROTECTION_FROM_FT or has_cave_in_signs)


def _sources(slope: Slope) -> tuple[str, ...]:
    return (
        slope.source,
        "29 CFR 1926 Subpart P, App. A (soil classification)",
        "29 CFR 1926.651(c)(2) (ladders)",
        "29 CFR 1926.651(g)(1)(i) (air test)",
        "29 CFR 1926.651(j)(2) (spoil)",
        "29 CFR 1926.652(a)(1) (protective systems)",
        "29 CFR 1926 Subpart P, App. B (engineer's design beyond 20 ft)",
    )


def _special_cautions(inputs: TrenchInputs, soil: Soil, depth_ft: Decimal) -> Iterable[str]:
    if depth_ft > ENGINEER_ABOVE_FT:
        yield (
            "Deeper than 20 ft: a registered professional engineer designs the protective system; slope and "
            "volume given here are no design."
        )
    if soil == "stable_rock" and inputs.cave_in_signs:
        yield "Signs of a cave-in contradict stable rock: nobody enters before it is classified again."
    if soil in ("A", "stable_rock") and not inputs.previously_disturbed:
        yield (
            "Ground over an existing drain was dug before and is then neither type A nor stable rock "
            "(29 CFR 1926 Subpart P, App. A). Nor is it type A with fissures, traffic or seepage."
        )
    if inputs.protection == "shielded" and inputs.vertical_lower is not None:
        yield "The shield reaches at least 18 in above the top of the vertical part (App. B, Figure B-1)."


def _notes(inputs: TrenchInputs, soil: Soil, depth_ft: Decimal) -> Iterable[str]:
    if soil != inputs.soil:
        yield f"Soil {inputs.soil} is computed as type B: the ground was dug before (App. A)."
    if soil == "unclassified":
        yield "Nobody classified the soil: 1.5:1 at most (29 CFR 1926.652(b)(1)(i))."
    if inputs.protection == "shored" or (inputs.protection == "shielded" and inputs.vertical_lower is None):
        yield "The walls are vertical for the whole depth; the slope given is the steepest this soil allows."
    if depth_ft == ENGINEER_ABOVE_FT:
        yield (
            "Exactly 20 ft: Table B-1 is headed less than 20 ft, the text asks for an engineer beyond 20 ft. "
            "Taken here as the last depth without one; have it designed where in doubt."
        )
    if depth_ft < PROTECTION_FROM_FT and soil != "stable_rock" and not inputs.cave_in_signs:
        yield "Less than 5 ft: no protective system while a competent person sees no sign of a cave-in."
    if depth_ft >= LADDER_FROM_FT:
        yield "Ladders stand so that nobody walks more than 25 ft along the trench to one."


TRENCH: Final = Check(
    name="trench",
    title="Trench or pit: safety rules, slope and volume",
    fields=FIELDS,
    rules=RULES,
    inputs_type=TrenchInputs,
    results_type=TrenchResults,
    result_measures={
        "slope_ratio": "ratio",
        "slope_degrees": "degrees",
        "top_width": "length",
        "section_area": "area",
        "volume": "volume",
        "ladders": "count",
        "spoil_setback": "length",
    },
    compute=check_trench,
    example={
        "units": "us", "depth": 8, "bottom_width": 3, "length": 20, "soil": "B",
        "previously_disturbed": True, "protection": "sloped",
    },
)  # fmt: skip
