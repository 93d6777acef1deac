"""A drain's slope, capacity and self-cleansing velocity, and the fixture units a code lets it carry.

Sources: Manning's formula; the tables of the code named (`drain_tables`). A bore within 2 % of a printed
size counts as that size in a code's table (house rule: metric nominal sizes and plastic pipe lie 1 to 2 %
under the inch sizes); the hydraulics take the bore as given.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, Final

from scoring.checks.check import DECISION_AID, Check
from scoring.checks.drain_tables import CODES, DEFAULT_CODE, ROUGHNESS, DrainCode, Roughness
from scoring.checks.fields import UNITS, Choice, Field, Number
from scoring.checks.hydraulics import Flow, manning
from scoring.checks.measures import rounded, shown, to_us
from scoring.checks.reading import judge
from scoring.units import FOOT_M, Units

SELF_CLEANSING_FT_S: Final = Decimal(2)  # at least; the usual design velocity of sanitary sewers
NOMINAL_TOLERANCE: Final = Decimal("0.02")  # house rule
_SLOPE_STEP: Final = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class DrainInputs:
    """A drain as it lies. Diameter in in or mm by `units`; slope as fall over length in percent.

    `roughness` is Manning's n and outranks `material`; `depth_ratio` None is full bore.
    Raises `CheckInputInvalid`.
    """

    units: Units
    diameter: Decimal
    slope_percent: Decimal
    roughness: Decimal | None = None
    material: str | None = None
    depth_ratio: Decimal | None = None
    fixture_units: Decimal | None = None
    code: str = DEFAULT_CODE

    def __post_init__(self) -> None:
        judge(self, FIELDS)


@dataclass(frozen=True, slots=True)
class DrainResults:
    """What the drain carries and what the code asks.

    `velocity` and `flow` are None on an adverse grade. `fixture_unit_limit` is the limit of this size at
    this slope, `smallest_diameter` the least printed size that carries the fixture units at this slope.
    """

    velocity: Decimal | None
    flow: Decimal | None
    self_cleansing: bool
    minimum_slope_percent: Decimal
    slope_ok: bool
    fixture_unit_limit: int | None
    smallest_diameter: Decimal | None
    governs: str
    source: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


FIELDS: Final[tuple[Field, ...]] = (
    UNITS,
    Number("diameter", "size", "inside diameter", Decimal(1), Decimal(48), is_required=True,
           reason="house rule"),
    Number("slope_percent", "percent", "fall over length, negative where it rises with the flow",
           Decimal(-100), Decimal(100), is_required=True),
    Number("roughness", "ratio", "Manning's n", Decimal("0.005"), Decimal("0.05"),
           reason="house rule; pipes lie between 0.008 and 0.03"),
    Choice("material", "pipe material, where no roughness is given", tuple(ROUGHNESS)),
    Number("depth_ratio", "ratio", "depth of flow over diameter, 1 full", Decimal(0), Decimal(1), True),
    Number("fixture_units", "count", "drainage fixture units connected", Decimal(0), Decimal(1_000_000)),
    Choice("code", "whose tables of slopes and fixture units", tuple(CODES), default=DEFAULT_CODE),
)  # fmt: skip


def check_drain(inputs: DrainInputs) -> DrainResults:
    """Return capacity, self-cleansing and the code's limits of a drain; an adverse grade gets no number."""
    units, code = inputs.units, CODES[inputs.code]
    diameter_in = to_us(inputs.diameter, "size", units)
    roughness = _roughness(inputs)
    flow = _flow(inputs, diameter_in, roughness.n)
    minimum = minimum_slope_percent(diameter_in, code)
    limit = fixture_unit_limit(diameter_in, inputs.slope_percent, code)
    smallest_in = smallest_diameter_in(inputs.fixture_units, inputs.slope_percent, code)
    velocity_ft_s = flow.velocity_m_s / FOOT_M if flow else None
    is_clean = velocity_ft_s is not None and rounded(velocity_ft_s) >= SELF_CLEANSING_FT_S
    slope_ok = _to_four_places(inputs.slope_percent) >= minimum
    return DrainResults(
        velocity=None if velocity_ft_s is None else shown(velocity_ft_s, "speed", units),
        flow=shown(flow.discharge_m3_s / FOOT_M**3, "flow", units) if flow else None,
        self_cleansing=is_clean,
        minimum_slope_percent=minimum,
        slope_ok=slope_ok,
        fixture_unit_limit=limit,
        smallest_diameter=None if smallest_in is None else shown(smallest_in, "size", units),
        governs=_governs(flow, slope_ok, is_clean, inputs.fixture_units, limit),
        source=_sources(code, roughness),
        cautions=(DECISION_AID, "A slope read from a recording is no survey; measure before you decide."),
        notes=tuple(_notes(inputs, diameter_in, limit, smallest_in)),
    )


def minimum_slope_percent(diameter_in: Decimal, code: DrainCode) -> Decimal:
    """Return the least slope a code asks for a bore in inches."""
    size_in = _counted_as(diameter_in, code)
    return [rule.least_percent for rule in code.slope_rules if size_in >= rule.from_in][-1]


