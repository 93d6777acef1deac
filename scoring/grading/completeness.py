"""Proves that a scheme leaves no finding ungraded and grades no measured value twice.

The proof goes by cases: for each kind every combination of the words its rows name (and of none given), of
the flags they ask for, and of the sizes and values at every limit and between every two limits. Between
two neighbouring limits all rows answer alike, so these points stand for all values.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import product
from typing import Any

from scoring.grading.faults import SchemeFault
from scoring.grading.kinds import ASPECTS, FLAG_FIELDS, KINDS, MEASURE_WORDS, WORD_FIELDS
from scoring.grading.scheme import Range, Row, Scheme, named_words
from scoring.types import Aspect, Defect

_MOST_CASES = 20_000  # of one kind; a real scheme has a few hundred
_WHOLE = Decimal(100)  # no share is larger
_Case = tuple[Defect, Decimal | None]


def completeness_faults(scheme: Scheme) -> list[SchemeFault]:
    """Return every gap, overlap and missing kind, one fault per kind, aspect and measure."""
    faults: list[SchemeFault] = []
    for kind in KINDS:
        rows = [row for row in scheme.rows if kind in row.kinds and row.applies != "always"]
        if not rows:
            faults.append(SchemeFault("/rows", "missing_kind", f"Add rows for the kind {kind}."))
        for aspect in ASPECTS:
            in_aspect = [row for row in rows if row.aspect == aspect]
            if in_aspect:
                faults.extend(_aspect_faults(kind, aspect, in_aspect))
    return faults


def _aspect_faults(kind: str, aspect: Aspect, rows: Sequence[Row]) -> Iterator[SchemeFault]:
    looks = [row for row in rows if row.applies == "unmeasured"]
    where = f"{kind}, {aspect}"
    yield from _fault_of(looks, kind, None, f"{where}, nothing measured", lambda count: count == 0)
    for measure in MEASURE_WORDS:
        measured = [row for row in rows if row.measure == measure]
        if measured:
            yield from _fault_of(measured, kind, measure, f"{where}, {measure}", lambda count: count != 1)


def _fault_of(
    rows: Sequence[Row], kind: str, measure: str | None, where: str, is_wrong: Callable[[int], bool]
) -> Iterator[SchemeFault]:
    """The first case that no row fits, or for a measure more than one."""
    for number, (defect, size_mm) in enumerate(_cases(rows, kind, measure)):
        if number >= _MOST_CASES:
            yield SchemeFault("/rows", "too_many_cases", f"Use fewer limits and words for {where}.")
            return
        count = sum(row.fits(defect, size_mm) for row in rows)
        if is_wrong(count):
            case = _in_words(defect, size_mm, measure)
            code = "gap" if count == 0 else "overlap"
            what = "No row grades" if count == 0 else "More than one row grades"
            yield SchemeFault("/rows", code, f"{what} {where}{case}; change the ranges or conditions.")
            return


def _cases(rows: Sequence[Row], kind: str, measure: str | None) -> Iterator[_Case]:
    plain = Defect(ref="case", kind=kind, at_m=Decimal(0))
    dimensions: dict[str, Sequence[Any]] = {
        name: named_words(tuple(rows), kind, name) for name in WORD_FIELDS if _is_asked(rows, name)
    }
    dimensions |= {name: (False, True) for name in FLAG_FIELDS if _is_asked(rows, name)}
    if measure is not None:
        points = _points([row.values for row in rows if row.values is not None])
        dimensions[measure] = [point for point in points if measure != "percent" or point <= _WHOLE]
    bands = [row.size.sizes for row in rows if row.size is not None]
    sizes: Sequence[Decimal | None] = (None, *_points(bands)) if bands else (None,)
    for values in product(*dimensions.values()):
        defect = replace(plain, **dict(zip(dimensions, values, strict=True)))
        for size_mm in sizes:
            yield defect, size_mm


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
