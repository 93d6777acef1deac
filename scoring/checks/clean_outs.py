"""How many clean-outs a code asks along a drain. Jurisdiction data: a code's spacing with its source."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Final


@dataclass(frozen=True, slots=True)
class CleanOutSpacing:
    """The longest stretch between clean-outs; a shorter one for sizes up to `small_up_to_in`."""

    spacing_ft: Decimal | None  # None: not seen for larger sizes
    small_spacing_ft: Decimal | None
    small_up_to_in: Decimal
    source: str


_NONE: Final = Decimal(0)
CLEAN_OUT_SPACINGS: Final[Mapping[str, CleanOutSpacing]] = {
    "ipc": CleanOutSpacing(Decimal(100), None, _NONE, "International Plumbing Code, section 708"),
    "upc": CleanOutSpacing(Decimal(100), None, _NONE, "Uniform Plumbing Code; one more per 135 deg of bends"),
    "chicago": CleanOutSpacing(None, Decimal(50), Decimal(4), "Chicago plumbing code"),
    "philadelphia": CleanOutSpacing(None, Decimal(50), Decimal(4), "Philadelphia plumbing code"),
}


def clean_out_spacing_ft(code: str, diameter_in: Decimal) -> Decimal | None:
    """Return the longest stretch allowed between clean-outs; None where the code's value was not seen.

    Raises KeyError for a code not held.
    """
    rule = CLEAN_OUT_SPACINGS[code]
    is_small = rule.small_spacing_ft is not None and diameter_in <= rule.small_up_to_in
    return rule.small_spacing_ft if is_small else rule.spacing_ft


def clean_outs_needed(code: str, diameter_in: Decimal, length_ft: Decimal) -> int | None:
    """Return the clean-outs a straight drain needs: one per spacing begun. None where no spacing was seen."""
    spacing_ft = clean_out_spacing_ft(code, diameter_in)
    if spacing_ft is None:
        return None
    return int((length_ft / spacing_ft).to_integral_value(ROUND_CEILING))
