"""The tables, by subject. Constraints live here and in the database."""

from inspections.models.access import ApiToken, Organisation, User
from inspections.models.bids import Bid
from inspections.models.closings import Closing
from inspections.models.imports import Import, ImportedObservation
from inspections.models.links import ReportLink
from inspections.models.matching import MatchDecision
from inspections.models.places import (
    AccessPoint,
    Customer,
    Lateral,
    Property,
    Site,
    SiteBoundary,
    SiteDepth,
    SiteSurface,
)
from inspections.models.recomputations import LateralDifference, Recomputation
from inspections.models.results import Calculation, LateralGrading, ReconciledLateral, RepairScope, RunGrading
from inspections.models.rules import CodeMap, GradingScheme, RateBook, RuleSet
from inspections.models.runs import Amendment, Clip, Defect, Feature, Run, Segment, UnseenStretch
from inspections.models.trail import AuditEntry, AuditHead, Event, KeptAnswer, PersonalValue
from inspections.models.webhooks import Delivery, Subscription
from inspections.models.work import Job

__all__ = [
    "AccessPoint",
    "Amendment",
    "ApiToken",
    "AuditEntry",
    "AuditHead",
    "Bid",
    "Calculation",
    "Clip",
    "Closing",
    "CodeMap",
    "Customer",
    "Defect",
    "Delivery",
    "Event",
    "Feature",
    "GradingScheme",
    "Import",
    "ImportedObservation",
    "Job",
    "KeptAnswer",
    "Lateral",
    "LateralDifference",
    "LateralGrading",
    "MatchDecision",
    "Organisation",
    "PersonalValue",
    "Property",
    "RateBook",
    "Recomputation",
    "ReconciledLateral",
    "RepairScope",
    "ReportLink",
    "RuleSet",
    "Run",
    "RunGrading",
    "Segment",
    "Site",
    "SiteBoundary",
    "SiteDepth",
    "SiteSurface",
    "Subscription",
    "UnseenStretch",
    "User",
]
