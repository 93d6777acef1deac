"""What people decided about findings of two runs: that they are one thing, or two."""

from django.db import models
from django.db.models import F, Q

from inspections.models.base import Record, choices, one_of
from inspections.models.places import Lateral
from inspections.models.runs import Run
from inspections.vocabulary import DECISION_ACTIONS, DECISION_STATES


class MatchDecision(Record):
    """Two findings of two runs of a lateral are the same (pin) or are not (reject). Kept also when withdrawn."""

    lateral = models.ForeignKey(Lateral, on_delete=models.PROTECT, related_name="match_decisions")
    action = models.CharField(max_length=10, choices=choices(DECISION_ACTIONS))
    run_a = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="+")
    ref_a = models.CharField(max_length=100)
    run_b = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="+")
    ref_b = models.CharField(max_length=100)
    reason = models.TextField()
    by = models.CharField(max_length=200)
    state = models.CharField(max_length=10, choices=choices(DECISION_STATES), default="standing")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.CharField(max_length=200, null=True, blank=True)
    withdrawn_because = models.TextField(null=True, blank=True)

    class Meta:
        constraints = [
            *Record.constraints_for("match_decision"),
            one_of("action", DECISION_ACTIONS, name="match_decision_action_known"),
            one_of("state", DECISION_STATES, name="match_decision_state_known"),
            models.CheckConstraint(condition=~Q(run_a=F("run_b")), name="match_decision_on_two_runs"),
        ]
        indexes = [*Record.indexes_for("match_decision")]

    def __str__(self) -> str:
        return f"{self.action} {self.ref_a} and {self.ref_b}"
