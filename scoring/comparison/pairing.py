"""Two reconciled laterals laid onto each other, by the same means as two runs of one inspection."""

from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise

from scoring.comparison.growth import is_on_path
from scoring.reconcile.assembling import lay_together
from scoring.reconcile.likeness import hours_apart
from scoring.reconcile.sightings import framed
from scoring.types import Defect, Feature, Lateral, LateralDefect, Run, Unseen

SAME_PLACE_M = 0.3  # beside what the two stations are unsure by; house rule
CLEAR_OF_UNSEEN_M = Decimal("0.3")
PAST_THE_END_M = Decimal("0.5")  # two inspections may measure one length that much differently
HOURS_ALIKE = 2.0


@dataclass(frozen=True, slots=True)
class Pairing:
    """How two inspections lie on each other, and which findings are one."""

    is_tied: bool
    reason: str
    pairs: tuple[tuple[LateralDefect, LateralDefect], ...]
    doubtful: frozenset[str]  # refs of later findings whose match is not sure
    laid: "Laid | None"


@dataclass(frozen=True, slots=True)
class Laid:
    """The mapping between the two, for any station."""

    knots: tuple[tuple[float, float], ...]  # (station on the later, station on the earlier), ascending

    def to_earlier(self, station: float) -> float:
        return _between(self.knots, station)

    def to_later(self, station: float) -> float:
        return _between(tuple((b, a) for a, b in self.knots), station)


def _between(knots: tuple[tuple[float, float], ...], at: float) -> float:
    """Straight between knots; beyond the first and last, as far off as these."""
    if at <= knots[0][0]:
        return at + knots[0][1] - knots[0][0]
    for (x0, y0), (x1, y1) in pairwise(knots):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0) if x1 > x0 else y1
    return at + knots[-1][1] - knots[-1][0]


def paired(earlier: Lateral, later: Lateral) -> Pairing:
    """Match the findings of two inspections; not tied where neither landmarks nor findings agree."""
    frames = [framed(0, _as_run("earlier", earlier)), framed(1, _as_run("later", later))]
    line = lay_together(frames)
    if line is None:
        reason = "Nothing ties the two inspections to each other: no shared landmark and no findings that agree."
        return Pairing(False, reason, (), frozenset(), None)
    by_ref = {d.defect.ref: d for d in earlier.defects}, {d.defect.ref: d for d in later.defects}
    pairs = [
        (by_ref[0][a.ref], by_ref[1][b.ref])
        for place in line.of_lane("finding")
        for a in place.members
        for b in place.members
        if a.run == 0 and b.run == 1 and a.defect is not None and b.defect is not None
    ]
    laid = _laid(earlier, later, line.knots(frames[1], frames[0]))
    pairs += _grown_out_of_kind(earlier, later, pairs, laid)
    doubtful = frozenset(s.ref for s in frames[1].sightings if s.key in line.doubtful)
    reasons = [r for r in line.reasons.values() if r]
    return Pairing(True, reasons[0] if reasons else "", tuple(pairs), doubtful, laid)


def _laid(earlier: Lateral, later: Lateral, knots: list[tuple[float, float]]) -> Laid:
    zero_later, zero_earlier = float(later.from_m or 0), float(earlier.from_m or 0)
    return Laid(tuple(sorted((a + zero_later, b + zero_earlier) for a, b in knots)))


