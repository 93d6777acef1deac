"""Several kept gradings of one pipe held against each other, each scheme in its own direction."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from scoring.grading import Disagreement, disagreements
from scoring.grading.grading import SchemeUsed
from scoring.types import GradedFinding

Document = dict[str, Any]


@dataclass(frozen=True, slots=True)
class _Summed:
    grade: int | None


@dataclass(frozen=True, slots=True)
class _Kept:
    """What a kept grading document says, as far as schemes are compared."""

    scheme: SchemeUsed
    findings: tuple[GradedFinding, ...]
    structural: _Summed
    service: _Summed
    overall: _Summed


def opinions(gradings: Sequence[Document]) -> list[Document]:
    """Return where the schemes of these gradings stand on each aspect and finding, the widest spread first."""
    return [_document(one) for one in disagreements([_kept(grading) for grading in gradings])]


def _kept(document: Document) -> _Kept:
    findings = tuple(
        GradedFinding(one["ref"], one["aspect"], one["grade"], one["rule"], one["source"])
        for one in document["defects"]
    )
    sums = (_Summed(document[name]["grade"]) for name in ("structural", "service", "overall"))
    return _Kept(SchemeUsed(**document["scheme"]), findings, *sums)


def _document(one: Disagreement) -> Document:
    return {
        "ref": one.ref,
        "aspect": one.aspect,
        "spread": one.spread,
        "is_disagreement": one.is_disagreement,
        "opinions": [
            {"scheme": said.scheme, "version": said.version, "grade": said.grade, "severity": said.severity}
            for said in one.opinions
        ],
    }
