"""One finding out of several sightings: the worst degree and measure is kept, nothing is averaged away."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal

from scoring.reconcile.likeness import degree_rank
from scoring.reconcile.sightings import Sighting
from scoring.types import Defect, Feature

# Least to worst among kinds that crews take for one another; kinds not listed keep the first run's word.
_WORSE_LAST = (
    "crack", "fracture", "broken", "hole", "collapse",
    "open_joint", "angular_joint", "displaced_joint",
    "surface_wear", "corrosion", "wall_deposits", "bed_deposits", "obstruction",
)  # fmt: skip


def merged_defect(members: Sequence[Sighting]) -> Defect:
    """Merge what several runs say of one finding; positions are left as the first run's.

    Kind: the worst. Degree, opening, each measure: the worst of those that call it by that kind, else of
    all. Pattern: `multiple` if anybody says so, else the first given. Clock: the first given. At a joint,
    soil seen, void seen: if anybody says so.
    """
    defects = [m.defect for m in members if m.defect is not None]
    first = defects[0]
    if len(defects) == 1:
        return first
    kind = max((d.kind for d in defects), key=_badness)
    alike = [d for d in defects if d.kind == kind]
    clocked = next((d for d in defects if d.clock_from is not None), first)
    return replace(
        first,
        kind=kind,
        pattern=_pattern(alike) or _pattern(defects),
        at_joint=any(d.at_joint for d in defects),
        clock_from=clocked.clock_from,
        clock_to=clocked.clock_to,
        degree=_worst_word(alike, lambda d: d.degree) or _worst_word(defects, lambda d: d.degree),
        opening=_worst_word(defects, lambda d: d.opening),
        soil_seen=any(d.soil_seen for d in defects),
        void_seen=any(d.void_seen for d in defects),
        width_mm=_largest("width_mm", alike, defects),
        offset_mm=_largest("offset_mm", alike, defects),
        gap_mm=_largest("gap_mm", alike, defects),
        percent=_largest("percent", alike, defects),
        thickness_mm=_largest("thickness_mm", alike, defects),
    )


def _badness(kind: str) -> int:
    return _WORSE_LAST.index(kind) if kind in _WORSE_LAST else -1


def _pattern(defects: Sequence[Defect]) -> str | None:
    given = [d.pattern for d in defects if d.pattern]
    return "multiple" if "multiple" in given else (given[0] if given else None)


def _worst_word(defects: Sequence[Defect], word: Callable[[Defect], str | None]) -> str | None:
    given = [w for d in defects if (w := word(d)) is not None]
    return max(given, key=lambda w: degree_rank(w) or 0) if given else None


def _largest(name: str, alike: Sequence[Defect], defects: Sequence[Defect]) -> Decimal | None:
    given = [v for d in alike if (v := getattr(d, name)) is not None]
    given = given or [v for d in defects if (v := getattr(d, name)) is not None]
    return max(given) if given else None


def merged_feature(members: Sequence[Sighting]) -> Feature:
    """The first run's feature, with the label and clock of whoever gives them."""
    features = [m.feature for m in members if m.feature is not None]
    first = features[0]
    clocked = next((f for f in features if f.clock_from is not None), first)
    label = next((f.label for f in features if f.label is not None), None)
    return replace(first, label=label, clock_from=clocked.clock_from, clock_to=clocked.clock_to)
