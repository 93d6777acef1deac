"""What contractors bid on a plan of a repair scope."""

from django.db import models

from inspections.models.base import Record, choices, one_of
from inspections.models.results import RepairScope
from inspections.vocabulary import BID_STATES, PLAN_NAMES


class Bid(Record):
    """A contractor's bid, as it was written. Kept also when it is withdrawn."""

    repair_scope = models.ForeignKey(RepairScope, on_delete=models.PROTECT, related_name="bids")
    plan = models.CharField(max_length=20, choices=choices(PLAN_NAMES))
    bidder = models.CharField(max_length=200)
    currency = models.CharField(max_length=3)
    received_on = models.DateField()
    valid_until = models.DateField(null=True, blank=True)
    written = models.TextField(help_text="the whole bid as it was sent, JSON")
    state = models.CharField(max_length=10, choices=choices(BID_STATES), default="received")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.CharField(max_length=200, null=True, blank=True)
    withdrawn_because = models.TextField(null=True, blank=True)

    class Meta:
        constraints = [
            *Record.constraints_for("bid"),
            one_of("plan", PLAN_NAMES, name="bid_plan_known"),
            one_of("state", BID_STATES, name="bid_state_known"),
        ]
        indexes = [*Record.indexes_for("bid")]

    def __str__(self) -> str:
        return f"bid of {self.bidder} on {self.plan}"
