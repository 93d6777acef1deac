"""The documents of the schemes that come with the service, put together from the tables."""

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any, Final

from scoring.grading.tables.at_once import AT_ONCE
from scoring.grading.tables.measured import HANDBOOK, SCALES
from scoring.grading.tables.unmeasured import LOOKS

Document = dict[str, Any]

_YEARS: Final = "years as in City of Santa Ana, Sewer Rate Study 2014, app. B p. 240"
_DENSITY: Final = "formulas and limits of CJJ 181-2012 (restated)"
# Scores of the density scheme by severity 1..5: invented, not the standard's own table.
_SCORES: Final = (Decimal("0.5"), Decimal(2), Decimal("2.5"), Decimal(5), Decimal(10))
_DENSITY_CLASSES: Final = (1, 2, 2, 3, 4)  # class each score has by the limits 1, 3, 6


def _raw_rows() -> Iterator[tuple[str, Document, int]]:
    """Rule, row without a grade, severity 1 (least) to 5; measured, then unmeasured, then at once."""
    for scale in SCALES:
        for values, handbook_class in scale.bands:
            when = {"measure": scale.measure, "range": dict(values), **scale.only}
            yield (
                scale.rule,
                _row(scale.kinds, "measured", when, scale.aspect, scale.source),
                6 - handbook_class,
            )
    for look in LOOKS:
        row = _row(look.kinds, "unmeasured", dict(look.when), look.aspect, look.source)
        yield look.rule, row, look.grade
    for rule in AT_ONCE:
        yield rule.rule, _row(rule.kinds, "always", dict(rule.when), rule.aspect, rule.source), 5


def _row(kinds: tuple[str, ...], applies: str, when: Document, aspect: str, source: str) -> Document:
    return {"kinds": list(kinds), "applies": applies, "when": when, "aspect": aspect, "source": source}


def _rows(scheme_id: str, graded: Callable[[int], Document]) -> list[Document]:
    return [{"rule": f"{scheme_id}/{rule}", **row, **graded(severity)} for rule, row, severity in _raw_rows()]


def _open_five() -> Document:
    return {
        "id": "open-five",
        "version": 1,
        "title": "Five grades, 1 best to 5 worst",
        "direction": {"best": 1, "worst": 5, "nothing_found": 0},
        "source": f"grade = 6 - class of {HANDBOOK}, with limits for acting at once and house rules by row",
        "time_left": {
            "5": "within 5 years or now",
            "4": "5 to 10 years",
            "3": "10 to 20 years",
            "2": "over 20 years",
            "1": "none foreseen",
            "0": "nothing found",
        },
        "time_left_source": _YEARS,
        "rows": _rows("open-five", lambda severity: {"grade": severity}),
    }


def _five_class() -> Document:
    return {
        "id": "five-class",
        "version": 1,
        "title": "Five classes, 1 worst to 5 least",
        "direction": {"best": 5, "worst": 1, "nothing_found": None},
        "source": f"{HANDBOOK}; where nothing was measured by house rule, as said by row",
        "rows": _rows("five-class", lambda severity: {"grade": 6 - severity}),
    }


def _density_four() -> Document:
    return {
        "id": "density-four",
        "version": 1,
        "title": "Four classes by score and spacing, 1 best to 4 worst",
        "direction": {"best": 1, "worst": 4, "nothing_found": None},
        "source": f"{_DENSITY}; the scores by kind are invented (house rule), not the standard's table",
        "density": {
            "alpha": Decimal("1.1"),
            "near_up_to_m": Decimal("1.5"),
            "one_defect_up_to_m": Decimal("1.0"),
            "score_limit": 10,
            "class_limits": [1, 3, 6],
            "extent_limits": [Decimal("0.1"), Decimal("0.5")],
            "point_length_m": Decimal("0.3"),
            "source": f"{_DENSITY}; score limit 10 and a point's length of 0.3 m by house rule",
        },
        "rows": [
            {**row, "source": f"{row['source']}; score invented (house rule)"}
            for row in _rows("density-four", _scored)
        ],
    }


def _scored(severity: int) -> Document:
    return {"grade": _DENSITY_CLASSES[severity - 1], "score": _SCORES[severity - 1]}


BUILT_IN_SCHEMES: Final[Mapping[str, Document]] = MappingProxyType(
    {document["id"]: document for document in (_open_five(), _five_class(), _density_four())}
)
