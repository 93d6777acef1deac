"""The design cases of ASTM F1216 Appendix X1, in inches, feet and psi as published."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from scoring.checks.measures import rounded
from scoring.units import INCH_MM

Case = Literal["buckling", "stress", "stiffness"]

INVERT_PSI_PER_FT: Final = Decimal("0.4333")  # X1.1, head of water over the invert
CROWN_PSI_PER_FT: Final = Decimal("0.433")  # X1.3, head of water over the crown
LEAST_BUOYANCY: Final = Decimal("0.67")  # X1.3, Rw
BUOYANCY_SLOPE: Final = Decimal("0.33")  # X1.3, Rw
STIFFNESS_DIVISOR: Final = Decimal("1.116")  # X1.4
BUCKLING_FACTOR: Final = Decimal("0.721")  # X1.3

_THIRD: Final = Decimal(1) / 3


@dataclass(frozen=True, slots=True)
class LinerCase:
    """One design case: its thickness, or None and the note that says why there is none."""

    case: Case
    thickness_mm: Decimal | None
    note: str


@dataclass(frozen=True, slots=True)
class LinerDesign:
    """A liner in inches, feet and psi; the symbols of the standard beside the words.

    None: not given. Fully deteriorated cases need a cover.
    """

    diameter_in: Decimal  # D
    ovality: Decimal  # q / 100
    water_over_invert_ft: Decimal | None
    cover_ft: Decimal | None  # H
    water_over_crown_ft: Decimal | None  # Hw
    live_load_psi: Decimal  # Ws
    external_psi: Decimal | None  # qt, or P
    soil_density_pcf: Decimal  # w
    soil_modulus_psi: Decimal  # E's
    initial_modulus_psi: Decimal  # E
    long_term_modulus_psi: Decimal  # EL
    long_term_strength_psi: Decimal  # S
    safety_factor: Decimal  # N
    enhancement_factor: Decimal  # K
    poisson_ratio: Decimal  # nu
    edition: str


def ovality_factor(ovality: Decimal) -> Decimal:
    """Return C for an ovality given as a fraction: [(1 - q)/(1 + q)^2]^3 (F1216 X1.1)."""
    return ((1 - ovality) / (1 + ovality) ** 2) ** 3


def soil_support(cover_ft: Decimal) -> Decimal:
    """Return B', the coefficient of elastic support, for a cover in feet (F1216 X1.3)."""
    return 1 / (1 + 4 * (Decimal("-0.065") * cover_ft).exp())


def buoyancy(water_over_crown_ft: Decimal, cover_ft: Decimal) -> Decimal:
    """Return Rw, the water buoyancy factor, at least 0.67 (F1216 X1.3)."""
    return max(LEAST_BUOYANCY, 1 - BUOYANCY_SLOPE * water_over_crown_ft / cover_ft)


def partial_cases(design: LinerDesign) -> tuple[LinerCase, ...]:
    """Return the cases of a pipe that still carries the soil; groundwater alone loads the liner."""
    pressure_psi = design.external_psi
    if pressure_psi is None:
        pressure_psi = INVERT_PSI_PER_FT * (design.water_over_invert_ft or Decimal(0))
    fully_only = LinerCase("stiffness", None, "not applicable: X1.4 is for fully deteriorated pipes")
    if not pressure_psi:
        dry = "no external water: not applicable"
        return LinerCase("buckling", None, dry), LinerCase("stress", None, dry), fully_only
    return _partial_buckling(design, pressure_psi), _oval_stress(design, pressure_psi), fully_only


def _partial_buckling(design: LinerDesign, pressure_psi: Decimal) -> LinerCase:
    """X1.1: t = D / {[2 K EL C / (P N (1 - nu^2))]^(1/3) + 1}."""
    resisting = 2 * design.enhancement_factor * design.long_term_modulus_psi * ovality_factor(design.ovality)
    acting = pressure_psi * design.safety_factor * (1 - design.poisson_ratio**2)
    wall_in = design.diameter_in / ((resisting / acting) ** _THIRD + 1)
    return LinerCase("buckling", _mm(wall_in), f"X1.1, P {rounded(pressure_psi)} psi")


def _oval_stress(design: LinerDesign, pressure_psi: Decimal) -> LinerCase:
    """X1.2: 1.5 q (1 + q) DR^2 - 0.5 (1 + q) DR = S/(P N), q as a fraction; t = D / DR."""
    if not design.ovality:
        return LinerCase("stress", None, "not applicable: a round pipe (ovality 0) has no positive root")
    square = Decimal("1.5") * design.ovality * (1 + design.ovality)
    linear = Decimal("0.5") * (1 + design.ovality)
    constant = design.long_term_strength_psi / (pressure_psi * design.safety_factor)
    ratio = (linear + (linear**2 + 4 * square * constant).sqrt()) / (2 * square)
    return LinerCase("stress", _mm(design.diameter_in / ratio), f"X1.2, DR {rounded(ratio)}")


def full_cases(design: LinerDesign) -> tuple[LinerCase, ...]:
    """Return the cases of a pipe that carries nothing. Raises ValueError where the cover is not known."""
    partial_only = LinerCase("stress", None, "not applicable: X1.2 is for partially deteriorated pipes")
    return _full_buckling(design), partial_only, _stiffness(design)


def _full_buckling(design: LinerDesign) -> LinerCase:
    """X1.3: t = 0.721 D [(N qt)^2 / (EL Rw B' E's C)]^(1/3); before 2007b qt/C, and no C below."""
    cover_ft = design.cover_ft
    if cover_ft is None:
        raise ValueError("the cover over a fully deteriorated pipe is not known")
    water_ft = cover_ft if design.water_over_crown_ft is None else design.water_over_crown_ft
    lift = buoyancy(water_ft, cover_ft)
    load_psi = design.external_psi
    if load_psi is None:
        soil_psi = design.soil_density_pcf * cover_ft * lift / 144
        load_psi = CROWN_PSI_PER_FT * water_ft + soil_psi + design.live_load_psi
    if not load_psi:
        return LinerCase("buckling", None, "no external load: not applicable")
    support = soil_support(cover_ft)
    factor = ovality_factor(design.ovality)
    if design.edition == "before_2007b":
        factor = factor**2  # C on the load: (N qt / C)^2 over the rest
    below = design.long_term_modulus_psi * lift * support * design.soil_modulus_psi * factor
    wall_in = BUCKLING_FACTOR * design.diameter_in * ((design.safety_factor * load_psi) ** 2 / below) ** _THIRD
    note = f"X1.3, qt {rounded(load_psi)} psi, Rw {rounded(lift)}, B' {rounded(support)}"
    return LinerCase("buckling", _mm(wall_in), note)


def _stiffness(design: LinerDesign) -> LinerCase:
    """X1.4: t >= D / (E / 1.116)^(1/3)."""
    ratio = (design.initial_modulus_psi / STIFFNESS_DIVISOR) ** _THIRD
    return LinerCase("stiffness", _mm(design.diameter_in / ratio), f"X1.4, DR at most {rounded(ratio)}")


def _mm(wall_in: Decimal) -> Decimal:
    return rounded(wall_in * INCH_MM)
