"""A scope as a plain document in US customary or SI units."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from scoring.scope.rate_book import CUBIC_YARD_M3, SQUARE_YARD_M2
from scoring.scope.types import (
    Check,
    Kind,
    Measure,
    NotCurable,
    PayerShare,
    Plan,
    Quantity,
    Refusal,
    Scope,
    Section,
    Span,
    Watched,
)
from scoring.units import FOOT_M, INCH_MM, Units, length_in, plain

_ONE: Final = Decimal(1)
_STEP: Final = Decimal("0.001")
# kind: (SI unit, US unit, how much SI one US unit is)
_UNITS: Final[dict[Kind, tuple[str, str, Decimal]]] = {
    "length": ("m", "ft", FOOT_M),
    "size": ("mm", "in", INCH_MM),
    "area": ("m2", "sy", SQUARE_YARD_M2),
    "section": ("m2", "sf", FOOT_M**2),
    "face": ("m2", "sf", FOOT_M**2),
    "volume": ("m3", "cy", CUBIC_YARD_M3),
    "each": ("each", "each", _ONE),
    "days": ("days", "days", _ONE),
    "loads": ("loads", "loads", _ONE),
    "percent": ("%", "%", _ONE),
}
_PER_YARD: Final[dict[Kind, str]] = {"volume": " ÷ 27", "area": " ÷ 9"}


def scope_document(scope: Scope, units: Units) -> dict[str, Any]:
    """Return a scope as a JSON-like document; numbers are `Decimal`, lengths in ft or m."""
    return {
        "units": units,
        "currency": scope.currency,
        "alarms": [
            {
                "code": alarm.code,
                "detail": alarm.detail,
                "at": None if alarm.at_m is None else length_in(alarm.at_m, units),
                "ref": alarm.ref,
            }
            for alarm in scope.alarms
        ],
        "plans": [_plan(scope, plan, units) for plan in scope.plans],
        "monitor": _monitor(scope.monitor),
        "not_curable": _not_curable(scope.not_curable),
        "refused": [{"defect": defect, "refused": _refused(refused)} for defect, refused in scope.refused if refused],
        "proof": _proof(scope.proof.optimal, scope.proof.lower_bound, scope.proof.method),
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


def _proof(optimal: bool, lower_bound: Decimal, method: str) -> dict[str, Any]:
    return {"optimal": optimal, "lower_bound": lower_bound, "method": method}


def _span(span: Span) -> dict[str, Decimal]:
    return {"low": span.low, "likely": span.likely, "high": span.high}


def _plan(scope: Scope, plan: Plan, units: Units) -> dict[str, Any]:
    return {
        "name": plan.name,
        "objective": plan.objective,
        "sections": [_section(section, units) for section in plan.sections],
        "monitor": _monitor(scope.monitor),
        "not_curable": _not_curable(scope.not_curable),
        "total": _span(plan.total),
        "payers": [{"payer": share.payer, **_span(share.cost)} for share in plan.payers],
        "against_least_cost": plan.against_least_cost,
        "dug_volume": _amount(plan.dug_volume_m3, "volume", units),
        "dug_length": _amount(plan.dug_length_m, "length", units),
        "leaves": [
            {"from": length_in(one.from_m, units), "to": length_in(one.to_m, units), "reason": one.reason}
            for one in plan.leaves
        ],
        "proof": _proof(plan.proof.optimal, plan.proof.lower_bound, plan.proof.method),
    }


def _section(section: Section, units: Units) -> dict[str, Any]:
    short, usual, long = section.life_years
    return {
        "from": length_in(section.from_m, units),
        "to": length_in(section.to_m, units),
        "method": section.method,
        "cures": list(section.cures),
        "quantities": [_quantity(quantity, units) for quantity in section.quantities],
        "checks": [_check(check, units) for check in section.checks],
        "cost": _span(section.cost),
        "payer_shares": [_share(share) for share in section.payer_shares],
        "cautions": list(section.cautions),
        "reasons": list(section.reasons),
        "life_years": {"low": short, "likely": usual, "high": long},
    }


def _quantity(quantity: Quantity, units: Units) -> dict[str, Any]:
    found = {
        "item": quantity.item,
        "quantity": _amount(quantity.amount, quantity.kind, units),
        "unit": _unit(quantity.kind, units),
        "formula": _formula(quantity, units),
        "cost": quantity.amount_due,
    }
    if quantity.range is not None:
        found["range"] = {
            "low": _amount(quantity.range[0], quantity.kind, units),
            "high": _amount(quantity.range[1], quantity.kind, units),
        }
    return found


def _formula(quantity: Quantity, units: Units) -> str:
    words = quantity.formula.format(*(_measure(measure, units) for measure in quantity.measures))
    in_feet = any(measure.kind in ("length", "section") for measure in quantity.measures)
    if units == "us" and in_feet and quantity.kind in _PER_YARD:
        head, minus, tail = words.partition(" − pipe")
        return f"{head}{_PER_YARD[quantity.kind]}{minus}{tail}"
    return words


def _measure(measure: Measure, units: Units) -> str:
    return f"{_amount(measure.value, measure.kind, units)} {_unit(measure.kind, units)}"


def _unit(kind: Kind, units: Units) -> str:
    si, us, _ = _UNITS[kind]
    return us if units == "us" else si


def _amount(value: Decimal, kind: Kind, units: Units) -> Decimal:
    per_us = _UNITS[kind][2]
    return plain(value / per_us if units == "us" else value, _STEP)


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
