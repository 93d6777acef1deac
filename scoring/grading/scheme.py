"""A grading scheme in memory: rows of conditions and grades, and which rows fit a finding."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from scoring.grading.kinds import FLAG_FIELDS, WORD_FIELDS
from scoring.types import Aspect, Defect

Applies = Literal["measured", "unmeasured", "always"]


@dataclass(frozen=True, slots=True)
class Range:
    """An interval of a measure; None is no limit on that side, strict leaves the limit itself out."""

    low: Decimal | None
    is_low_strict: bool
    high: Decimal | None
    is_high_strict: bool

    def holds(self, value: Decimal) -> bool:
        if self.low is not None and (value < self.low or (self.is_low_strict and value == self.low)):
            return False
        return self.high is None or value < self.high or (not self.is_high_strict and value == self.high)

    def in_words(self, unit: str) -> str:
        low = None if self.low is None else f"{self.low:f}"
        high = None if self.high is None else f"{self.high:f}"
        if low is not None and high is not None:
            ends = f", below {high}" if self.is_high_strict else f" to {high}"
            return f"{'over' if self.is_low_strict else 'from'} {low}{ends} {unit}"
        if low is not None:
            return f"{'over' if self.is_low_strict else 'from'} {low} {unit}"
        return f"{'below' if self.is_high_strict else 'up to'} {high} {unit}"


@dataclass(frozen=True, slots=True)
class SizeBand:
    """Nominal sizes of pipe a row is meant for; whether a pipe of unknown size counts in."""

    sizes: Range
    or_unknown: bool

    def holds(self, size_mm: Decimal | None) -> bool:
        return self.or_unknown if size_mm is None else self.sizes.holds(size_mm)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a scheme. A condition that is None is not asked for.

    measured: the measure is there and lies in the range. unmeasured: looked at only where no measured
    row of the aspect fits. always: applies beside the others. The worst grade of all that apply wins.
    """

    rule: str
    kinds: tuple[str, ...]
    applies: Applies
    aspect: Aspect
    grade: int
    source: str
    measure: str | None = None
    values: Range | None = None
    size: SizeBand | None = None
    degree: tuple[str | None, ...] | None = None
    opening: tuple[str | None, ...] | None = None
    pattern: tuple[str | None, ...] | None = None
    at_joint: bool | None = None
    soil_seen: bool | None = None
    void_seen: bool | None = None
    score: Decimal | None = None  # points of a density scheme

    def fits(self, defect: Defect, size_mm: Decimal | None) -> bool:
        return (
            defect.kind in self.kinds
            and self._measure_fits(defect)
            and (self.size is None or self.size.holds(size_mm))
            and all(self._word_fits(name, defect) for name in WORD_FIELDS)
            and all(getattr(self, name) in (None, getattr(defect, name)) for name in FLAG_FIELDS)
        )

    def _measure_fits(self, defect: Defect) -> bool:
        if self.measure is None or self.values is None:
            return True
        value: Decimal | None = getattr(defect, self.measure)
        return value is not None and self.values.holds(value)

    def _word_fits(self, name: str, defect: Defect) -> bool:
        words: tuple[str | None, ...] | None = getattr(self, name)
        return words is None or getattr(defect, name) in words


@dataclass(frozen=True, slots=True)
class DensityRules:
    """Limits of the density figures; see `scoring.grading.density`."""

    alpha: Decimal
    near_up_to_m: Decimal
    one_defect_up_to_m: Decimal
    score_limit: Decimal
    class_limits: tuple[Decimal, ...]
    extent_limits: tuple[Decimal, Decimal]
    point_length_m: Decimal
    source: str


@dataclass(frozen=True, slots=True)
class Scheme:
    """A checked scheme: every kind gets a grade whatever is given or absent.

    `best` and `worst` give the direction: the smaller number may be the better or the worse grade.
    `nothing_found` stands for "no finding" (None: the scheme has no number for it).
    """

    id: str
    version: int
    title: str
    best: int
    worst: int
    nothing_found: int | None
    rows: tuple[Row, ...]
    source: str
    time_left: Mapping[int, str] | None = None
    time_left_source: str | None = None
    density: DensityRules | None = None

    def severity(self, grade: int) -> int:
        """Steps from the best grade; comparable within the scheme, larger is worse."""
        return abs(grade - self.best)

    def grades(self) -> tuple[int, ...]:
        """All grades in ascending number."""
        return tuple(range(min(self.best, self.worst), max(self.best, self.worst) + 1))

    def as_worded(self, defect: Defect) -> Defect:
        """The finding with every word that no row of its kind names taken as not given."""
        unknown = {
            name: None
            for name in WORD_FIELDS
            if getattr(defect, name) not in named_words(self.rows, defect.kind, name)
        }
        return replace(defect, **unknown) if unknown else defect  # type: ignore[arg-type]


def named_words(rows: tuple[Row, ...], kind: str, name: str) -> tuple[str | None, ...]:
    """The words rows of `kind` name for the field, "not given" (None) first; in order of first naming."""
    found: dict[str | None, None] = {None: None}
    for row in rows:
        if kind in row.kinds:
            found.update(dict.fromkeys(getattr(row, name) or ()))
    return tuple(found)
