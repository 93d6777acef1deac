"""How long a scope takes: `python -m tests.bench.scope_speed`, processor seconds for all three plans."""

import random
import time
from decimal import Decimal

from scoring.scope import DEFAULT_RATE_BOOK, DEFAULT_RULE_SET, load_rate_book, load_rule_set, plan
from scoring.types import Depth, Policy, Site, Surface
from tests.scoring.scope.laterals import found, graded, line

KINDS = ("roots", "crack", "fracture", "sag", "wall_deposits", "hole", "displaced_joint", "infiltration")
SIZES = ((10, 20), (40, 30), (200, 40), (5000, 30), (5000, 100))


def measure(number: int, length: int) -> tuple[float, list[bool]]:
    """Return the processor seconds for a line of so many defects, and which of the plans are proven."""
    chance = random.Random(1)
    defects = [
        found(f"d{n}", chance.choice(KINDS), str(Decimal(chance.randrange(length * 1000)) / 1000), sd="0.1")
        for n in range(number)
    ]
    findings = graded(*((each.defect.ref, 4) for each in defects))
    depths = (Depth(Decimal(0), Decimal("1.2"), "invert"), Depth(Decimal(length), Decimal("2.6"), "invert"))
    surfaces = (Surface(Decimal(length) / 2, Decimal(length), "asphalt_street"),)
    book, rules = load_rate_book(DEFAULT_RATE_BOOK), load_rule_set(DEFAULT_RULE_SET)
    began = time.process_time()
    scope = plan(line(defects, str(length)), findings, Site((), depths, surfaces), Policy(3), book, rules)
    return time.process_time() - began, [each.proof.optimal for each in scope.plans]


if __name__ == "__main__":
    for number, length in SIZES:
        seconds, proven = measure(number, length)
        print(f"{number} defects on {length} m: {seconds:.3f} s, proven {proven}")