def fixture_unit_limit(diameter_in: Decimal, slope_percent: Decimal, code: DrainCode) -> int | None:
    """Return the fixture units allowed by the next printed size and slope below, or None."""
    column = _column(slope_percent, code)
    size_in = _counted_as(diameter_in, code)
    sizes = [printed for printed in sorted(code.fixture_units) if printed <= size_in]
    if column is None or not sizes or size_in > max(code.fixture_units):
        return None
    return code.fixture_units[sizes[-1]][column]


def smallest_diameter_in(fixture_units: Decimal | None, slope_percent: Decimal, code: DrainCode) -> Decimal | None:
    """Return the least printed size that carries the fixture units at this slope; None where none does."""
    column = _column(slope_percent, code)
    if fixture_units is None or column is None:
        return None
    for size_in, limits in sorted(code.fixture_units.items()):
        limit = limits[column]
        if limit is not None and fixture_units <= limit:
            return size_in
    return None


def _roughness(inputs: DrainInputs) -> Roughness:
    if inputs.roughness is not None:
        return Roughness(Decimal(inputs.roughness), "as given")
    return ROUGHNESS[inputs.material or "unknown"]


def _flow(inputs: DrainInputs, diameter_in: Decimal, roughness: Decimal) -> Flow | None:
    if inputs.slope_percent <= 0:
        return None
    depth_ratio = Decimal(1) if inputs.depth_ratio is None else Decimal(inputs.depth_ratio)
    return manning(diameter_in / 12 * FOOT_M, Decimal(inputs.slope_percent) / 100, roughness, depth_ratio)


def _counted_as(diameter_in: Decimal, code: DrainCode) -> Decimal:
    """Return the printed size a bore counts as, or the bore itself."""
    printed = {rule.from_in for rule in code.slope_rules if rule.from_in} | set(code.fixture_units)
    near = [size for size in sorted(printed) if abs(diameter_in - size) <= size * NOMINAL_TOLERANCE]
    return near[0] if near else diameter_in


def _column(slope_percent: Decimal, code: DrainCode) -> int | None:
    slope = _to_four_places(slope_percent)
    fitting = [index for index, percent in enumerate(code.column_percents) if percent <= slope]
    return fitting[-1] if fitting else None


def _to_four_places(percent: Decimal) -> Decimal:
    """Slopes are compared at four places: 0.5208 counts as 1/16 in/ft, and so does 0.52083."""
    return Decimal(percent).quantize(_SLOPE_STEP, ROUND_HALF_UP)


def _governs(
    flow: Flow | None, slope_ok: bool, is_clean: bool, fixture_units: Decimal | None, limit: int | None
) -> str:
    if flow is None:
        return "adverse_grade"
    if not slope_ok:
        return "minimum_slope"
    if fixture_units is not None and limit is not None and fixture_units > limit:
        return "fixture_units"
    return "none" if is_clean else "self_cleansing"


def _sources(code: DrainCode, roughness: Roughness) -> tuple[str, ...]:
    tables = (code.slope_source, code.fixture_source)
    velocity = "self-cleansing velocity 2 ft/s: common practice, no source"
    return ("Manning's formula", f"n {roughness.n}: {roughness.source}", velocity, *filter(None, tables))


def _notes(inputs: DrainInputs, diameter_in: Decimal, limit: int | None, smallest_in: Decimal | None) -> Iterable[str]:
    code = CODES[inputs.code]
    if inputs.slope_percent <= 0:
        yield "Adverse grade: the drain does not fall with the flow. No velocity and no flow are computed."
    yield from _roughness_notes(inputs)
    counted_in = _counted_as(diameter_in, code)
    if counted_in != diameter_in:
        yield f"Counted as a {counted_in} in drain in the code's tables (house rule: within 2 %)."
    if not code.fixture_units:
        yield f"No table of fixture units is held for the code {code.name}."
        return
    if limit is None:
        yield "This size is not listed at this slope: no limit of fixture units to give."
    elif inputs.fixture_units is not None and inputs.fixture_units > limit:
        yield f"{inputs.fixture_units} fixture units are more than the {limit} this drain may carry."
    if inputs.fixture_units is not None and smallest_in is None:
        yield "No listed size carries these fixture units at this slope."


def _roughness_notes(inputs: DrainInputs) -> Iterable[str]:
    if inputs.roughness is None:
        material = inputs.material or "no material given"
        yield f"n {ROUGHNESS[inputs.material or 'unknown'].n} for {material}: {_roughness(inputs).source}."
    elif inputs.material is not None:
        yield "roughness is used, material is not."


_EXAMPLE: Final[Mapping[str, Any]] = {
    "units": "us", "diameter": 4, "slope_percent": Decimal("2.0833"), "roughness": Decimal("0.013"),
    "fixture_units": 24, "code": "ipc",
}  # fmt: skip

DRAIN: Final = Check(
    name="drain",
    title="Drain: slope, capacity, self-cleansing velocity and fixture units",
    fields=FIELDS,
    rules=(),
    inputs_type=DrainInputs,
    results_type=DrainResults,
    result_measures={
        "velocity": "speed",
        "flow": "flow",
        "minimum_slope_percent": "percent",
        "fixture_unit_limit": "count",
        "smallest_diameter": "size",
    },
    compute=check_drain,
    example=_EXAMPLE,
)