def _as_run(name: str, lateral: Lateral) -> Run:
    """A lateral read as one run from its upstream end; what has no station is left out."""
    zero, end = lateral.from_m or Decimal(0), lateral.to_m or Decimal(0)
    is_datum_first = zero == 0
    features = [
        Feature(f.feature.kind, f.station_m - zero, f.feature.label, f.feature.clock_from, f.feature.clock_to)
        for f in lateral.features
        if f.station_m is not None
    ]
    if lateral.datum is not None and not is_datum_first:
        features.append(Feature("access_point", -zero, lateral.datum.label))
    is_main = any(f.kind == "main" for f in features) or _ends_at_main(lateral)
    return Run(
        name,
        "downstream",
        lateral.datum if is_datum_first else None,
        Decimal(0),
        end - zero,
        "main" if is_main else "stopped",
        features=tuple(features),
        defects=tuple(_moved(d, zero) for d in lateral.defects if d.station_m is not None),
        unseen=tuple(
            Unseen(u.from_m - zero, None if u.to_m is None else u.to_m - zero, u.reason) for u in lateral.unseen
        ),
    )


def _ends_at_main(lateral: Lateral) -> bool:
    """The main was reached by a run that is tied: then the lateral ends there."""
    has_open_end = any(u.to_m is None for u in lateral.unseen)
    return lateral.reaches_main and not has_open_end and all(p.is_tied for p in lateral.placements)


def _moved(found: LateralDefect, zero: Decimal) -> Defect:
    assert found.station_m is not None
    to = None if found.to_station_m is None else found.to_station_m - zero
    return replace(found.defect, at_m=found.station_m - zero, to_m=to)


def _grown_out_of_kind(
    earlier: Lateral,
    later: Lateral,
    pairs: list[tuple[LateralDefect, LateralDefect]],
    laid: Laid,
) -> list[tuple[LateralDefect, LateralDefect]]:
    """What is left over at one place, when the later kind is what the earlier one turns into."""
    used = {id(d) for pair in pairs for d in pair}
    left = [d for d in earlier.defects if id(d) not in used and d.station_m is not None]
    found = []
    for other in later.defects:
        if id(other) in used or other.station_m is None:
            continue
        at = laid.to_earlier(float(other.station_m))
        near = [d for d in left if _is_same_place(d, other, at) and is_on_path(d.defect.kind, other.defect.kind)]
        if near:
            one = min(near, key=lambda d: (abs(float(d.station_m or 0) - at), d.defect.ref))
            left.remove(one)
            found.append((one, other))
    return found


def _is_same_place(one: LateralDefect, other: LateralDefect, at: float) -> bool:
    assert one.station_m is not None
    unsure = (float(one.station_sd_m or 0) ** 2 + float(other.station_sd_m or 0) ** 2) ** 0.5
    if abs(float(one.station_m) - at) > SAME_PLACE_M + min(unsure, 0.3):
        return False
    if one.defect.clock_from is None or other.defect.clock_from is None:
        return True
    return hours_apart(one.defect.clock_from, other.defect.clock_from) <= HOURS_ALIKE


def saw(lateral: Lateral, station: float) -> bool:
    """Whether an inspection clearly saw a place of its lateral."""
    if lateral.from_m is None or lateral.to_m is None:
        return False
    at = Decimal(repr(station))
    is_open = any(u.to_m is None for u in lateral.unseen)
    low = lateral.from_m + (CLEAR_OF_UNSEEN_M if lateral.is_upstream_end_open else -PAST_THE_END_M)
    high = lateral.to_m + (-CLEAR_OF_UNSEEN_M if is_open else PAST_THE_END_M)
    if not low <= at <= high:
        return False
    return not any(
        u.to_m is not None and u.from_m - CLEAR_OF_UNSEEN_M < at < u.to_m + CLEAR_OF_UNSEEN_M for u in lateral.unseen
    )


def seen_spans(lateral: Lateral) -> list[tuple[float, float]]:
    """The stretches an inspection saw, in its stations."""
    if lateral.from_m is None or lateral.to_m is None:
        return []
    spans = [(float(lateral.from_m), float(lateral.to_m))]
    for unseen in lateral.unseen:
        low = float(unseen.from_m)
        high = float("inf") if unseen.to_m is None else float(unseen.to_m)
        spans = [part for a, b in spans for part in ((a, min(b, low)), (max(a, high), b)) if part[0] < part[1]]
    return spans
