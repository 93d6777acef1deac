"""What must be fixed, as stretches that sections have to cover; and what cannot be, with every reason."""

from collections.abc import Mapping, Sequence

from scoring.scope.blocks import Place, blocking
from scoring.scope.cautions import foreign_line_cautions
from scoring.scope.fits import Fit
from scoring.scope.ground import ceil_um
from scoring.scope.labels import Need
from scoring.scope.limits import defect_refusals, reach_um, refusal
from scoring.scope.methods import CURING
from scoring.scope.paid_once import PaidOnce
from scoring.scope.rule_set import RuleSet
from scoring.scope.stops import Stop, stop_at, stops_of
from scoring.scope.types import NotCurable, Refusal
from scoring.scope.watching import Judged
from scoring.types import Defect, LateralDefect

NOT_WHILE_A_LINE_PASSES = (
    "A foreign line passes through the drain: nothing is proposed anywhere on it until the line's owner has"
    " removed it."
)
ADRIFT = "Position unknown: nothing ties its run to the datum. Tie it by an access point or a landmark."
NO_METHOD = "No method that may be used cures it and fits there."


class Needs:
    """The defects of one lateral weighed: covered by needs, or not curable."""

    def __init__(self, place: Place, fits: Mapping[str, Fit], once: PaidOnce, rules: RuleSet) -> None:
        self.place, self.fits, self.once, self.rules = place, fits, once, rules
        self.stops = stops_of(place.lateral)
        self.needs: list[Need] = []
        self.refused: dict[str, tuple[Refusal, ...]] = {}
        self.not_curable: list[NotCurable] = []
        self.stopped_at: dict[str, Stop] = {}  # by defect: where its extent is hidden

    def weigh(self, judged: Sequence[Judged], is_stopped: bool) -> None:
        """Make a need of each defect to be fixed, or say why nothing can be done about it."""
        for each in judged:
            if each.found.defect.kind == "foreign_line":
                continue
            if each.to_fix and is_stopped:
                self._leave(each.found, NOT_WHILE_A_LINE_PASSES, (), foreign_line_cautions())
            elif each.to_fix:
                self._weigh(each.found)
        for found in self.place.lateral.defects:
            if found.defect.kind == "foreign_line":
                refused = tuple(refusal(method.name, "foreign_line") for method in CURING)
                self._leave(found, NOT_WHILE_A_LINE_PASSES, refused, foreign_line_cautions())

    def _leave(
        self, found: LateralDefect, reason: str, refused: tuple[Refusal, ...] = (), cautions: tuple[str, ...] = ()
    ) -> None:
        self.not_curable.append(NotCurable(found.defect.ref, reason, refused, cautions))

    def _weigh(self, found: LateralDefect) -> None:
        doubtful, ref = reach_um(found), found.defect.ref
        if doubtful is None:
            self._leave(found, ADRIFT)
            return
        margin = ceil_um(self.place.policy.margin_m)
        wide = (doubtful[0] - margin, doubtful[1] + margin)
        stop = stop_at(self.stops, *wide)
        if stop is not None:
            self.stopped_at[ref] = stop
        first, last = self._clipped(*wide)
        material = self.place.ground.at(first + (last - first) // 2).material
        reach = (first, last)
        refusals = {name: self._refusals(fit, found.defect, material, reach) for name, fit in self.fits.items()}
        cures = tuple(name for name, refused in refusals.items() if not refused)
        self.refused[ref] = tuple(one for refused in refusals.values() for one in refused)
        if cures:
            self.needs.append(Need(ref, first, last, cures, self._core(found, margin)))
        else:
            self._leave(found, NO_METHOD, self.refused[ref])

    def _core(self, found: LateralDefect, margin: int) -> tuple[int, int] | None:
        """Return the stretch without the doubt about the station."""
        sure = reach_um(found, doubts=0)
        return None if sure is None else self._clipped(sure[0] - margin, sure[1] + margin)

    def _clipped(self, first: int, last: int) -> tuple[int, int]:
        start, end = self.place.ground.from_um, self.place.ground.to_um
        return min(max(first, start), end), max(min(last, end), start)

    def _refusals(self, fit: Fit, defect: Defect, material: str, reach: tuple[int, int]) -> list[Refusal]:
        first, last = reach
        name = fit.method.name
        if self.rules.allowed_methods is not None and name not in self.rules.allowed_methods:
            return [refusal(name, "rule_set")]
        found = defect_refusals(fit.method, defect, material, self.place.policy)
        if found:
            return found
        seen: dict[tuple[str, str], Refusal] = {}
        for block in blocking(fit.blocks, first, last):
            seen.setdefault((block.limit, block.what), refusal(name, block.limit, block.what))
        if seen:
            return list(seen.values())
        if fit.method.needs_clean_out and not self.once.can_work_from_a_clean_out:
            return [refusal(name, "no_access")]
        if fit.offer.stretch(first, last) is None:
            return [refusal(name, "pit_not_allowed" if fit.offer.ends is not None else "no_room")]
        return []
