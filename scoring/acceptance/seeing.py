"""What runs after the work saw of a section, and what is left in it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from scoring.acceptance.types import Cured, Hidden, Later, Left
from scoring.comparison import Comparison, compare
from scoring.comparison.pairing import Laid, paired
from scoring.grading.coverage import share, unseen_intervals
from scoring.scope.watching import Scale, judge
from scoring.types import Lateral, LateralDefect, Policy
from scoring.units import plain

# Two ends that are one point may differ by this after rounding; house rule. What was said to be unseen has none.
ROUNDING_M: Final = Decimal("0.01")
EDGE_SDS: Final = 2  # a finding this many standard deviations outside may lie inside
NOT_REACHED: Final = "not_reached"
_STEP: Final = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class Seen:
    """One section as it was seen: how much of it, what was not, what is left, what became of what it cures."""

    share: Decimal | None
    hidden: tuple[Hidden, ...]
    left: tuple[Left, ...]
    cured: tuple[Cured, ...]
    seen_m: Decimal


class View:
    """An inspection after the work, laid onto the lateral the scope was computed from."""

    def __init__(self, earlier: Lateral, later: Later, policy: Policy, scale: Scale) -> None:
        self.later, self.pipe, self.policy = later, later.pipe, policy
        pairing = paired(earlier, later.pipe)
        self.laid: Laid | None = pairing.laid if later.pipe.from_m is not None else None
        self.reason = pairing.reason
        self.judged = judge(later.pipe.defects, later.findings, policy, scale)
        self.compared: Comparison = compare(earlier, later.pipe)

    def section(self, from_m: Decimal, to_m: Decimal, cures: Sequence[str]) -> Seen:
        """Return what was seen between two stations of the scope's lateral."""
        if self.laid is None:
            whole = Hidden(from_m, to_m, "nothing_ties_the_inspections")
            return Seen(Decimal(0), (whole,), (), self._cured(cures), Decimal(0))
        first, last = self._to_later(from_m), self._to_later(to_m)
        hidden = tuple(self._hidden(first, last))
        seen_m = max(last - first - sum((end - start for start, end, _ in hidden), Decimal(0)), Decimal(0))
        is_point_seen = first >= last and not hidden
        return Seen(
            share=Decimal(1) if is_point_seen else share(seen_m, last - first),
            hidden=tuple(Hidden(self._to_earlier(a), self._to_earlier(b), reason) for a, b, reason in hidden),
            left=tuple(self._left(first, last)),
            cured=self._cured(cures),
            seen_m=ROUNDING_M if is_point_seen else seen_m,
        )

    def passes(self, station_m: Decimal, near_m: Decimal) -> bool:
        """Tell whether a run starts from or passes an access point near a station."""
        if self.laid is None:
            return False
        at = self._to_later(station_m)
        spots = [f.station_m for f in self.pipe.features if f.feature.kind == "access_point"]
        if self.pipe.datum is not None:
            spots.append(Decimal(0))
        return any(spot is not None and abs(spot - at) <= near_m for spot in spots)

    def materials(self, from_m: Decimal, to_m: Decimal) -> frozenset[str]:
        """Return the materials that the runs show there; at both ends a policy's margin may still be the old pipe."""
        if self.laid is None:
            return frozenset()
        margin = min(self.policy.margin_m, (to_m - from_m) / 2)
        first, last = self._to_later(from_m + margin), self._to_later(to_m - margin)
        return frozenset(
            str(segment.material)
            for segment in self.pipe.segments
            if segment.material not in (None, "unknown") and segment.from_m <= last and segment.to_m >= first
        )

    def _to_later(self, station_m: Decimal) -> Decimal:
        assert self.laid is not None
        return plain(Decimal(repr(self.laid.to_later(float(station_m)))), _STEP)

    def _to_earlier(self, station_m: Decimal) -> Decimal:
        assert self.laid is not None
        return plain(Decimal(repr(self.laid.to_earlier(float(station_m)))), _STEP)

    def _hidden(self, first: Decimal, last: Decimal) -> Iterable[tuple[Decimal, Decimal, str]]:
        """Yield what was not seen between two stations of the later inspection, in order."""
        start, end = self.pipe.from_m, self.pipe.to_m
        if start is None or end is None:
            yield first, last, NOT_REACHED
            return
        if start - first > ROUNDING_M:
            yield first, min(start, last), NOT_REACHED
        low, high = max(first, start), min(last, end)
        for begin, finish in unseen_intervals(self.pipe.unseen, low, high):
            yield begin, finish, self._reason(begin, finish)
        if last - end > ROUNDING_M:
            yield max(end, first), last, NOT_REACHED

    def _reason(self, begin: Decimal, finish: Decimal) -> str:
        reasons = {
            one.reason for one in self.pipe.unseen if one.from_m < finish and (one.to_m is None or one.to_m > begin)
        }
        return ", ".join(sorted(reasons))

    def _left(self, first: Decimal, last: Decimal) -> Iterable[Left]:
        for each in self.judged:
            if each.to_fix:
                yield from self._at(each.found, each.grade, first, last)
        graded = {each.found.defect.ref for each in self.judged if each.to_fix}
        for found in self.pipe.defects:  # a foreign line is never acceptable, whatever the policy and the scheme
            if found.defect.kind == "foreign_line" and found.defect.ref not in graded:
                yield from self._at(found, None, first, last)

    def _at(self, found: LateralDefect, grade: int | None, first: Decimal, last: Decimal) -> Iterable[Left]:
        start = found.station_m
        if start is None:
            return
        end = start if found.to_station_m is None else found.to_station_m
        doubt = EDGE_SDS * (found.station_sd_m or Decimal(0))
        if end < first - doubt or start > last + doubt:
            return
        is_inside = end >= first and start <= last
        ends = self._to_earlier(start), self._to_earlier(end)
        yield Left(found.defect.ref, found.defect.kind, grade, *ends, is_inside)

    def _cured(self, cures: Sequence[str]) -> tuple[Cured, ...]:
        groups = {
            "repaired": self.compared.repaired,
            "still_there": self.compared.unchanged,
            "grown": self.compared.grown,
            "not_seen": self.compared.not_seen,
        }
        found = {
            one.earlier.defect.ref: Cured(one.earlier.defect.ref, became, one.is_certain, one.reason)
            for became, group in groups.items()
            for one in group
            if one.earlier is not None
        }
        return tuple(found[ref] for ref in cures if ref in found)
