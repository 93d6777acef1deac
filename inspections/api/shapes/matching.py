"""Decisions on matches as a caller sends them."""

from inspections import vocabulary as words
from inspections.api.fields import Id, OneOf, Shape, Text


class FindingNamed(Shape):
    """A finding by the run that saw it and the ref it has there."""

    run = Id(required=True, help_text="A submitted run of this lateral.")
    ref = Text(longest=100, required=True, help_text="The ref of a defect of that run, letter by letter.")


class DecisionRequest(Shape):
    """What a person decided about two findings of two runs."""

    action = OneOf(words.DECISION_ACTIONS, required=True)
    a = FindingNamed(required=True)
    b = FindingNamed(required=True)
    reason = Text(longest=2000, required=True, help_text="Why; kept for ever.")
