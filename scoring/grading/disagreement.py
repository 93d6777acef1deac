"""Several schemes on the same pipe side by side: where they disagree, each measured in its own direction."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal, Protocol

from scoring.grading.grading import SchemeUsed
from scoring.types import Aspect, GradedFinding

_DIGITS: Final = Decimal("0.0001")
_SUMMARIES: Final = ("structural", "service", "overall")


class Graded(Protocol):
    """The grade of one aspect; None where nothing was seen."""

    @property
    def grade(self) -> int | None: ...


class Judgement(Protocol):
    """The part of a `Grading` that is compared: also one that was kept as a document has it."""

    @property
    def scheme(self) -> SchemeUsed: ...
    @property
    def findings(self) -> tuple[GradedFinding, ...]: ...
    @property
    def structural(self) -> Graded: ...
    @property
    def service(self) -> Graded: ...
    @property
    def overall(self) -> Graded: ...


@dataclass(frozen=True, slots=True)
class Opinion:
    """What one scheme says. `severity` 0 is its best grade, 1 its worst; None: it gives no grade here."""

    scheme: str
    version: int
    grade: int | None
    severity: Decimal | None


@dataclass(frozen=True, slots=True)
class Disagreement:
    """The opinions on one finding in one aspect, or on a whole aspect (`ref` None).

    `spread` is the largest severity less the smallest. `is_disagreement` is set where the spread is more
    than half a step of the coarsest scheme (house rule: less comes from the different numbers of grades),
    or where one scheme gives a grade and another none.
    """

    ref: str | None
    aspect: Aspect | Literal["overall"]
    opinions: tuple[Opinion, ...]
    spread: Decimal
    is_disagreement: bool


def disagreements(gradings: Sequence[Judgement]) -> tuple[Disagreement, ...]:
    """Return the aspects first, then every finding, the widest spread first.

    Opinions stand in the order of the gradings given. The gradings must be of the same pipe.
    """
    summaries = [
        _compare(None, aspect, gradings, [getattr(one, aspect).grade for one in gradings]) for aspect in _SUMMARIES
    ]
    by_place = [{(f.ref, f.aspect): f.grade for f in one.findings} for one in gradings]
    places = dict.fromkeys(place for grades in by_place for place in grades)
    findings = [
        _compare(ref, aspect, gradings, [grades.get((ref, aspect)) for grades in by_place]) for ref, aspect in places
    ]
    findings.sort(key=lambda one: (not one.is_disagreement, -one.spread, one.ref or "", one.aspect))
    return (*summaries, *findings)


def _compare(
    ref: str | None,
    aspect: Aspect | Literal["overall"],
    gradings: Sequence[Judgement],
    grades: Sequence[int | None],
) -> Disagreement:
    exact = [_severity(grading, grade) for grading, grade in zip(gradings, grades, strict=True)]
    known = [severity for severity in exact if severity is not None]
    spread = max(known) - min(known) if known else Fraction(0)
    steps = min((abs(one.scheme.worst - one.scheme.best) for one in gradings), default=1)
    opinions = tuple(
        Opinion(one.scheme.id, one.scheme.version, grade, None if severity is None else _decimal(severity))
        for one, grade, severity in zip(gradings, grades, exact, strict=True)
    )
    is_disagreement = spread > Fraction(1, 2 * steps) or 0 < len(known) < len(exact)
    return Disagreement(ref, aspect, opinions, _decimal(spread), is_disagreement)


def _severity(grading: Judgement, grade: int | None) -> Fraction | None:
    if grade is None or grade == grading.scheme.nothing_found:
        return None
    return Fraction(abs(grade - grading.scheme.best), abs(grading.scheme.worst - grading.scheme.best))


def _decimal(number: Fraction) -> Decimal:
    return (Decimal(number.numerator) / Decimal(number.denominator)).quantize(_DIGITS)
