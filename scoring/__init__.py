"""Pure computation on camera inspections: no clock, no files, no database, no randomness.

Front doors: `scoring.grading`, `scoring.reconcile`, `scoring.comparison`, `scoring.scope`, `scoring.checks`,
`scoring.bids`, `scoring.acceptance`.
"""

from typing import Final

# Goes up whenever the same input could give another result. Results are kept beside the version that made
# them, so that old ones stay readable and every one can be computed again to the same bytes.
RULES_VERSION: Final = "2"

__all__ = ["RULES_VERSION"]
