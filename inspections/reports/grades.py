"""Grades in words and signs. Schemes count in different directions, so none of this assumes that 5 is worst."""

from collections.abc import Sequence
from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import Document, as_number, number, text
from inspections.reports.tags import Gauge


def scheme_words(scheme: Document) -> str:
    """Return the scheme with its version and the direction in which it counts."""
    name = f"{text(scheme, 'id') or 'not named'} version {text(scheme, 'version') or 'not given'}"
    return f"{name} ({words.rounded(scheme.get('best'))} best, {words.rounded(scheme.get('worst'))} worst)"


def grade_of(scheme: Document, grade: object) -> str:
    """Return a grade that cannot be read in the wrong direction."""
    best, worst, found = number(scheme, "best"), number(scheme, "worst"), as_number(grade)
    if found is None:
        return "not graded"
    if best is None or worst is None:
        return f"grade {words.rounded(found)} (direction of the scheme not given)"
    if is_nothing_found(scheme, found):
        return f"grade {words.rounded(found)} (nothing found)"
    if worst > best:
        return f"grade {words.rounded(found)} of {words.rounded(worst)} ({words.rounded(worst)} worst)"
    return f"grade {words.rounded(found)} ({words.rounded(worst)} worst, {words.rounded(best)} best)"


def is_nothing_found(scheme: Document, grade: Decimal) -> bool:
    """Whether a grade says that nothing was found: the scheme's own sign for it, else a 0 outside its grades."""
    nothing = number(scheme, "nothing_found")
    if nothing is not None:
        return grade == nothing
    best, worst = number(scheme, "best"), number(scheme, "worst")
    return grade == 0 and best is not None and worst is not None and min(best, worst) >= 1


def steps_from_best(scheme: Document, grade: Decimal | None) -> Decimal:
    """Return how far a grade is from the best end, whichever way the scheme counts; -1 where there is none."""
    best = number(scheme, "best")
    if grade is None or is_nothing_found(scheme, grade):
        return Decimal(-1)
    return grade if best is None else abs(grade - best)


def gauge_of(scheme: Document, grade: Decimal | None) -> Gauge | None:
    """Return a grade as filled cells out of all steps of its scheme, the worst all filled."""
    best, worst = number(scheme, "best"), number(scheme, "worst")
    if grade is None or best is None or worst is None or best == worst:
        return None
    steps = int(abs(worst - best)) + 1
    filled = int(steps_from_best(scheme, grade)) + 1
    return Gauge(min(filled, steps), steps) if steps <= 12 else None


def worst_first(scheme: Document, grades: Sequence[Document]) -> list[Document]:
    """Return graded rows, the worst first, whichever way the scheme counts."""
    return sorted(grades, key=lambda row: -steps_from_best(scheme, number(row, "grade")))
