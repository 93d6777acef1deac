"""Who pays: shares of a section or a plan, in words."""

from collections.abc import Mapping

from inspections.reports import words
from inspections.reports.content import Document, as_number, number, part, rows, text


def payers(plan: Document, currency: str) -> str:
    """Return what each payer carries of a plan: as the plan says, else summed over its sections."""
    if plan.get("payers"):
        return shares(plan["payers"], currency, with_rules=False)
    totals: dict[str, dict[str, object]] = {}
    for section in rows(plan, "sections"):
        for row in rows(section, "payer_shares"):
            _add(totals.setdefault(text(row, "payer") or "not named", {}), _cost_of(row))
    said = [f"{words.phrase(payer)}: {words.money(cost, currency)}" for payer, cost in totals.items()]
    return "; ".join(said) or "not known"


def _cost_of(row: Document) -> Document:
    return part(row, "cost") or row


def _add(total: dict[str, object], cost: Document) -> None:
    for key in ("low", "likely", "high"):
        more, so_far = number(cost, key), as_number(total.get(key, 0))
        total[key] = None if more is None or so_far is None else so_far + more


def shares(given: object, currency: str, *, with_rules: bool = True) -> str:
    """Return who pays what; shares come as a list of payers or as a document by payer."""
    if isinstance(given, Mapping):
        return "; ".join(f"{words.phrase(payer)}: {words.money(cost, currency)}" for payer, cost in given.items())
    return "; ".join(_share(row, currency, with_rules) for row in rows({"shares": given}, "shares"))


def _share(row: Document, currency: str, with_rules: bool) -> str:
    said = f"{words.phrase(row.get('payer') or 'payer not named')}: {words.money(_cost_of(row), currency)}"
    said += f", {words.share(row['share'])}" if number(row, "share") is not None else ""
    rule = ", ".join(text(row, key).rstrip(".") for key in ("rule", "source") if row.get(key))
    return f"{said} ({rule})" if rule and with_rules else said
