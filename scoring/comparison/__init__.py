"""Then and now: what two inspections of one lateral say, compared only where both saw the pipe."""

from scoring.comparison.comparing import RULES, compare
from scoring.comparison.document import comparison_document
from scoring.comparison.result import Change, Compared, Comparison

__all__ = ["RULES", "Change", "Compared", "Comparison", "compare", "comparison_document"]
