"""Spoil: what a bank volume swells to and how many truck loads it makes."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Any, Final

from scoring.checks.check import Check
from scoring.checks.fields import UNITS, Field, Number
from scoring.checks.measures import rounded
from scoring.checks.reading import judge
from scoring.units import Units

_SWELL_SOURCE: Final = "contractors' swell tables (bank to loose), as restated in estimating texts"
SWELL_PERCENT: Final[Mapping[str, tuple[Decimal, str]]] = {
    "clay": (Decimal(40), _SWELL_SOURCE),
    "loam": (Decimal(25), _SWELL_SOURCE),
    "gravel_and_sand": (Decimal(12), _SWELL_SOURCE),
    "blasted_rock": (Decimal(65), _SWELL_SOURCE),
}
MOST_SWELL_PERCENT: Final = Decimal(200)  # house rule, far over blasted rock; rate books keep to it too


@dataclass(frozen=True, slots=True)
class SpoilInputs:
    """Ground to carry away. Volumes in cy or m3 by `units`; bank volume as it lies in the ground.

    Raises `CheckInputInvalid`.
    """

    units: Units
    bank_volume: Decimal
    swell_percent: Decimal
    truck_volume: Decimal

    def __post_init__(self) -> None:
        judge(self, FIELDS)


@dataclass(frozen=True, slots=True)
class SpoilResults:
    """Loose volume and whole truck loads."""

    loose_volume: Decimal
    loads: int
    governs: str
    source: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


_HOUSE: Final = "house rule"
FIELDS: Final[tuple[Field, ...]] = (
    UNITS,
    Number("bank_volume", "volume", "volume in the ground", Decimal(0), Decimal(1_000_000), is_required=True,
           reason=_HOUSE),
    Number("swell_percent", "percent", "swell from bank to loose", Decimal(0), MOST_SWELL_PERCENT, is_required=True,
           reason="house rule; blasted rock swells by 65 %"),
    Number("truck_volume", "volume", "what one truck takes, loose", Decimal("0.01"), Decimal(1000),
           is_required=True, reason=_HOUSE),
)  # fmt: skip


def check_spoil(inputs: SpoilInputs) -> SpoilResults:
    """Return the loose volume of a bank volume and the truck loads it makes; a part load is a load."""
    loose_volume = inputs.bank_volume * (1 + inputs.swell_percent / Decimal(100))
    return SpoilResults(
        loose_volume=rounded(loose_volume),
        loads=int((loose_volume / inputs.truck_volume).to_integral_value(ROUND_CEILING)),
        governs="volume",
        source=("loose = bank x (1 + swell); swell as given",),
        cautions=(
            "Keep spoil and gear at least 2 ft from the edge or retained (29 CFR 1926.651(j)(2)).",
            "Soil soaked with sewage carries pathogens and may not go to any tip.",
        ),
        notes=("Loads by volume; wet ground may reach a truck's weight limit first.",),
    )


def bank_volume_of(compacted_volume: Decimal, shrink_percent: Decimal) -> Decimal:
    """Return the bank volume that compacts to a volume, `shrink_percent` being compacted over bank.

    Example: 500 compacted at 95 % take 526 in the bank.
    """
    return compacted_volume / (shrink_percent / Decimal(100))


_EXAMPLE: Final[Mapping[str, Any]] = {
    "units": "us", "bank_volume": Decimal("17.78"), "swell_percent": 25, "truck_volume": 7,
}  # fmt: skip

SPOIL: Final = Check(
    name="spoil",
    title="Spoil: loose volume and truck loads",
    fields=FIELDS,
    rules=(),
    inputs_type=SpoilInputs,
    results_type=SpoilResults,
    result_measures={"loose_volume": "volume", "loads": "count"},
    compute=check_spoil,
    example=_EXAMPLE,
)
