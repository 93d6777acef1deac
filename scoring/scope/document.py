"""A scope as a plain document in US customary or SI units."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from scoring.scope.quantity_document import amount_in, quantity_document
from scoring.scope.types import (
    Check,
    NotCurable,
    PayerShare,
    Plan,
    Proof,
    Refusal,
    Scope,
    Section,
    Span,
    Watched,
    ZoneShare,
)
from scoring.units import Units, length_in


def scope_document(scope: Scope, units: Units) -> dict[str, Any]:
    """Return a scope as a JSON-like document; numbers are `Decimal`, lengths in ft or m."""
    return {
        "units": units,
        "currency": scope.currency,
        "alarms": [
            {
                "code": alarm.code,
                "detail": alarm.detail,
                "at": _length(alarm.at_m, units),
                "ref": alarm.ref,
            }
            for alarm in scope.alarms
        ],
        "plans": [_plan(scope, plan, units) for plan in scope.plans],
        "monitor": _monitor(scope.monitor),
        "not_curable": _not_curable(scope.not_curable),
        "refused": [{"defect": defect, "refused": _refused(refused)} for defect, refused in scope.refused if refused],
        "proof": _proof(scope.proof),
        "waiting": scope.waiting,
        "cautions": list(scope.cautions),
        "assumptions": list(scope.assumptions),
        "impossible": scope.impossible,
        "as_of": scope.as_of,
        "rate_book": _version(scope.rate_book),
        "rule_set": _version(scope.rule_set),
        "rules": _version(scope.rules),
    }


def _version(pair: tuple[str, str]) -> dict[str, str]:
    return {"id": pair[0], "version": pair[1]}


def _length(length_m: Decimal | None, units: Units) -> Decimal | None:
    return None if length_m is None else length_in(length_m, units)


def _proof(proof: Proof) -> dict[str, Any]:
    return {"optimal": proof.optimal, "lower_bound": proof.lower_bound, "method": proof.method}


def _span(span: Span) -> dict[str, Decimal]:
    return {"low": span.low, "likely": span.likely, "high": span.high}


def _plan(scope: Scope, plan: Plan, units: Units) -> dict[str, Any]:
    return {
        "name": plan.name,
        "objective": plan.objective,
        "is_possible": plan.is_possible,
        "reason": plan.reason,
        "sections": [_section(section, scope.currency, units) for section in plan.sections],
        "monitor": _monitor(scope.monitor),
        "not_curable": _not_curable(scope.not_curable),
        "total": None if plan.total is None else _span(plan.total),
        "payers": [{"payer": share.payer, **_span(share.cost)} for share in plan.payers],
        "against_least_cost": plan.against_least_cost,
        "dug_volume": amount_in(plan.dug_volume_m3, "volume", units),
        "dug_length": amount_in(plan.dug_length_m, "length", units),
        "leaves": [
            {"from": _length(one.from_m, units), "to": _length(one.to_m, units), "reason": one.reason}
            for one in plan.leaves
        ],
        "proof": _proof(plan.proof),
    }


def _section(section: Section, currency: str, units: Units) -> dict[str, Any]:
    short, usual, long = section.life_years
    low, high = ({"from": length_in(first, units), "to": length_in(last, units)} for first, last in section.extents_m)
    return {
        "order": section.order,
        "from": length_in(section.from_m, units),
        "to": length_in(section.to_m, units),
        "range": {"low": low, "high": high},
        "method": section.method,
        "cures": list(section.cures),
        "cures_in_part": list(section.cures_in_part),
        "is_complete": section.incomplete is None,
        "incomplete": section.incomplete,
        "order_reasons": list(section.order_reasons),
        "shared": [
            {
                "order": one.order,
                "from": length_in(one.from_m, units),
                "to": length_in(one.to_m, units),
                "note": one.note,
            }
            for one in section.shares
        ],
        "quantities": [quantity_document(quantity, currency, units) for quantity in section.quantities],
        "checks": [_check(check, units) for check in section.checks],
        "cost": _span(section.cost),
        "zones": [_zone(zone, units) for zone in section.zones],
        "payer_shares": [_share(share) for share in section.payer_shares],
        "cautions": list(section.cautions),
        "reasons": list(section.reasons),
        "life_years": {"low": short, "likely": usual, "high": long},
    }


def _zone(zone: ZoneShare, units: Units) -> dict[str, Any]:
    return {
        "zone": zone.zone,
        "from": length_in(zone.from_m, units),
        "to": length_in(zone.to_m, units),
        "cost": _span(zone.cost),
        "divided": zone.how,
    }


def _check(check: Check, units: Units) -> dict[str, Any]:
    return {
        "check": check.check,
        "governs": check.governs,
        "summary": check.summary,
        "results": dict(dict(check.results).get(units, {})),
        "source": check.source,
        "cautions": list(check.cautions),
    }


def _share(share: PayerShare) -> dict[str, Any]:
    return {"payer": share.payer, **_span(share.cost), "rule": share.rule, "source": share.source}


def _monitor(items: Sequence[Watched]) -> list[dict[str, Any]]:
    return [
        {
            "defect": item.defect,
            "look_again_by": item.look_again_by,
            "look_again_in_years": item.look_again_in_years,
            "reason": item.reason,
            "source": item.source,
        }
        for item in items
    ]


def _not_curable(items: Sequence[NotCurable]) -> list[dict[str, Any]]:
    return [
        {
            "defect": item.defect,
            "reason": item.reason,
            "refused": _refused(item.refused),
            "cautions": list(item.cautions),
        }
        for item in items
    ]


def _refused(refused: Sequence[Refusal]) -> list[dict[str, str]]:
    return [{"method": one.method, "limit": one.limit, "detail": one.detail, "source": one.source} for one in refused]
