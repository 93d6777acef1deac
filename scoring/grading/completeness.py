"""Proves that a scheme leaves no finding ungraded and grades no measured value twice.

The proof goes by cases: for each kind every combination of the words its rows name (and of none given), of
the flags they ask for, and of the sizes and values at every limit and between every two limits. Between
two neighbouring limits all rows answer alike, so these points stand for all values.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product
from math import prod
from typing import Any

from scoring.grading.faults import SchemeFault
from scoring.grading.kinds import ASPECTS, FLAG_FIELDS, KINDS, MEASURE_WORDS, WORD_FIELDS
from scoring.grading.scheme import Range, Row, Scheme, named_words
from scoring.types import Aspect, Defect

_MOST_TRIALS = 500_000  # of a row against a case; a real scheme takes a few thousand
_WHOLE = Decimal(100)  # no share is larger


@dataclass(frozen=True, slots=True)
class _Question:
    """Rows that must answer every case: at least one of them, for a measure exactly one."""

    where: str
    kind: str
    measure: str | None
    rows: Sequence[Row]

    def dimensions(self) -> dict[str, Sequence[Any]]:
        """Every field the rows ask for with the values that stand for all; the size of the pipe last."""
        named = {
            name: named_words(tuple(self.rows), self.kind, name) for name in WORD_FIELDS if _is_asked(self.rows, name)
        }
        flags = {name: (False, True) for name in FLAG_FIELDS if _is_asked(self.rows, name)}
        values: dict[str, Sequence[Any]] = {**named, **flags}
        if self.measure is not None:
            points = _points([row.values for row in self.rows if row.values is not None])
            values[self.measure] = [p for p in points if self.measure != "percent" or p <= _WHOLE]
        bands = [row.size.sizes for row in self.rows if row.size is not None]
        values["size_mm"] = (None, *_points(bands)) if bands else (None,)
        return values

    def trials(self) -> int:
        return len(self.rows) * prod(len(values) for values in self.dimensions().values())


def completeness_faults(scheme: Scheme) -> list[SchemeFault]:
    """Return every gap, overlap and missing kind, one fault per kind, aspect and measure."""
    faults: list[SchemeFault] = []
    questions: list[_Question] = []
    for kind in KINDS:
        rows = [row for row in scheme.rows if kind in row.kinds and row.applies != "always"]
        if not rows:
            faults.append(SchemeFault("/rows", "missing_kind", f"Add rows for the kind {kind}."))
        for aspect in ASPECTS:
            questions += _questions(kind, aspect, [row for row in rows if row.aspect == aspect])
    if sum(question.trials() for question in questions) > _MOST_TRIALS:
        return [*faults, SchemeFault("/rows", "too_many_cases", "Use fewer limits, words and conditions.")]
    return faults + [fault for question in questions if (fault := _fault_of(question)) is not None]


def _questions(kind: str, aspect: Aspect, rows: Sequence[Row]) -> Iterator[_Question]:
    if not rows:
        return
    looks = [row for row in rows if row.applies == "unmeasured"]
    yield _Question(f"{kind}, {aspect}, nothing measured", kind, None, looks)
    for measure in MEASURE_WORDS:
        measured = [row for row in rows if row.measure == measure]
        if measured:
            yield _Question(f"{kind}, {aspect}, {measure}", kind, measure, measured)


def _fault_of(question: _Question) -> SchemeFault | None:
    """The first case that no row fits, or for a measure more than one."""
    for defect, size_mm in _cases(question):
        count = sum(row.fits(defect, size_mm) for row in question.rows)
        if count == 0 or (count > 1 and question.measure is not None):
            case = _in_words(defect, size_mm, question.measure)
            what = "No row grades" if count == 0 else "More than one row grades"
            sentence = f"{what} {question.where}{case}; change the ranges or conditions."
            return SchemeFault("/rows", "gap" if count == 0 else "overlap", sentence)
    return None


def _cases(question: _Question) -> Iterator[tuple[Defect, Decimal | None]]:
    plain = Defect(ref="case", kind=question.kind, at_m=Decimal(0))
    dimensions = question.dimensions()
    for *values, size_mm in product(*dimensions.values()):
        yield replace(plain, **dict(zip(dimensions, values, strict=False))), size_mm


def _is_asked(rows: Sequence[Row], name: str) -> bool:
    return any(getattr(row, name) is not None for row in rows)


def _points(ranges: Sequence[Range]) -> list[Decimal]:
    """Zero, every limit, a point between neighbouring limits and one beyond the last."""
    limits = sorted({Decimal(0)} | {end for r in ranges for end in (r.low, r.high) if end is not None})
    points: list[Decimal] = []
    for limit, following in zip(limits, [*limits[1:], limits[-1] + 2], strict=True):
        points += [limit, (limit + following) / 2]
    return points


def _in_words(defect: Defect, size_mm: Decimal | None, measure: str | None) -> str:
    said = [
        f"{name} {value}"
        for name in (*WORD_FIELDS, *FLAG_FIELDS, *((measure,) if measure else ()))
        if (value := getattr(defect, name)) not in (None, False)
    ]
    if size_mm is not None:
        said.append(f"nominal size {size_mm:f} mm")
    return f" ({', '.join(said)})" if said else ""
