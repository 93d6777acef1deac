"""How far a section reaches in the low, likely and high case: the doubt about stations, carried into lengths."""

from collections.abc import Sequence
from typing import Final

from scoring.scope.labels import Chosen, Need
from scoring.scope.offer import Offer
from scoring.scope.types import Scenario

RULE: Final = (
    "Ranges: likely is the section as drawn at the likely depth and price. Low: each end that a defect sets drawn in"
    " by twice the standard deviation of its station, the least depth and the low price; high: drawn out by as much,"
    " the greatest depth and the high price; never under a method's minimum length, never beyond where it fits."
    " Low and high are cases, not probabilities (house rule)."
)

Extents = dict[Scenario, tuple[int, int]]


def extents_of(chosen: Chosen, offer: Offer | None, needs: Sequence[Need]) -> Extents:
    """Return from where to where a section goes in each case; the low lies in the likely, that in the high."""
    likely = (chosen.from_um, chosen.to_um)
    served = [need for need in needs if need.is_in(chosen)]
    if offer is None or not served:
        return dict.fromkeys(("low", "likely", "high"), likely)
    inner = min(need.inner_um[0] for need in served), max(need.inner_um[1] for need in served)
    outer = min(need.outer_um[0] for need in served), max(need.outer_um[1] for need in served)
    return {"low": _within(offer, inner, likely), "likely": likely, "high": _beyond(offer, outer, likely)}


def _within(offer: Offer, wanted: tuple[int, int], likely: tuple[int, int]) -> tuple[int, int]:
    """Return the shortest section the method would work over a stretch, inside the likely one."""
    worked = offer.stretch(*wanted)
    if worked is None:
        return likely
    low_from, low_to = max(worked.from_um, likely[0]), min(worked.to_um, likely[1])
    missing = offer.missing_um(low_from, low_to)
    low_to = min(likely[1], low_to + missing)
    return max(likely[0], min(low_from, low_to - offer.minimum_um)), low_to


def _beyond(offer: Offer, wanted: tuple[int, int], likely: tuple[int, int]) -> tuple[int, int]:
    """Return the section drawn out to a stretch, within the zone where the method fits."""
    zone = offer.zone_of(*likely)
    first, last = min(wanted[0], likely[0]), max(wanted[1], likely[1])
    if zone is None:
        return likely
    zone_from, zone_to = offer.zones[zone]
    first, last = max(first, min(zone_from, likely[0])), min(last, max(zone_to, likely[1]))
    worked = offer.stretch(first, last)
    return (first, last) if worked is None else (min(worked.from_um, likely[0]), max(worked.to_um, likely[1]))
