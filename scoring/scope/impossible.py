"""Scopes and plans where nothing may or can be done: they have no price and prove nothing."""

from collections.abc import Sequence
from decimal import Decimal

from scoring.scope.alarms import alarms_of
from scoring.scope.cautions import scope_cautions
from scoring.scope.rate_book import RateBook
from scoring.scope.rule_set import RuleSet
from scoring.scope.sections import Objective
from scoring.scope.stops import Stop
from scoring.scope.types import Plan, Proof, Scope
from scoring.scope.waiting import no_waiting
from scoring.scope.whole_line import beyond
from scoring.types import Lateral

NO_EXTENT = "No run is tied to the datum, so the lateral has no extent: tie a run to it and ask again."


def no_proof(reason: str) -> Proof:
    """Return what is proved without a plan: nothing."""
    return Proof(False, None, f"Nothing is proved: there is no plan. {reason}")


def no_plans(objectives: Sequence[Objective], reason: str, stops: Sequence[Stop]) -> tuple[Plan, ...]:
    """Return a plan for each objective that says why it is not possible."""
    return tuple(
        Plan(
            name=objective.name,
            objective=objective.words,
            sections=(),
            total=None,
            payers=(),
            dug_volume_m3=Decimal(0),
            dug_length_m=Decimal(0),
            against_least_cost=None,
            leaves=tuple(beyond(stops)) if objective.name == "whole_line" else (),
            proof=no_proof(reason),
            is_possible=False,
            reason=reason,
        )
        for objective in objectives
    )


def without_extent(
    lateral: Lateral, book: RateBook, rules: RuleSet, made_by: tuple[str, str], as_of: str | None
) -> Scope:
    """Return the scope of a lateral nobody can place a section on."""
    return Scope(
        plans=(),
        monitor=(),
        not_curable=(),
        refused=(),
        alarms=alarms_of(lateral),
        cautions=scope_cautions(lateral, ()),
        assumptions=(),
        proof=no_proof(NO_EXTENT),
        waiting=no_waiting(NO_EXTENT),
        currency=book.currency,
        rate_book=(book.id, book.version),
        rule_set=(rules.id, rules.version),
        rules=made_by,
        as_of=as_of,
        impossible=NO_EXTENT,
    )
