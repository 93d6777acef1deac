"""Whether a finding got worse, and by which measure, beyond what two crews may differ by.

Doubts are house rules (engineering judgement): a push camera measures nothing, its crew estimates against
the pipe's diameter.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from scoring.comparison.result import Change
from scoring.reconcile.likeness import degree_rank
from scoring.types import Defect, LateralDefect

# What becomes of a crack that nobody repairs, step by step.
GROWTH_PATHS: Final = (
    ("crack", "fracture", "broken", "hole", "collapse"),
    ("deformation", "broken", "collapse"),
    ("corrosion", "hole", "collapse"),
    ("surface_wear", "hole", "collapse"),
    ("open_joint", "displaced_joint"),
)


@dataclass(frozen=True, slots=True)
class Measure:
    """A measure and its doubt: at least `least`, else `share` of the larger reading."""

    name: str
    least: Decimal
    share: Decimal

    def doubt(self, one: Decimal, other: Decimal) -> Decimal:
        return max(self.least, self.share * max(one, other))


MEASURES: Final = (
    Measure("width_mm", Decimal("0.5"), Decimal("0.3")),
    Measure("offset_mm", Decimal(5), Decimal("0.25")),
    Measure("gap_mm", Decimal(5), Decimal("0.25")),
    Measure("percent", Decimal(5), Decimal("0.2")),
    Measure("thickness_mm", Decimal(3), Decimal("0.3")),
)
LENGTH_DOUBT_M: Final = Decimal("0.3")  # of a stretch, beside what its stations are unsure by


def changes(earlier: LateralDefect, later: LateralDefect) -> tuple[Change, ...]:
    """All that differs beyond doubt, in either direction."""
    one, other = earlier.defect, later.defect
    found = [_kind(one, other), _word("degree", one.degree, other.degree)]
    found += [_word("opening", one.opening, other.opening), _pattern(one, other)]
    if one.kind == other.kind:
        found += [_measure(measure, one, other) for measure in MEASURES]
    found += [_length(earlier, later)]
    found += [_flag(name, one, other) for name in ("soil_seen", "void_seen")]
    return tuple(change for change in found if change is not None)


def is_on_path(earlier: str, later: str) -> bool:
    """Whether one kind may have become the other, or is taken for its neighbour on the way back."""
    return earlier == later or any(earlier in path and later in path for path in GROWTH_PATHS)


def _kind(one: Defect, other: Defect) -> Change | None:
    if one.kind == other.kind:
        return None
    path = next((p for p in GROWTH_PATHS if one.kind in p and other.kind in p), None)
    is_worse = path is not None and path.index(other.kind) > path.index(one.kind)
    return Change("kind", one.kind, other.kind, None, is_worse, "comparison/kind")


def _word(name: str, one: str | None, other: str | None) -> Change | None:
    before, after = degree_rank(one), degree_rank(other)
    if before is None or after is None or before == after:
        return None
    return Change(name, one, other, None, after > before, f"comparison/{name}")


def _pattern(one: Defect, other: Defect) -> Change | None:
    if not one.pattern or not other.pattern or one.pattern == other.pattern:
        return None
    return Change("pattern", one.pattern, other.pattern, None, other.pattern == "multiple", "comparison/pattern")


def _measure(measure: Measure, one: Defect, other: Defect) -> Change | None:
    before: Decimal | None = getattr(one, measure.name)
    after: Decimal | None = getattr(other, measure.name)
    if before is None or after is None:
        return None
    doubt = measure.doubt(before, after)
    if abs(after - before) <= doubt:
        return None
    return Change(measure.name, before, after, doubt, after > before, f"comparison/{measure.name}")


def _length(earlier: LateralDefect, later: LateralDefect) -> Change | None:
    if earlier.to_station_m is None or later.to_station_m is None:
        return None
    if earlier.station_m is None or later.station_m is None:
        return None
    before, after = earlier.to_station_m - earlier.station_m, later.to_station_m - later.station_m
    doubt = max(LENGTH_DOUBT_M, Decimal("0.1") * max(before, after))
    if abs(after - before) <= doubt:
        return None
    return Change("length_m", before, after, doubt, after > before, "comparison/length_m")


def _flag(name: str, one: Defect, other: Defect) -> Change | None:
    before, after = getattr(one, name), getattr(other, name)
    if before == after:
        return None
    return Change(name, before, after, None, bool(after), f"comparison/{name}")
