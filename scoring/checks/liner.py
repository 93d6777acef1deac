"""Wall thickness of a cured-in-place liner: ASTM F1216 Appendix X1.

The cases are in `liner_design`; here are the inputs, what is assumed where one is missing, and the results.
Edition 2007b has the ovality factor C inside the root of X1.3; before it, C stood on the load (6 % thicker
at 2 % ovality). X1.1 reads the same in both.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Any, Final, Literal

from scoring.checks.check import DECISION_AID, Check
from scoring.checks.fields import Number
from scoring.checks.liner_design import Case, LinerCase, LinerDesign, full_cases, partial_cases
from scoring.checks.liner_fields import ASSUMED, FIELDS, RULES
from scoring.checks.measures import rounded, shown, to_us, unit_of
from scoring.checks.reading import judge
from scoring.units import Units

Condition = Literal["partially_deteriorated", "fully_deteriorated"]
Edition = Literal["2007b", "before_2007b"]

_EDITIONS: Final = {"2007b": "F1216-07b and later", "before_2007b": "before F1216-07b"}


CAUTIONS: Final = (
    DECISION_AID,
    "A licensed engineer signs a liner design.",
    "A liner needs a round, passable host, scaled and cleaned; it cures neither a sag nor a structural "
    "defect with soil or a void showing.",
)


@dataclass(frozen=True, slots=True)
class LinerInputs:
    """A liner and what loads it. Diameter in in or mm; heads and cover in ft or m; stresses in psi or kPa.

    `external_pressure` replaces the heads, cover weight and live load it is made of; cover still counts for
    the support of the soil. Raises `CheckInputInvalid`.
    """

    units: Units
    condition: Condition
    diameter: Decimal
    ovality_percent: Decimal | None = None
    water_over_invert: Decimal | None = None
    cover: Decimal | None = None
    water_over_crown: Decimal | None = None
    live_load: Decimal | None = None
    external_pressure: Decimal | None = None
    soil_density: Decimal | None = None
    soil_modulus: Decimal | None = None
    initial_modulus: Decimal | None = None
    long_term_modulus: Decimal | None = None
    long_term_strength: Decimal | None = None
    safety_factor: Decimal | None = None
    enhancement_factor: Decimal | None = None
    poisson_ratio: Decimal | None = None
    edition: Edition = "2007b"
    agency_minimum_mm: Decimal | None = None
    step_mm: Decimal | None = None

    def __post_init__(self) -> None:
        judge(self, FIELDS, RULES)


@dataclass(frozen=True, slots=True)
class LinerResults:
    """The wall computed and the wall to order.

    `thickness_mm` leaves the agency minimum out, `order_mm` has it in and is rounded up to a whole number
    of steps. `governs` is the case that sets `thickness_mm`, `none` where no case applies.
    """

    thickness_mm: Decimal | None
    order_mm: Decimal | None
    governs: Case | Literal["none"]
    cases: tuple[LinerCase, ...]
    source: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


_UNUSED_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "partially_deteriorated": (
        "cover", "water_over_crown", "live_load", "soil_density", "soil_modulus", "initial_modulus",
    ),
    "fully_deteriorated": (
        "water_over_invert", "long_term_strength", "enhancement_factor", "poisson_ratio",
    ),
}  # fmt: skip
_USED_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "partially_deteriorated": (
        "ovality_percent", "long_term_modulus", "long_term_strength", "safety_factor", "enhancement_factor",
        "poisson_ratio",
    ),
    "fully_deteriorated": (
        "ovality_percent", "live_load", "soil_density", "soil_modulus", "initial_modulus",
        "long_term_modulus", "safety_factor",
    ),
}  # fmt: skip


def check_liner(inputs: LinerInputs) -> LinerResults:
    """Return the wall thickness of a liner by every case of its condition, and which case governs."""
    design = _design(inputs)
    is_full = inputs.condition == "fully_deteriorated"
    cases = full_cases(design) if is_full else partial_cases(design)
    thickness_mm, governs = _governing(cases)
    order_mm = order_thickness_mm(thickness_mm, inputs.agency_minimum_mm, inputs.step_mm)
    return LinerResults(
        thickness_mm=thickness_mm,
        order_mm=order_mm,
        governs=governs,
        cases=cases,
        source=_sources(inputs),
        cautions=CAUTIONS,
        notes=tuple(_notes(inputs, design, thickness_mm)),
    )


def _governing(cases: tuple[LinerCase, ...]) -> tuple[Decimal | None, Case | Literal["none"]]:
    walls = [(case.thickness_mm, case.case) for case in cases if case.thickness_mm is not None]
    return max(walls) if walls else (None, "none")


def order_thickness_mm(
    thickness_mm: Decimal | None, agency_minimum_mm: Decimal | None, step_mm: Decimal | None
) -> Decimal | None:
    """Return the wall to order: computed or agency minimum, up to the next whole number of steps."""
    wanted = max((wall for wall in (thickness_mm, agency_minimum_mm) if wall is not None), default=None)
    if wanted is None or not step_mm:
        return wanted
    return rounded((wanted / step_mm).to_integral_value(ROUND_CEILING) * step_mm)


def _design(inputs: LinerInputs) -> LinerDesign:
    def us(name: str, measure: Any) -> Any:
        value = getattr(inputs, name)
        return None if value is None else to_us(Decimal(value), measure, inputs.units)

    def assumed(name: str, measure: Any) -> Decimal:
        value = us(name, measure)
        return ASSUMED[name].value_us if value is None else value

    return LinerDesign(
        diameter_in=us("diameter", "size"),
        ovality=assumed("ovality_percent", "percent") / 100,
        water_over_invert_ft=us("water_over_invert", "length"),
        cover_ft=us("cover", "length"),
        water_over_crown_ft=us("water_over_crown", "length"),
        live_load_psi=assumed("live_load", "stress"),
        external_psi=us("external_pressure", "stress"),
        soil_density_pcf=assumed("soil_density", "density"),
        soil_modulus_psi=assumed("soil_modulus", "stress"),
        initial_modulus_psi=assumed("initial_modulus", "stress"),
        long_term_modulus_psi=assumed("long_term_modulus", "stress"),
        long_term_strength_psi=assumed("long_term_strength", "stress"),
        safety_factor=assumed("safety_factor", "ratio"),
        enhancement_factor=assumed("enhancement_factor", "ratio"),
        poisson_ratio=assumed("poisson_ratio", "ratio"),
        edition=inputs.edition,
    )


def _sources(inputs: LinerInputs) -> tuple[str, ...]:
    cases = "X1.3 and X1.4" if inputs.condition == "fully_deteriorated" else "X1.1 and X1.2"
    return (
        f"ASTM F1216, Appendix X1, {cases}, edition {_EDITIONS[inputs.edition]}",
        "Najafi, Trenchless Technology Piping, pp. 75-83 (worked examples)",
    )


def _notes(inputs: LinerInputs, design: LinerDesign, thickness_mm: Decimal | None) -> Iterable[str]:
    for name in _USED_BY[inputs.condition]:
        if getattr(inputs, name) is None and not (inputs.external_pressure is not None and name in _MADE_OF):
            yield _assumption(name, inputs.units)
    for name in _UNUSED_BY[inputs.condition]:
        if getattr(inputs, name) is not None:
            yield f"{name} is not used for a {inputs.condition.replace('_', ' ')} pipe."
    if inputs.external_pressure is not None:
        yield "external_pressure is used as given; what it is made of is not computed."
    if inputs.condition == "fully_deteriorated":
        yield from _water_notes(design)
    minimum = inputs.agency_minimum_mm
    if minimum is not None and (thickness_mm is None or minimum > thickness_mm):
        yield f"The agency minimum of {rounded(Decimal(minimum))} mm decides what is ordered."
    if inputs.step_mm is None:
        yield "No step given: order_mm is not rounded up to a wall that is made."


def _assumption(name: str, units: Units) -> str:
    assumed, measure = ASSUMED[name], _MEASURES[name]
    amount = f"{shown(assumed.value_us, measure, units)} {unit_of(measure, units)}".rstrip()
    return f"{name} not given: {amount} is taken ({assumed.reason})."


_MEASURES: Final = {field.name: field.measure for field in FIELDS if isinstance(field, Number)}
_MADE_OF: Final = ("live_load", "soil_density")


def _water_notes(design: LinerDesign) -> Iterable[str]:
    if design.water_over_crown_ft is None:
        yield "water_over_crown not given: water to the surface is taken for Rw, 0.67."
    elif design.cover_ft is not None and design.water_over_crown_ft > design.cover_ft:
        yield "Water stands above the ground: Rw is held at 0.67."


LINER: Final = Check(
    name="liner",
    title="Cured-in-place liner: wall thickness and what governs it",
    fields=FIELDS,
    rules=RULES,
    inputs_type=LinerInputs,
    results_type=LinerResults,
    result_measures={"thickness_mm": "thickness", "order_mm": "thickness"},
    compute=check_liner,
    example={
        "units": "us", "condition": "fully_deteriorated", "diameter": 6, "cover": 8, "water_over_crown": 4,
        "agency_minimum_mm": Decimal("3.5"), "step_mm": Decimal("0.7"),
    },
)  # fmt: skip
