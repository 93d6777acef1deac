"""A repair accepted or not: what runs and pressure tests after the work say of each section of a plan."""

from scoring.acceptance.closing import Closer
from scoring.acceptance.document import closing_document
from scoring.acceptance.planning import planned_of
from scoring.acceptance.readings import outcome
from scoring.acceptance.types import Built, Closing, Later, Outcome, Planned, PressureTest, PressureTestKind

__all__ = [
    "Built",
    "Closer",
    "Closing",
    "Later",
    "Outcome",
    "Planned",
    "PressureTest",
    "PressureTestKind",
    "closing_document",
    "outcome",
    "planned_of",
]
