"""The whole line as needs of the methods that make a new pipe, and what of it none can renew."""

import itertools
from collections.abc import Iterable, Mapping

from scoring.scope.fits import Fit
from scoring.scope.ground import Ground, metres_of
from scoring.scope.labels import Need
from scoring.scope.stops import BEYOND, Stop
from scoring.scope.types import Left

NOT_RENEWED = "No method that may be used can renew it."


def renewed_cells(
    ground: Ground, fits: Mapping[str, Fit], allowed: Iterable[str], needs: Iterable[Need]
) -> tuple[list[Need], list[Left]]:
    """Return the line cut into cells that each have to be renewed, and the stretches nothing may renew.

    Cells end where conditions change, where a method has to stop, and where a need ends that not every method
    serves: so what one section has dug up for it, another need not dig up again.
    """
    renewing = [fit for fit in fits.values() if fit.method.renews and fit.method.name in allowed]
    names = {fit.method.name for fit in renewing}
    ends = set(ground.marks)
    for fit in renewing:
        ends.update(end for zone in fit.offer.zones for end in zone)
    for need in needs:
        if not names <= set(need.cures):
            ends.update((need.from_um, need.to_um))
    cells: list[Need] = []
    left: list[Left] = []
    for first, last in itertools.pairwise(sorted(end for end in ends if ground.from_um <= end <= ground.to_um)):
        cures = tuple(fit.method.name for fit in renewing if fit.offer.stretch(first, last) is not None)
        if cures:
            cells.append(Need("", first, last, cures))
        else:
            left.append(Left(metres_of(first), metres_of(last), NOT_RENEWED))
    return cells, left


def beyond(stops: Iterable[Stop]) -> list[Left]:
    """Return what lies past the ends of the seeing, where the line goes on for nobody knows how far."""
    return [
        Left(
            None if stop.from_um is None else metres_of(stop.from_um),
            None if stop.to_um is None else metres_of(stop.to_um),
            BEYOND,
        )
        for stop in stops
        if stop.from_um is None or stop.to_um is None
    ]
