"""The desk: every record to be read, and what people may do with it, by role and through the services.

Kept Django's own admin site where it can be. `roles` says who sees and does what, `desk` holds what all pages do,
the other modules show one subject each.
"""

from inspections.admin import (
    access,
    bids,
    bulk,
    closings,
    ground,
    matching,
    places,
    report_links,
    results,
    rules,
    runs,
    trail,
    webhooks,
    work,
)
from inspections.admin.site import set_up

set_up()

__all__ = [
    "access",
    "bids",
    "bulk",
    "closings",
    "ground",
    "matching",
    "places",
    "report_links",
    "results",
    "rules",
    "runs",
    "trail",
    "webhooks",
    "work",
]
