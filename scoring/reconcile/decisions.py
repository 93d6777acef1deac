"""What a person decided about a match: this and that are the same thing, or they are not."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from scoring.reconcile.sightings import Framed, Sighting


@dataclass(frozen=True, slots=True)
class MatchDecision:
    """`a` and `b` are (run id, ref). `pin`: the same thing; `reject`: two things. The later one wins."""

    action: Literal["pin", "reject"]
    a: tuple[str, str]
    b: tuple[str, str]


@dataclass(slots=True)
class Decided:
    """Decisions looked up by run index and ref."""

    by_pair: dict[tuple[tuple[int, str], tuple[int, str]], str] = field(default_factory=dict)

    def about(self, one: Sighting, other: Sighting) -> str | None:
        """`pin`, `reject` or None."""
        if not self.by_pair:
            return None
        return self.by_pair.get(((one.run, one.ref), (other.run, other.ref)))


def decided(decisions: Sequence[MatchDecision], frames: Sequence[Framed]) -> Decided:
    """Decisions on runs or refs that are not here say nothing."""
    index = {frame.run.id: frame.index for frame in frames}
    out = Decided()
    for decision in decisions:
        if decision.a[0] in index and decision.b[0] in index:
            a, b = (index[decision.a[0]], decision.a[1]), (index[decision.b[0]], decision.b[1])
            out.by_pair[(a, b)] = out.by_pair[(b, a)] = decision.action
    return out
