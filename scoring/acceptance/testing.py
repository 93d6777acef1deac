"""Which pressure tests bear on a section, and whether it is tight."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from scoring.acceptance.readings import AIR_STANDARD
from scoring.acceptance.seeing import ROUNDING_M
from scoring.acceptance.types import Built, Counted, Criterion, Planned, PressureTest

TIGHT: Final = "tight"
LINERS: Final = ("full_liner", "sectional_liner")
_HOUSE: Final = "house rule"
_OF_LINERS: Final = "cured_in_place_liner"


def material_of(built: Built) -> str | None:
    """Return the material a section has after the work, as far as it is said or follows from the method."""
    return built.material or (_OF_LINERS if built.method in LINERS else None)


def counted(built: Built, tests: Sequence[PressureTest]) -> tuple[Counted, ...]:
    """Return the tests that touch a section, each with whether it counts there and why not."""
    touching = [test for test in tests if test.from_m <= built.to_m and test.to_m >= built.from_m]
    return tuple(Counted(test, *_counts(built, test, touching)) for test in touching)


def _counts(built: Built, test: PressureTest, others: Sequence[PressureTest]) -> tuple[bool, str]:
    if test.made_at[:10] < built.done_on:
        return False, f"It was made before the work was done ({built.done_on})."
    if test.outcome.missing is not None:
        return False, f"{test.outcome.missing} is missing: send the reading."
    wanted = AIR_STANDARD.get(material_of(built)) if test.kind == "air_test" else test.outcome.standard
    if test.outcome.standard != wanted:
        material = (material_of(built) or "the new pipe").replace("_", " ")
        said = f"take ASTM {wanted}" if wanted else "no air test is held for it, take a water test"
        return False, f"ASTM {test.outcome.standard} is not for {material}: {said}."
    again = [one.number for one in others if not test.outcome.passed and _replaces(built, one, test)]
    if again:
        return False, f"Test {again[0]} was made after it and passed."
    return True, "It passed." if test.outcome.passed else "It failed."


def _replaces(built: Built, one: PressureTest, failed: PressureTest) -> bool:
    """A later test of the same kind that passed stands in for one that failed where it covers as much of a section."""
    start, end = max(failed.from_m, built.from_m), min(failed.to_m, built.to_m)
    is_alike = one.kind == failed.kind and one.outcome.standard == failed.outcome.standard
    return bool(
        is_alike and one.outcome.passed and _moment(one) > _moment(failed) and one.from_m <= start and end <= one.to_m
    )


def _moment(test: PressureTest) -> datetime:
    return datetime.fromisoformat(test.made_at.upper())


def is_demanded(planned: Planned, built: Built) -> bool:
    """Tell whether a pressure test is demanded of a section."""
    return planned.test is not None if built.is_test_demanded is None else built.is_test_demanded


def tight(planned: Planned, built: Built, tests: Sequence[Counted]) -> Criterion | None:
    """Return whether a section is tight; None where no test is demanded and none was made."""
    good = [one.test for one in tests if one.counts and one.test.outcome.passed]
    bad = [one.test for one in tests if one.counts and one.test.outcome.passed is False]
    source = "; ".join(dict.fromkeys(s for one in (*bad, *good) for s in one.outcome.source)) or _HOUSE
    if bad:
        return Criterion(TIGHT, False, " ".join(_said(test) for test in bad), source)
    if not is_demanded(planned, built):
        return _not_demanded(planned, good, source)
    if good and _is_covered(built, good):
        return Criterion(TIGHT, True, " ".join(_said(test) for test in good), source)
    if good:
        return Criterion(TIGHT, None, "The tests that passed do not cover the whole section.", source)
    return Criterion(TIGHT, None, _missing(planned, tests), source)


def _not_demanded(planned: Planned, good: Sequence[PressureTest], source: str) -> Criterion | None:
    if good:
        return Criterion(TIGHT, True, " ".join(_said(test) for test in good), source)
    if planned.test is None:
        return None
    return Criterion(TIGHT, True, "The scope asks for a pressure test; who closes it does not demand one.", _HOUSE)


def _missing(planned: Planned, tests: Sequence[Counted]) -> str:
    asked = planned.test or "A pressure test is demanded."
    if not tests:
        return f"No reading of a pressure test was sent. {asked} A recording is not a pressure test."
    why = " ".join(f"Test {one.test.number}: {one.reason}" for one in tests)
    return f"No reading counts here. {why} {asked}"


def _said(test: PressureTest) -> str:
    return f"Test {test.number}: {test.outcome.detail}"


def _is_covered(built: Built, tests: Sequence[PressureTest]) -> bool:
    reached = built.from_m
    for start, end in sorted((test.from_m, test.to_m) for test in tests):
        if start - reached > ROUNDING_M:
            return False
        reached = max(reached, end)
    return built.to_m - reached <= ROUNDING_M
