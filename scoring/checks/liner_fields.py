"""The inputs of the liner check: what they mean, their limits, what one asks of another."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from scoring.checks.faults import Fault
from scoring.checks.fields import UNITS, Choice, Field, Number
from scoring.checks.measures import Measure, unit_of


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value of the design where none is given, and why this one."""

    value_us: Decimal
    reason: str


# Typical design values as worked through in Najafi, Trenchless Technology Piping, pp. 75-83.
_TYPICAL: Final = "a typical design value"
ASSUMED: Final[Mapping[str, Assumed]] = {
    "ovality_percent": Assumed(Decimal(2), "typical where unmeasured, Najafi s. 2.7"),
    "live_load": Assumed(Decimal(0), "none given"),
    "soil_density": Assumed(Decimal(120), _TYPICAL),
    "soil_modulus": Assumed(Decimal(1000), _TYPICAL),
    "initial_modulus": Assumed(Decimal(250_000), _TYPICAL),
    "long_term_modulus": Assumed(Decimal(125_000), "half of 250,000 psi, " + _TYPICAL),
    "long_term_strength": Assumed(Decimal(4500), _TYPICAL),
    "safety_factor": Assumed(Decimal(2), _TYPICAL),
    "enhancement_factor": Assumed(Decimal(7), "full support by the host pipe"),
    "poisson_ratio": Assumed(Decimal("0.3"), _TYPICAL),
}
_SIZES: Final = "ASTM F1216 covers 4 to 108 in; laterals of 3 in see ASTM F2561"
_HOUSE: Final = "house rule"
_OVALITY: Final = "more than about 10 % lies outside most liners"


def _number(name: str, measure: Measure, meaning: str, low: str, high: str, **more: Any) -> Number:
    if name in ASSUMED:
        amount = f"{ASSUMED[name].value_us} {unit_of(measure, 'us')}".rstrip()
        meaning = f"{meaning}; {amount} where none is given"
    return Number(name, measure, meaning, Decimal(low), Decimal(high), **more)


FIELDS: Final[tuple[Field, ...]] = (
    UNITS,
    Choice("condition", "can the host pipe still carry the soil: partially_deteriorated yes, "
           "fully_deteriorated no", ("partially_deteriorated", "fully_deteriorated"), is_required=True),
    _number("diameter", "size", "mean inside diameter of the host pipe", "4", "108", is_required=True,
            si_minimum=Decimal(100), reason=_SIZES),
    _number("ovality_percent", "percent", "(largest - mean) / mean diameter", "0", "10", reason=_OVALITY),
    _number("water_over_invert", "length", "groundwater over the invert", "0", "200", reason=_HOUSE),
    _number("cover", "length", "soil over the crown", "0", "200", is_above=True, reason=_HOUSE),
    _number("water_over_crown", "length", "groundwater over the crown", "0", "200", reason=_HOUSE),
    _number("live_load", "stress", "live load at the pipe", "0", "1000", reason=_HOUSE),
    _number("external_pressure", "stress", "total external pressure qt, where given directly", "0", "1000",
            reason=_HOUSE),
    _number("soil_density", "density", "density of the soil", "0", "250", is_above=True, reason=_HOUSE),
    _number("soil_modulus", "stress", "modulus of soil reaction", "0", "10000", is_above=True, reason=_HOUSE),
    _number("initial_modulus", "stress", "initial flexural modulus of the liner", "1000", "10000000",
            reason=_HOUSE),
    _number("long_term_modulus", "stress", "long-term flexural modulus of the liner", "1000", "10000000",
            reason=_HOUSE),
    _number("long_term_strength", "stress", "long-term flexural strength of the liner", "100", "100000",
            reason=_HOUSE),
    _number("safety_factor", "ratio", "safety factor N", "1", "10", reason=_HOUSE),
    _number("enhancement_factor", "ratio", "enhancement factor K of the surrounding pipe", "1", "20",
            reason=_HOUSE),
    _number("poisson_ratio", "ratio", "Poisson's ratio of the liner", "0", "0.5", reason=_HOUSE),
    Choice("edition", "edition of ASTM F1216: 2007b has C inside the root, before it C stood on the load",
           ("2007b", "before_2007b"), default="2007b"),
    _number("agency_minimum_mm", "thickness", "least wall the agency accepts", "0", "100", reason=_HOUSE),
    _number("step_mm", "thickness", "steps in which the wall is made", "0.01", "50", reason=_HOUSE),
)  # fmt: skip


def _load_faults(values: Mapping[str, Any]) -> Iterable[Fault]:
    condition = values.get("condition")
    if condition == "partially_deteriorated" and _lacks(values, "water_over_invert", "external_pressure"):
        detail = "water_over_invert is missing: groundwater loads this liner. Send it, 0 where there is none."
        yield Fault("/water_over_invert", "required", detail)
    if condition != "fully_deteriorated":
        return
    if _lacks(values, "cover"):
        yield Fault("/cover", "required", "cover is missing: the soil loads and supports this liner. Send it.")
    if _lacks(values, "water_over_crown", "external_pressure"):
        detail = "water_over_crown is missing: water loads this liner. Send it, 0 where there is none."
        yield Fault("/water_over_crown", "required", detail)


def _modulus_faults(values: Mapping[str, Any]) -> Iterable[Fault]:
    long_term, initial = values.get("long_term_modulus"), values.get("initial_modulus")
    if long_term is not None and initial is not None and long_term > initial:
        detail = "long_term_modulus is more than initial_modulus; a liner creeps. Correct one of them."
        yield Fault("/long_term_modulus", "conflict", detail)


def _lacks(values: Mapping[str, Any], *names: str) -> bool:
    """True where none of these is there; a value that is wrong has its own fault and counts as there."""
    return all(name in values and values[name] is None for name in names)


RULES: Final = (_load_faults, _modulus_faults)
