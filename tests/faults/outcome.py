"""What came out of a fault: counted, judged, printed."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field

DRAINED_WITHIN_S = 60.0


@dataclass
class Outcome:
    """One fault. `wrong` holds everything but losses and doubles that broke a promise, in words."""

    fault: str
    seed: int
    rounds: int = 0
    lost: int = 0
    doubled: int = 0
    drain_s: float | None = None
    wrong: list[str] = field(default_factory=list)
    note: str = ""
    began: float = field(default_factory=time.monotonic)
    took_s: float = 0

    @property
    def holds(self) -> bool:
        """Whether every promise held."""
        in_time = self.drain_s is None or self.drain_s <= DRAINED_WITHIN_S
        return self.rounds > 0 and not (self.lost or self.doubled or self.wrong) and in_time

    def ended(self) -> Outcome:
        """Note how long it took."""
        self.took_s = time.monotonic() - self.began
        return self

    def check(self) -> None:
        """Fail a test where a promise did not hold, with all that is known."""
        print(self)
        assert self.holds, "\n".join([str(self), *self.wrong[:20]])

    def __str__(self) -> str:
        drain = "-" if self.drain_s is None else f"{self.drain_s:.1f} s"
        verdict = "holds" if self.holds else "BROKEN"
        counts = f"{self.rounds:>6} {self.lost:>5} {self.doubled:>8} {drain:>8} {self.took_s:>7.0f} s"
        return f"{self.fault:<44} {counts}  {verdict:<7} seed {self.seed}{'; ' if self.note else ''}{self.note}"


HEAD = f"{'fault':<44} {'rounds':>6} {'lost':>5} {'doubled':>8} {'drain':>8} {'took':>9}  verdict"


def table(outcomes: Sequence[Outcome]) -> str:
    """Return the outcomes as a table, what broke beneath it."""
    lines = [HEAD, *(str(one) for one in outcomes)]
    for one in outcomes:
        lines += [f"{one.fault}: {said}" for said in one.wrong[:10]]
    return "\n".join(lines)
