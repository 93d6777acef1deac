"""The comparison as a plain document: SI, decimals, words."""

from typing import Any

from scoring.comparison.result import Change, Compared, Comparison
from scoring.reconcile.document import defect_document, tidy


def comparison_document(comparison: Comparison) -> dict[str, Any]:
    """Lengths along the pipe in metres, sizes across it in millimetres."""
    document = {
        "tied": comparison.is_tied,
        "reason": comparison.reason,
        "compared_length": comparison.compared_m,
        "new": [_compared(c) for c in comparison.new],
        "grown": [_compared(c) for c in comparison.grown],
        "unchanged": [_compared(c) for c in comparison.unchanged],
        "repaired": [_compared(c) for c in comparison.repaired],
        "not_seen": [_compared(c) for c in comparison.not_seen],
        "rules": comparison.rules,
    }
    return {key: tidy(value) for key, value in document.items()}


def _compared(compared: Compared) -> dict[str, Any]:
    return {
        "earlier": None if compared.earlier is None else defect_document(compared.earlier),
        "later": None if compared.later is None else defect_document(compared.later),
        "changes": [_change(c) for c in compared.changes],
        "reason": compared.reason,
        "certain": compared.is_certain,
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "measure": change.measure,
        "earlier": change.earlier,
        "later": change.later,
        "doubt": change.doubt,
        "worse": change.is_worse,
        "rule": change.rule,
    }
