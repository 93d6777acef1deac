"""What the alignment assumes about cameras, cables and the people who read them.

No published figures exist for push cameras on house drains; every number here is a house rule
(engineering judgement) and says so. Lengths in metres, shares as fractions.
"""

from dataclasses import dataclass
from typing import Final

RULES: Final = "one-line/3"  # id and version of the reconciliation rules; printed in every result


SLIPS: Final = 2.0  # slips of a counter in a run


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far readings stray: one standard deviation each. House rule."""

    reading_m: float  # one reading of one position
    slip_m: float  # one jump of the counter; two of them in a run
    scale: float  # stretch of the counter, as a fraction
    missed: float  # share of what is there that is not written down
    weight: float  # how often a lateral is of this kind, before anything is seen

    def slip_variance_per_m(self, length_m: float) -> float:
        """Two slips at unknown places vary like a random walk over the length of the run."""
        return SLIPS * self.slip_m**2 / max(length_m, 3.0)


# Three kinds of crew: careful, ordinary, hurried. Which one fits is judged from the readings themselves. Slips are
# sudden and taken for a slow walk; where they are large that hides part of the doubt, so the hurried walk more.
DOUBTS: Final = (
    Doubt(reading_m=0.015, slip_m=0.015, scale=0.0105, missed=0.13, weight=0.25),
    Doubt(reading_m=0.046, slip_m=0.076, scale=0.0112, missed=0.15, weight=0.35),
    Doubt(reading_m=0.091, slip_m=0.175, scale=0.018, missed=0.25, weight=0.40),
)
FIRST_DOUBT: Final = Doubt(reading_m=0.06, slip_m=0.1, scale=0.0135, missed=0.2, weight=1.0)

SEEN_SHARE: Final = 0.80  # share of what is there that a crew passing it writes down
NEARBY_REPEAT_M: Final = 0.15  # the same words again within this are one finding said twice
LANDMARK_AT_END_M: Final = 0.3  # a feature this near the far end is what the run says it reached
SAME_READING_M: Final = 0.015  # a correction smaller than anybody reads off a counter is not made
CLEARLY_INSIDE_M: Final = 0.5  # a run saw a place when it passed it by at least this much
STRAY_SCALE: Final = 0.07  # two counters stretched by 3 % each, in opposite ways, and a little
STRAY_M: Final = 1.0
SEARCH_SPAN_M: Final = 30.0  # how far apart two runs without a shared landmark may lie
BOUNDARY_SPREAD_M: Final = 1.0  # changes of material this near each other are one change

AT_BUILDING_M: Final = 0.7  # how far an access point in a building is from where "the building" is read

STRONG_TIE: Final = 8.0  # log of the odds from here on a shared landmark is taken as it is
PINNED_ODDS: Final = STRONG_TIE  # a match a person confirmed: taken as it is, but weaker than a named landmark
UNTIED_BELOW: Final = 3.0  # log of the odds of overlapping, below which nothing ties the run
SURE_FROM: Final = 0.90  # share of the likelihood that the chosen alignment must have
PAIR_SURE_FROM: Final = 0.80  # share of the likelihood that a single match must have
