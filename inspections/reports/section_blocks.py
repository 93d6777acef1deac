"""The plans of a report section by section: quantities, checks, prices, payers, reasons."""

from collections.abc import Mapping, Sequence

from inspections.reports import words
from inspections.reports.blocks import Block, Facts, Heading, Listing, Paragraph, Table
from inspections.reports.content import Document, ReportInput, as_number, clean, part, rows, text
from inspections.reports.payers import shares
from inspections.reports.plan_blocks import finding_name, plan_name
from inspections.reports.tracks import chosen_plan, no_work


def plans_in_detail(source: ReportInput) -> list[Block]:
    """Return every plan section by section, the one drawn first."""
    found = rows(source.scope, "plans")
    chosen = chosen_plan(source)
    if chosen is None:
        return []
    blocks: list[Block] = [Heading("The plans section by section", 2)]
    shown: dict[str, str] = {}
    for plan in [chosen, *[plan for plan in found if plan is not chosen]]:
        blocks += _plan(source, plan, shown)
    return [*blocks, *_waiting(source)]


def _waiting(source: ReportInput) -> list[Block]:
    """Return what waiting would cost, only with the model's own caution."""
    waiting = part(source.scope, "waiting")
    caution, costs = text(waiting, "caution"), rows(waiting, "present_value")
    if not caution or not costs:
        return []
    currency = text(source.scope, "currency")
    said = [
        f"act in {words.rounded(row.get('act_in_years'))} years: {words.money(row.get('cost'), currency)}"
        for row in costs
        if as_number(row.get("act_in_years")) is not None
    ]
    said += [words.plain(row) for row in waiting.get("assumptions") or ()]
    return [Heading("What waiting would cost, in today's money", 3), Paragraph(caution), Listing(tuple(said))]


def _plan(source: ReportInput, plan: Document, shown: dict[str, str]) -> list[Block]:
    currency = text(source.scope, "currency")
    blocks: list[Block] = [Heading(f"{plan_name(plan)}: {words.money(plan.get('total'), currency)}", 3)]
    sections = rows(plan, "sections")
    same = shown.setdefault(repr(sections), plan_name(plan))
    if same != plan_name(plan):
        return [*blocks, Paragraph(f"The same work as “{same}”.")]
    if not sections:
        blocks.append(Paragraph(no_work(source.scope, plan)))
    for place, section in enumerate(sections, start=1):
        blocks += _section(source, place, section)
    return blocks


def _section(source: ReportInput, place: int, section: Document) -> list[Block]:
    where = words.stretch(section.get("from"), section.get("to"), source.units)
    method = words.phrase(section.get("method") or "method not named")
    cures = [finding_name(source, ref) for ref in section.get("cures") or ()]
    pairs = [
        (f"S{place}", f"{method}, {where}"),
        ("Cost", words.money(section.get("cost"), text(source.scope, "currency"))),
        ("Cures", "; ".join(cures) or "none named"),
        ("Who pays", shares(section.get("payer_shares"), text(source.scope, "currency")) or "not known"),
        ("Why", _plainly(section.get("reasons"))),
        ("Caution", _plainly(section.get("cautions"))),
        *[_check(row) for row in section.get("checks") or ()],
    ]
    blocks: list[Block] = [Facts(tuple((name, said) for name, said in pairs if said))]
    quantities = tuple(_quantity(row) for row in rows(section, "quantities"))
    columns = ("Item", "Quantity", "How it comes about")
    return [*blocks, Table(f"Quantities of S{place}", columns, quantities)] if quantities else blocks


def _plainly(given: object) -> str:
    if not isinstance(given, Sequence) or isinstance(given, str):
        return words.plain(given) if given else ""
    return " ".join(words.plain(row) for row in given)


_SAID_APART = ("check", "name", "summary", "source", "cautions")


def _check(given: object) -> tuple[str, str]:
    """Return a check's name and everything it says, its result in words first."""
    if not isinstance(given, Mapping):
        return "Check", words.plain(given)
    name = words.phrase(given.get("check") or given.get("name") or "")
    rest = {
        key: value for key, value in given.items() if key not in ("check", "name", "summary", "source", "cautions")
    }
    said = [words.sentence(text(given, "summary")), words.sentence(words.tidy(words.plain(rest)))]
    said += [words.sentence(words.plain(caution)) for caution in given.get("cautions") or ()]
    said += [f"({text(given, 'source')})"] if given.get("source") else []
    return f"Check: {name}" if name else "Check", " ".join(part for part in said if part)


def _quantity(row: Document) -> tuple[str, ...]:
    amount = f"{words.rounded(row.get('quantity'))} {clean(row.get('unit') or '')}".strip()
    return words.phrase(row.get("item") or "not named"), amount, text(row, "formula") or "not given"
