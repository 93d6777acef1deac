"""The plans of a report side by side: what each costs, does, digs up and leaves, and who pays."""

from collections.abc import Mapping, Sequence

from inspections.reports import words
from inspections.reports.blocks import Block, Heading, Listing, Paragraph, Table
from inspections.reports.content import Document, ReportInput, clean, number, part, rows, text
from inspections.reports.findings import findings_of
from inspections.reports.payers import payers
from inspections.reports.tracks import no_work, plan_cost

_AS_FAR_AS_SEEN = (
    "That holds for what was seen: where a run was stopped the work is incomplete, and what lies beyond has no price."
)


def plans(source: ReportInput) -> list[Block]:
    """Return the choices, side by side, then section by section."""
    blocks: list[Block] = [Heading("What can be done", 2)]
    scope = source.scope
    if scope is None:
        return [*blocks, Paragraph("No repair scope has been computed for this lateral yet.")]
    found = rows(scope, "plans")
    impossible = text(scope, "impossible")
    if impossible or not found:
        words_of_none = impossible or "No plan was found. The reasons stand below."
        return [*blocks, Paragraph(f"No plan is possible, and so there is no price. {words_of_none}"), *_left(source)]
    columns = ("", *[plan_name(plan) for plan in found])
    blocks.append(Table("The plans side by side", columns, tuple(_side_by_side(source, found))))
    return [*blocks, Paragraph(_proof(scope)), *_left(source)]


def plan_name(plan: Document) -> str:
    """Return what a plan is called."""
    return words.phrase(plan.get("name") or "plan")


def _side_by_side(source: ReportInput, found: Sequence[Document]) -> list[tuple[str, ...]]:
    currency = text(source.scope, "currency")
    lines = [
        ("Cost", [plan_cost(plan, currency) for plan in found]),
        ("Work", [_work(source, plan) for plan in found]),
        ("Who pays", [payers(plan, currency) for plan in found]),
    ]
    if any(number(plan, "dug_length") is not None for plan in found):
        lines.append(("Length dug up", [_dug(source, plan) for plan in found]))
    if any(plan.get("reason") for plan in found):
        lines.append(("Not in it", [text(plan, "reason") or "nothing is left out" for plan in found]))
    if any(rows(plan, "leaves") for plan in found):
        lines.append(("Leaves as it is", [_leaves(source, plan) for plan in found]))
    return [(name, *cells) for name, cells in lines]


def _leaves(source: ReportInput, plan: Document) -> str:
    said = [
        f"{words.stretch(row.get('from'), row.get('to'), source.units)}: {words.plain(row.get('reason')).rstrip('.')}"
        for row in rows(plan, "leaves")
    ]
    return "; ".join(said) or "nothing"


def _dug(source: ReportInput, plan: Document) -> str:
    return words.length(plan["dug_length"], source.units) if number(plan, "dug_length") is not None else "not known"


def _work(source: ReportInput, plan: Document) -> str:
    said = [
        f"{words.phrase(row.get('method') or 'method not named')}, "
        f"{words.stretch(row.get('from'), row.get('to'), source.units)}"
        for row in rows(plan, "sections")
    ]
    return "; ".join(said) or no_work(source.scope, plan)


def _proof(scope: Document) -> str:
    proof = part(scope, "proof")
    if not proof:
        return "Whether a cheaper sound plan exists was not proved."
    if proof.get("optimal"):
        bound = words.money(proof.get("lower_bound"), text(scope, "currency"))
        said = f"Proved: at these prices no sound plan of the methods allowed costs less than {bound}."
        return f"{said} {_AS_FAR_AS_SEEN}" if _is_incomplete(scope) else said
    return "Not proved: a cheaper sound plan may exist."


def _is_incomplete(scope: Document) -> bool:
    return any(row.get("is_complete") is False for plan in rows(scope, "plans") for row in rows(plan, "sections"))


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
    line = [", ".join(said) + ":" if row.get("reason") else ", ".join(said), words.sentence(text(row, "reason"))]
    line += [words.sentence(words.plain(each)) for each in row.get("cautions") or ()]
    line += [f"({text(row, 'source')})"] if row.get("source") else []
    return " ".join(part for part in line if part)


def finding_name(source: ReportInput, ref: object) -> str:
    """Return a defect's number and name in this report, for its ref."""
    for found in findings_of(source.lateral):
        if found.defect.get("ref") == ref:
            return f"no. {found.sign} ({words.defect_name(found.defect)}, {words.place(found.defect, source.units)})"
    return f"finding {clean(ref)}" if ref else "finding not named"
