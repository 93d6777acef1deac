"""Several runs, one lateral: every run laid onto the others, one list in stations from one datum.

>>> from decimal import Decimal
>>> from scoring.types import Access, Defect, Run
>>> run = Run("r1", "downstream", Access("clean_out", "CO1"), Decimal(1), Decimal(21), "main",
...           defects=(Defect("a", "roots", Decimal("12.43")),))
>>> reconcile([run]).defects[0].station_m
Decimal('11.43')
"""

from collections.abc import Sequence

from scoring.reconcile.assembling import assemble
from scoring.reconcile.assumptions import RULES
from scoring.reconcile.composing import composed
from scoring.reconcile.decisions import MatchDecision, decided
from scoring.reconcile.document import lateral_document
from scoring.reconcile.sightings import framed, in_order_of_time
from scoring.types import Lateral, Run

__all__ = ["RULES", "MatchDecision", "lateral_document", "reconcile"]


def reconcile(runs: Sequence[Run], decisions: Sequence[MatchDecision] = ()) -> Lateral:
    """Lay all runs of one lateral onto each other.

    Positions in metres, in any order of runs; the result does not depend on that order. Without any run
    the lateral is empty and has no datum.
    """
    frames = [framed(index, run) for index, run in enumerate(in_order_of_time(runs))]
    if not frames:
        return Lateral(None, None, None, None, False, False, rules=RULES)
    return composed(assemble(frames, decided(decisions, frames)), frames)
