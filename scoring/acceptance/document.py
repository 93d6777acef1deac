"""A closing as a plain document in US customary or SI units."""

from typing import Any

from scoring.acceptance.closing import RULES
from scoring.acceptance.types import Built, Closing, Counted, SectionResult
from scoring.units import Units, length_in


def closing_document(closing: Closing, units: Units) -> dict[str, Any]:
    """Return the scope after the work, section by section; lengths in ft or m."""
    return {
        "units": units,
        "outcome": closing.state,
        "sections": [_section(one, units) for one in closing.sections],
        "cautions": list(closing.cautions),
        "rules": RULES,
    }


def _section(one: SectionResult, units: Units) -> dict[str, Any]:
    return {
        "section": one.planned.number,
        "outcome": one.state,
        "method": one.planned.method,
        "from": length_in(one.planned.from_m, units),
        "to": length_in(one.planned.to_m, units),
        "as_built": None if one.built is None else _built(one.built, units),
        "criteria": [
            {"criterion": each.name, "met": each.is_met, "detail": each.detail, "source": each.source}
            for each in one.criteria
        ],
        "runs": list(one.runs),
        "seen_share": one.share,
        "unseen": [
            {"from": length_in(each.from_m, units), "to": length_in(each.to_m, units), "reason": each.reason}
            for each in one.hidden
        ],
        "left": [
            {
                "ref": each.ref,
                "kind": each.kind,
                "grade": each.grade,
                "from": length_in(each.from_m, units),
                "to": length_in(each.to_m, units),
                "inside": each.is_inside,
            }
            for each in one.left
        ],
        "cured": [
            {"defect": each.ref, "became": each.became, "certain": each.is_certain, "reason": each.reason}
            for each in one.cured
        ],
        "tests": [_test(each, units) for each in one.tests],
    }


def _built(built: Built, units: Units) -> dict[str, Any]:
    return {
        "method": built.method,
        "from": length_in(built.from_m, units),
        "to": length_in(built.to_m, units),
        "material": built.material,
        "done_on": built.done_on,
    }


def _test(one: Counted, units: Units) -> dict[str, Any]:
    return {
        "test": one.test.number,
        "kind": one.test.kind,
        "from": length_in(one.test.from_m, units),
        "to": length_in(one.test.to_m, units),
        "made_at": one.test.made_at,
        "passed": one.test.outcome.passed,
        "counts": one.counts,
        "reason": one.reason,
        "detail": one.test.outcome.detail,
        "missing": one.test.outcome.missing,
        "source": "; ".join(one.test.outcome.source),
        "cautions": list(one.test.outcome.cautions),
    }
