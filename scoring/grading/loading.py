"""Turns a scheme document into a `Scheme`, or says everything that is wrong with it.

A document: {id, version, title, source, direction: {best, worst, nothing_found}, rows: [...]} and, where
wanted, time_left with time_left_source, and density. A row: {rule, kinds, applies: "measured" |
"unmeasured" | "always", aspect, grade, source, when: {measure, range, size_mm, degree, opening, pattern,
at_joint, soil_seen, void_seen}, score}. A range: from or above (strict), to or below (strict). A null among
the words of degree, opening or pattern means "not given".
"""

from collections.abc import Mapping
from decimal import Decimal
from itertools import pairwise
from typing import Any, cast

from scoring.grading.completeness import completeness_faults
from scoring.grading.faults import SchemeInvalid
from scoring.grading.reading import Reader
from scoring.grading.rows import Direction, read_rows
from scoring.grading.scheme import DensityRules, Row, Scheme

_SCHEME_FIELDS = (
    "id", "version", "title", "source", "direction", "time_left", "time_left_source", "density", "rows",
)  # fmt: skip
_DENSITY_FIELDS = (
    "alpha", "near_up_to_m", "one_defect_up_to_m", "score_limit", "class_limits", "extent_limits",
    "point_length_m", "source",
)  # fmt: skip


def load_scheme(document: Mapping[str, Any], *, is_kept: bool = False) -> Scheme:
    """Return the checked scheme of a document.

    `is_kept`: it was taken once, so words no finding can bear, which are a fault in a new one, only mean that their
    rows are never used; what was graded by it can be graded again.

    Raises SchemeInvalid with every fault found: wrong or missing values, a row without a source, and, once
    each row can be read, a gap or an overlap in the ranges of a measure or a kind that could go ungraded.
    """
    reader = Reader(takes_any_word=is_kept)
    scheme = _scheme(reader, document)
    if scheme is None or reader.faults:
        raise SchemeInvalid(reader.faults)
    if faults := completeness_faults(scheme):
        raise SchemeInvalid(faults)
    return scheme


def _scheme(reader: Reader, document: Any) -> Scheme | None:
    given = reader.mapping(document, "", _SCHEME_FIELDS)
    if given is None:
        return None
    scheme_id = reader.text(given.get("id"), "/id")
    version = reader.whole(given.get("version"), "/version")
    title = reader.text(given.get("title"), "/title")
    source = reader.text(given.get("source"), "/source")
    direction = _direction(reader, given.get("direction"))
    density = _density(reader, given.get("density")) if given.get("density") is not None else None
    rows = read_rows(reader, given.get("rows"), direction, needs_score=density is not None)
    time_left, time_source = _time_left(reader, given)
    if None in (scheme_id, version, title, source, direction, rows):
        return None
    _match_classes(reader, direction, density)
    best, worst, nothing = cast(Direction, direction)
    return Scheme(
        cast(str, scheme_id), cast(int, version), cast(str, title), best, worst, nothing,
        cast(tuple[Row, ...], rows), cast(str, source), time_left, time_source, density,
    )  # fmt: skip


def _direction(reader: Reader, value: Any) -> Direction | None:
    given = reader.mapping(value, "/direction", ("best", "worst", "nothing_found"))
    if given is None:
        return None
    best = reader.whole(given.get("best"), "/direction/best")
    worst = reader.whole(given.get("worst"), "/direction/worst")
    nothing = given.get("nothing_found")
    if nothing is not None:
        nothing = reader.whole(nothing, "/direction/nothing_found")
    if best is None or worst is None:
        return None
    if best == worst or abs(best - worst) > 20:
        reader.fault("/direction", "no_direction", "Give 2 to 21 grades from best to worst.")
        return None
    if nothing is not None and min(best, worst) <= nothing <= max(best, worst):
        reader.fault("/direction/nothing_found", "is_a_grade", "Give a number that is no grade, or null.")
    return best, worst, nothing


def _match_classes(reader: Reader, direction: Direction | None, density: DensityRules | None) -> None:
    if direction is not None and density is not None:
        steps = abs(direction[0] - direction[1])
        if len(density.class_limits) != steps:
            reader.fault("/density/class_limits", "wrong_count", f"Give {steps} limits, one per step.")


def _time_left(reader: Reader, given: Mapping[str, Any]) -> tuple[dict[int, str] | None, str | None]:
    if given.get("time_left") is None:
        return None, None
    source = reader.text(given.get("time_left_source"), "/time_left_source")
    texts = given["time_left"]
    if not isinstance(texts, Mapping) or not all(isinstance(k, str) and k.isdecimal() for k in texts):
        reader.fault("/time_left", "not_by_grade", 'Give an object of texts by grade, as {"5": "now"}.')
        return None, source
    read = {int(grade): reader.text(text, f"/time_left/{grade}") or "" for grade, text in texts.items()}
    return read, source


def _density(reader: Reader, value: Any) -> DensityRules | None:
    given = reader.mapping(value, "/density", _DENSITY_FIELDS)
    if given is None:
        return None
    names = ("alpha", "near_up_to_m", "one_defect_up_to_m", "score_limit", "point_length_m")
    single = [reader.number(given.get(name), f"/density/{name}") for name in names]
    classes = _ascending(reader, given.get("class_limits"), "/density/class_limits")
    extents = _ascending(reader, given.get("extent_limits"), "/density/extent_limits")
    source = reader.text(given.get("source"), "/density/source")
    if None in single or classes is None or extents is None or source is None:
        return None
    if len(extents) != 2:
        reader.fault("/density/extent_limits", "wrong_count", "Give two limits: local, whole.")
        return None
    alpha, near, one, limit, point = cast(list[Decimal], single)
    return DensityRules(alpha, near, one, limit, classes, (extents[0], extents[1]), point, source)


def _ascending(reader: Reader, value: Any, path: str) -> tuple[Decimal, ...] | None:
    items = reader.sequence(value, path)
    if items is None:
        return None
    numbers = [reader.number(item, f"{path}/{index}") for index, item in enumerate(items)]
    if None in numbers:
        return None
    limits = cast(list[Decimal], numbers)
    if any(later <= earlier for earlier, later in pairwise(limits)):
        reader.fault(path, "not_ascending", "Give the limits in ascending order.")
        return None
    return tuple(limits)
