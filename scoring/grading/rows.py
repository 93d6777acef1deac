"""Reads the rows of a scheme document."""

from typing import Any, cast

from scoring.grading.kinds import ASPECTS, FLAG_FIELDS, KINDS, MEASURE_WORDS, WORD_FIELDS, words_of
from scoring.grading.reading import Reader
from scoring.grading.scheme import Applies, Range, Row, SizeBand
from scoring.types import Aspect

_ROW_FIELDS = ("rule", "kinds", "applies", "when", "aspect", "grade", "score", "source")
_CONDITIONS = ("measure", "range", "size_mm", *WORD_FIELDS, *FLAG_FIELDS)
_LIMITS = ("from", "above", "to", "below")
_MOST_ROWS = 2000

Direction = tuple[int, int, int | None]  # best, worst, nothing found


def read_rows(reader: Reader, value: Any, direction: Direction | None, *, needs_score: bool) -> tuple[Row, ...] | None:
    items = reader.sequence(value, "/rows")
    if items is None:
        return None
    if len(items) > _MOST_ROWS:
        reader.fault("/rows", "too_many_rows", f"Give at most {_MOST_ROWS} rows.")
        return None
    rows = [_row(reader, item, f"/rows/{index}", direction, needs_score) for index, item in enumerate(items)]
    return None if None in rows else tuple(cast(list[Row], rows))


def _row(reader: Reader, value: Any, path: str, direction: Direction | None, needs_score: bool) -> Row | None:
    before = len(reader.faults)
    given = reader.mapping(value, path, _ROW_FIELDS)
    if given is None:
        return None
    rule = reader.text(given.get("rule"), f"{path}/rule")
    source = reader.text(given.get("source"), f"{path}/source")
    applies = reader.choice(given.get("applies"), f"{path}/applies", ("measured", "unmeasured", "always"))
    aspect = reader.choice(given.get("aspect"), f"{path}/aspect", ASPECTS)
    kinds = _kinds(reader, given.get("kinds"), f"{path}/kinds")
    grade = _grade(reader, given.get("grade"), f"{path}/grade", direction)
    score = reader.number(given.get("score"), f"{path}/score") if needs_score else None
    conditions = _conditions(reader, given.get("when", {}), f"{path}/when", applies, kinds)
    if len(reader.faults) > before or conditions is None:
        return None
    return Row(
        cast(str, rule), kinds, cast(Applies, applies), cast(Aspect, aspect), cast(int, grade),
        cast(str, source), **conditions, score=score,
    )  # fmt: skip


def _kinds(reader: Reader, value: Any, path: str) -> tuple[str, ...]:
    items = reader.sequence(value, path) or []
    read = [reader.choice(item, f"{path}/{index}", KINDS) for index, item in enumerate(items)]
    return tuple(kind for kind in read if kind is not None)


def _grade(reader: Reader, value: Any, path: str, direction: Direction | None) -> int | None:
    grade = reader.whole(value, path)
    if grade is None or direction is None:
        return grade
    low, high = sorted(direction[:2])
    if not low <= grade <= high:
        reader.fault(path, "no_such_grade", f"Give a grade from {low} to {high}.")
        return None
    return grade


def _conditions(
    reader: Reader, value: Any, path: str, applies: str | None, kinds: tuple[str, ...]
) -> dict[str, Any] | None:
    given = reader.mapping(value, path, _CONDITIONS)
    if given is None:
        return None
    read: dict[str, Any] = {}
    if ("measure" in given) != ("range" in given) or (applies == "measured" and "measure" not in given):
        reader.fault(path, "measure_without_range", "Give a measure and its range together.")
    elif applies == "unmeasured" and "measure" in given:
        reader.fault(path, "measure_in_unmeasured", "Leave the measure out or say applies: measured.")
    elif "measure" in given:
        read["measure"] = reader.choice(given["measure"], f"{path}/measure", tuple(MEASURE_WORDS))
        read["values"] = _range(reader, given["range"], f"{path}/range", _LIMITS)
    if "size_mm" in given:
        read["size"] = _size(reader, given["size_mm"], f"{path}/size_mm")
    for name in WORD_FIELDS:
        if name in given:
            read[name] = _words(reader, given[name], f"{path}/{name}", _known(kinds, name))
    for name in FLAG_FIELDS:
        if name in given:
            read[name] = reader.flag(given[name], f"{path}/{name}")
    return read


def _known(kinds: tuple[str, ...], name: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(word for kind in kinds for word in words_of(kind, name)))


def _words(reader: Reader, value: Any, path: str, known: tuple[str, ...]) -> tuple[str | None, ...]:
    """A word no finding can bear is a slip of the pen: its row would never be used, and nobody would notice."""
    items = reader.sequence(value, path) or []
    return tuple(
        None if item is None else reader.word(item, f"{path}/{index}", known) for index, item in enumerate(items)
    )


def _size(reader: Reader, value: Any, path: str) -> SizeBand | None:
    sizes = _range(reader, value, path, (*_LIMITS, "or_unknown"))
    if sizes is None:
        return None
    unknown = reader.flag(value["or_unknown"], f"{path}/or_unknown") if "or_unknown" in value else False
    return SizeBand(sizes, bool(unknown))


def _range(reader: Reader, value: Any, path: str, allowed: tuple[str, ...]) -> Range | None:
    given = reader.mapping(value, path, allowed)
    if given is None:
        return None
    if ("from" in given and "above" in given) or ("to" in given and "below" in given):
        reader.fault(path, "two_limits", "Give one of from and above, one of to and below.")
        return None
    limits = {name: reader.number(given[name], f"{path}/{name}") for name in _LIMITS if name in given}
    low = limits.get("from", limits.get("above"))
    high = limits.get("to", limits.get("below"))
    is_empty = low is not None and high is not None and (low > high or (low == high and len(limits) == 2
        and ("above" in limits or "below" in limits)))  # fmt: skip
    if not limits or is_empty:
        reader.fault(path, "empty_range", "Give a range that holds at least one value.")
        return None
    return Range(low, "above" in limits, high, "below" in limits)
