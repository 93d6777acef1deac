"""Bids on a plan of a repair scope: their arithmetic done again, held against the plan line by line, ranked."""

from scoring.bids.arithmetic import corrected
from scoring.bids.asking import read_plan, section_of
from scoring.bids.comparing import compare
from scoring.bids.document import comparison_document, corrected_document, shared_document
from scoring.bids.programme import Place, place_of, shared
from scoring.bids.types import AskedPlan, Bid, BidLine, Comparison, Shared
from scoring.bids.units import LUMP_SUM, UNITS

__all__ = [
    "LUMP_SUM",
    "UNITS",
    "AskedPlan",
    "Bid",
    "BidLine",
    "Comparison",
    "Place",
    "Shared",
    "compare",
    "comparison_document",
    "corrected",
    "corrected_document",
    "place_of",
    "read_plan",
    "section_of",
    "shared",
    "shared_document",
]
