"""New, grown, unchanged, repaired, not seen: every finding of both inspections in exactly one of them."""

from decimal import Decimal
from typing import Final

from scoring.comparison.growth import changes
from scoring.comparison.pairing import Laid, Pairing, paired, saw, seen_spans
from scoring.comparison.result import Compared, Comparison
from scoring.types import Lateral, LateralDefect, LateralFeature, Segment

RULES: Final = "then-and-now/1"
CLEANED: Final = ("roots", "wall_deposits", "bed_deposits", "obstruction")  # cleaning takes these away
REPAIR_NEAR_M: Final = 1.0  # a coupling or patch this near a finding is its repair; house rule
REPAIR_FEATURES: Final = ("coupling",)
REPAIR_DEFECTS: Final = ("lining_fault", "failed_repair")


def compare(earlier: Lateral, later: Lateral) -> Comparison:
    """Compare two reconciled inspections of one lateral, the earlier first.

    A finding that one of them has and the other does not counts as new or repaired only where the other one
    clearly saw the place; else it is in `not_seen`, with the reason. Findings without a station are not
    compared.
    """
    pairing = paired(earlier, later)
    if pairing.laid is None:
        missing = [_not_compared(d, None) for d in earlier.defects] + [_not_compared(None, d) for d in later.defects]
        return Comparison(False, pairing.reason, Decimal(0), not_seen=tuple(missing), rules=RULES)
    return _Comparing(earlier, later, pairing, pairing.laid).result()


def _not_compared(earlier: LateralDefect | None, later: LateralDefect | None) -> Compared:
    return Compared(
        earlier, later, (), "Nothing ties the two inspections here, so that they cannot be compared.", False
    )


class _Comparing:
    """Two laterals that lie on each other."""

    def __init__(self, earlier: Lateral, later: Lateral, pairing: Pairing, laid: Laid) -> None:
        self.earlier, self.later, self.pairing, self.laid = earlier, later, pairing, laid
        self.new: list[Compared] = []
        self.grown: list[Compared] = []
        self.unchanged: list[Compared] = []
        self.repaired: list[Compared] = []
        self.not_seen: list[Compared] = []

    def result(self) -> Comparison:
        for one, other in self.pairing.pairs:
            self._matched(one, other)
        taken = {id(d) for pair in self.pairing.pairs for d in pair}
        for found in self.earlier.defects:
            if id(found) not in taken:
                self._gone(found)
        for found in self.later.defects:
            if id(found) not in taken:
                self._come(found)
        return Comparison(
            True,
            self.pairing.reason,
            self._compared_m(),
            new=_in_order(self.new),
            grown=_in_order(self.grown),
            unchanged=_in_order(self.unchanged),
            repaired=_in_order(self.repaired),
            not_seen=_in_order(self.not_seen),
            rules=RULES,
        )

    def _matched(self, one: LateralDefect, other: LateralDefect) -> None:
        found = changes(one, other)
        worse = [c for c in found if c.is_worse]
        sure = other.defect.ref not in self.pairing.doubtful and not (one.is_ambiguous or other.is_ambiguous)
        if worse:
            words = ", ".join(c.measure.replace("_", " ") for c in worse)
            self.grown.append(Compared(one, other, found, f"Worse by {words}.", sure))
        elif found:
            self.unchanged.append(Compared(one, other, found, "Not worse; some readings are lower than before.", sure))
        else:
            self.unchanged.append(Compared(one, other, found, "No change beyond what two crews may differ by.", sure))

    def _gone(self, found: LateralDefect) -> None:
        if found.station_m is None:
            self.not_seen.append(_not_compared(found, None))
            return
        at = self.laid.to_later(float(found.station_m))
        if not saw(self.later, at):
            self.not_seen.append(Compared(found, None, (), "The later inspection did not see this place.", True))
            return
        evidence = self._repair_at(float(found.station_m), at, found.defect.kind)
        reason = evidence or (
            "The later inspection saw the place and reports nothing there, but no repair either: have it confirmed."
        )
        self.repaired.append(Compared(found, None, (), reason, evidence is not None))

    def _come(self, found: LateralDefect) -> None:
        if found.station_m is None:
            self.not_seen.append(_not_compared(None, found))
        elif saw(self.earlier, self.laid.to_earlier(float(found.station_m))):
            reason = "The earlier inspection saw the place and reports nothing there."
            self.new.append(Compared(None, found, (), reason, not found.is_ambiguous))
        else:
            reason = "The earlier inspection did not see this place: how long it has been so is unknown."
            self.not_seen.append(Compared(None, found, (), reason, True))

    def _repair_at(self, before: float, now: float, kind: str) -> str | None:
        """What shows that it was repaired; None where nothing does."""
        old, new = _material_at(self.earlier, before), _material_at(self.later, now)
        if old is not None and new is not None and old != new:
            return f"The pipe there is now {new.replace('_', ' ')}, it was {old.replace('_', ' ')}."
        if any(_is_near(f, now) and f.feature.kind in REPAIR_FEATURES for f in self.later.features):
            return "There is a repair coupling now."
        if any(_is_near(d, now) and d.defect.kind in REPAIR_DEFECTS for d in self.later.defects):
            return "There is a repair or a lining now; see its own findings."
        return "Cleaned: nothing is reported there any more." if kind in CLEANED else None

    def _compared_m(self) -> Decimal:
        """Length that both saw, in metres of the earlier lateral, to the centimetre."""
        mine = seen_spans(self.earlier)
        theirs = [(self.laid.to_earlier(a), self.laid.to_earlier(b)) for a, b in seen_spans(self.later)]
        both = sum(max(min(b, d) - max(a, c), 0.0) for a, b in mine for c, d in theirs)
        return Decimal(repr(both)).quantize(Decimal("0.01"))


def _is_near(found: LateralFeature | LateralDefect, at: float) -> bool:
    return found.station_m is not None and abs(float(found.station_m) - at) <= REPAIR_NEAR_M


def _material_at(lateral: Lateral, at: float) -> str | None:
    def holds(segment: Segment) -> bool:
        return float(segment.from_m) <= at <= float(segment.to_m)

    named = [s.material for s in lateral.segments if holds(s) and s.material not in (None, "unknown")]
    return named[0] if named else None


def _in_order(group: list[Compared]) -> tuple[Compared, ...]:
    return tuple(sorted(group, key=_station))


def _station(compared: Compared) -> tuple[bool, Decimal, str]:
    found = compared.later or compared.earlier
    assert found is not None
    return (found.station_m is None, found.station_m or Decimal(0), found.defect.ref)
