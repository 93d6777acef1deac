"""Closed lists of the API itself, and the name that each closed list has in the OpenAPI document.

Plain data: settings read it before anything else is there.
"""

from collections.abc import Mapping
from typing import Final

from inspections import vocabulary as words
from inspections.vocabulary import Values

BATCH_METHODS: Final[Values] = {
    "POST": "make, or act",
    "PUT": "make or replace under your own id",
    "PATCH": "change by merge patch",
    "DELETE": "take away",
}
BATCH_MODES: Final[Values] = {
    "independent": "each entry stands for itself; what is refused does not hold up the others",
    "atomic": "all entries or none",
}
ENTRY_MEDIA: Final[Values] = {
    "application/json": "JSON",
    "application/merge-patch+json": "a merge patch (RFC 7396)",
}
FINDING_KINDS: Final[Values] = {**words.DEFECT_KINDS, **words.FEATURE_KINDS}
DEGREES: Final[Values] = {name: text for group in words.DEGREES.values() for name, text in group.items()}
MARKS: Final[Values] = {"start": "a stretch begins here", "finish": "it ends here"}

NAMED: Final[Mapping[str, Values]] = {
    "Purpose": words.PURPOSES,
    "CustomerKind": words.CUSTOMER_KINDS,
    "JobState": words.JOB_STATES,
    "AccessKind": words.ACCESS_KINDS,
    "Direction": words.DIRECTIONS,
    "Recorded": words.RECORDED,
    "Reached": words.REACHED,
    "StoppedBy": words.STOPPED_BY,
    "Flow": words.FLOWS,
    "Material": words.MATERIALS,
    "FeatureKind": words.FEATURE_KINDS,
    "DefectKind": words.DEFECT_KINDS,
    "FindingKind": FINDING_KINDS,
    "Pattern": words.PATTERNS,
    "Degree": DEGREES,
    "Opening": words.OPENINGS,
    "Mark": MARKS,
    "UnseenReason": words.UNSEEN_REASONS,
    "Soil": words.SOILS,
    "SurfaceKind": words.SURFACES,
    "BoundaryKind": words.BOUNDARY_KINDS,
    "DepthTo": words.DEPTH_TO,
    "Units": words.UNITS,
    "RunState": words.RUN_STATES,
    "CalculationState": words.CALCULATION_STATES,
    "DecisionAction": words.DECISION_ACTIONS,
    "ImportKind": words.IMPORT_KINDS,
    "DecisionState": words.DECISION_STATES,
    "DeliveryState": words.DELIVERY_STATES,
    "DeliveryFormat": words.DELIVERY_FORMATS,
    "PlanName": words.PLAN_NAMES,
    "CalculationKind": words.CALCULATION_KINDS,
    "ClosingOutcome": words.CLOSING_OUTCOMES,
    "BidState": words.BID_STATES,
    "LinkState": words.LINK_STATES,
    "BidUnit": words.BID_UNITS,
    "TokenScope": words.SCOPES,
    "Role": words.ROLES,
    "BatchMode": BATCH_MODES,
    "BatchMethod": BATCH_METHODS,
    "EntryMedia": ENTRY_MEDIA,
}
