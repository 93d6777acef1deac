"""The plans of a report: side by side first, then each section with quantities, checks, prices and payers."""

from collections.abc import Mapping, Sequence

from inspections.reports import words
from inspections.reports.blocks import Block, Facts, Heading, Listing, Paragraph, Table
from inspections.reports.content import Document, ReportInput, as_number, clean, number, part, rows, text
from inspections.reports.findings import findings_of
from inspections.reports.tracks import chosen_plan


def plans(source: ReportInput) -> list[Block]:
    """Return the choices, side by side, then section by section."""
    blocks: list[Block] = [Heading("What can be done", 2)]
    scope = source.scope
    if scope is None:
        return [*blocks, Paragraph("No repair scope has been computed for this lateral yet.")]
    found = rows(scope, "plans")
    if not found:
        return [
            *blocks,
            Paragraph(text(scope, "impossible") or "No plan was found. The reasons stand below."),
            *_left(source),
        ]
    columns = ("", *[_name(plan) for plan in found])
    blocks.append(Table("The plans side by side", columns, tuple(_side_by_side(source, found))))
    blocks += [Paragraph(_proof(scope)), *_left(source)]
    shown: dict[str, str] = {}
    for plan in [chosen_plan(scope), *[plan for plan in found if plan is not chosen_plan(scope)]]:
        blocks += _plan(source, plan or {}, shown)
    return blocks


def _name(plan: Document) -> str:
    return words.phrase(plan.get("name") or "plan")


def _side_by_side(source: ReportInput, found: Sequence[Document]) -> list[tuple[str, ...]]:
    currency = text(source.scope, "currency")
    lines = [
        ("Cost", [words.money(plan.get("total"), currency) for plan in found]),
        ("Work", [_work(source, plan) for plan in found]),
        ("Who pays", [_payers(plan, currency) for plan in found]),
    ]
    if any(number(plan, "dug_length") is not None for plan in found):
        lines.append(("Length dug up", [_dug(source, plan) for plan in found]))
    return [(name, *cells) for name, cells in lines]


def _dug(source: ReportInput, plan: Document) -> str:
    return words.length(plan["dug_length"], source.units) if number(plan, "dug_length") is not None else "not known"


def _work(source: ReportInput, plan: Document) -> str:
    said = [
        f"{words.phrase(row.get('method') or 'method not named')}, "
        f"{words.stretch(row.get('from'), row.get('to'), source.units)}"
        for row in rows(plan, "sections")
    ]
    return "; ".join(said) or "nothing to do"


def _payers(plan: Document, currency: str) -> str:
    if plan.get("payers"):
        return _shares(plan["payers"], currency)
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


def _shares(shares: object, currency: str) -> str:
    """Return who pays what; shares come as a list of payers or as a document by payer."""
    if isinstance(shares, Mapping):
        return "; ".join(f"{words.phrase(payer)}: {words.money(cost, currency)}" for payer, cost in shares.items())
    return "; ".join(_share(row, currency) for row in rows({"shares": shares}, "shares"))


def _share(row: Document, currency: str) -> str:
    said = [f"{words.phrase(row.get('payer') or 'payer not named')}: {words.money(_cost_of(row), currency)}"]
    said += [f"{words.share(row['share'])}"] if number(row, "share") is not None else []
    said += [text(row, key) for key in ("rule", "source") if row.get(key)]
    return ", ".join(said)


def _proof(scope: Document) -> str:
    proof = part(scope, "proof")
    if not proof:
        return "Whether a cheaper sound plan exists was not proved."
    if proof.get("optimal"):
        bound = words.money(proof.get("lower_bound"), text(scope, "currency"))
        return f"Proved: at these prices no sound plan of the methods allowed costs less than {bound}."
    return "Not proved: a cheaper sound plan may exist."


def _left(source: ReportInput) -> list[Block]:
    """What no plan repairs: not curable, to be watched, assumed."""
    scope = source.scope or {}
    blocks: list[Block] = []
    for title, key in (("What no allowed method cures", "not_curable"), ("To be looked at again", "monitor")):
        said = _gathered(source, key)
        if said:
            blocks += [Heading(title, 3), Listing(tuple(said))]
    assumed = [words.plain(row) for row in scope.get("assumptions") or ()]
    return [*blocks, Heading("Assumed", 3), Listing(tuple(assumed))] if assumed else blocks


def _gathered(source: ReportInput, key: str) -> list[str]:
    scope = source.scope or {}
    found: dict[str, None] = {}
    for holder in (scope, *rows(scope, "plans")):
        for row in holder.get(key) or ():
            found[_about(source, row)] = None
    return list(found)


def _about(source: ReportInput, row: object) -> str:
    if not isinstance(row, Mapping):
        return finding_name(source, row)
    said = [finding_name(source, row.get("defect"))]
    said += [f"look again by {text(row, 'look_again_by')}"] if row.get("look_again_by") else []
    rest = {key: value for key, value in row.items() if key not in ("defect", "look_again_by")}
    return ": ".join(part for part in (", ".join(said), words.plain(rest)) if part)


def finding_name(source: ReportInput, ref: object) -> str:
    """Return a defect's number and name in this report, for its ref."""
    for found in findings_of(source.lateral):
        if found.defect.get("ref") == ref:
            return f"no. {found.sign} ({words.defect_name(found.defect)}, {words.place(found.defect, source.units)})"
    return f"finding {clean(ref)}" if ref else "finding not named"


def _plan(source: ReportInput, plan: Document, shown: dict[str, str]) -> list[Block]:
    currency = text(source.scope, "currency")
    blocks: list[Block] = [Heading(f"{_name(plan)}: {words.money(plan.get('total'), currency)}", 3)]
    sections = rows(plan, "sections")
    same = shown.setdefault(repr(sections), _name(plan))
    if same != _name(plan):
        return [*blocks, Paragraph(f"The same work as “{same}”.")]
    if not sections:
        blocks.append(Paragraph("Nothing to do in this plan."))
    for place, section in enumerate(sections, start=1):
        blocks += _section(source, place, section)
    leaves = [finding_name(source, ref) for ref in plan.get("leaves") or ()]
    return [*blocks, Paragraph(f"Leaves as it is: {'; '.join(leaves)}.")] if leaves else blocks


def _section(source: ReportInput, place: int, section: Document) -> list[Block]:
    where = words.stretch(section.get("from"), section.get("to"), source.units)
    method = words.phrase(section.get("method") or "method not named")
    cures = [finding_name(source, ref) for ref in section.get("cures") or ()]
    pairs = [
        (f"S{place}", f"{method}, {where}"),
        ("Cost", words.money(section.get("cost"), text(source.scope, "currency"))),
        ("Cures", "; ".join(cures) or "none named"),
        ("Who pays", _shares(section.get("payer_shares"), text(source.scope, "currency")) or "not known"),
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


def _check(given: object) -> tuple[str, str]:
    """Return a check's name and everything it says."""
    if not isinstance(given, Mapping):
        return "Check", words.plain(given)
    name = words.phrase(given.get("check") or given.get("name") or "")
    rest = {key: value for key, value in given.items() if key not in ("check", "name")}
    return f"Check: {name}" if name else "Check", words.plain(rest)


def _quantity(row: Document) -> tuple[str, ...]:
    amount = f"{words.rounded(row.get('quantity'))} {clean(row.get('unit') or '')}".strip()
    return words.phrase(row.get("item") or "not named"), amount, text(row, "formula") or "not given"
