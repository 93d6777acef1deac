"""The rules of 29 CFR 1926 Subpart P as data: limits, slopes, cautions, each with its paragraph.

Lengths in feet. Mind the comparison that stands beside each limit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Final

LADDER_FROM_FT: Final = Decimal(4)  # depth >= 4 ft, 29 CFR 1926.651(c)(2)
LADDER_TRAVEL_FT: Final = Decimal(25)  # at most, lateral travel, 29 CFR 1926.651(c)(2)
AIR_TEST_ABOVE_FT: Final = Decimal(4)  # depth > 4 ft, 29 CFR 1926.651(g)(1)(i)
SPOIL_SETBACK_FT: Final = Decimal(2)  # at least, 29 CFR 1926.651(j)(2)
PROTECTION_FROM_FT: Final = Decimal(5)  # exempt only below 5 ft, 29 CFR 1926.652(a)(1)(ii)
ENGINEER_ABOVE_FT: Final = Decimal(20)  # 29 CFR 1926 Subpart P, App. B
SHORT_TERM_HOURS: Final = Decimal(24)  # at most, App. B Table B-1 note 2
SHORT_TERM_DEPTH_FT: Final = Decimal(12)  # at most, App. B Table B-1 note 2


@dataclass(frozen=True, slots=True)
class Slope:
    """The steepest wall a soil allows: horizontal to one vertical, and the angle the table prints."""

    ratio: Decimal
    degrees: Decimal
    governs: str
    source: str


_TABLE_B1: Final = "29 CFR 1926 Subpart P, App. B, Table B-1"
SLOPES: Final[Mapping[str, Slope]] = {
    "stable_rock": Slope(Decimal(0), Decimal(90), "stable_rock", _TABLE_B1),
    "A": Slope(Decimal("0.75"), Decimal(53), "type_a", _TABLE_B1),
    "B": Slope(Decimal(1), Decimal(45), "type_b", _TABLE_B1),
    "C": Slope(Decimal("1.5"), Decimal(34), "type_c", _TABLE_B1),
    "unclassified": Slope(Decimal("1.5"), Decimal(34), "unclassified", "29 CFR 1926.652(b)(1)(i)"),
}
SHORT_TERM_A: Final = Slope(Decimal("0.5"), Decimal(63), "type_a_short_term", f"{_TABLE_B1}, note 2")

CAUTIONS: Final = (
    "Excavation can kill. This restates 29 CFR 1926 Subpart P as an aid; a competent person on site "
    "decides; state plans differ.",
    "Call before you dig: have the utilities located and marked before opening the ground "
    "(29 CFR 1926.651(b)). No answer within 24 hours: proceed with caution, unless the law says longer.",
    "Sewage carries pathogens; sewer gas and confined spaces kill.",
    "A competent person inspects daily before work, and after rain or any change (29 CFR 1926.651(k)(1)).",
)


def ladders_for(length_ft: Decimal) -> int:
    """Return how many ladders keep lateral travel at 25 ft: one in the middle of each 50 ft.

    Source: 29 CFR 1926.651(c)(2).
    """
    return max(1, int((length_ft / (2 * LADDER_TRAVEL_FT)).to_integral_value(ROUND_CEILING)))


def flexible_pipe_trench_width_in(outside_diameter_in: Decimal) -> Decimal:
    """Return the least trench width for a flexible pipe, in inches, from its outside diameter in inches.

    Source: ASTM D2321: max(OD + 16 in, 1.25 OD + 12 in).
    """
    return max(outside_diameter_in + 16, Decimal("1.25") * outside_diameter_in + 12)
