"""The plans of a report section by section: quantities, checks, prices, payers, reasons."""

from collections.abc import Mapping, Sequence

from inspections.reports import words
from inspections.reports.blocks import Block, Facts, Folded, Heading, Listing, Paragraph, Table
from inspections.reports.content import Document, ReportInput, as_number, clean, part, rows, text
from inspections.reports.payers import shares
from inspections.reports.plan_blocks import finding_name, plan_name
from inspections.reports.tracks import chosen_plan, no_work, plan_cost


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
    caution, choices = text(waiting, "caution"), rows(waiting, "alternatives")
    if not caution or not choices:
        return []
    said = [_alternative(choice, text(source.scope, "currency")) for choice in choices]
    title = f"Now, in stages or late: {words.rounded(waiting.get('horizon_years'))} years in today's money"
    assumed = [words.plain(row) for row in waiting.get("assumptions") or ()]
    return [Heading(title, 3), Paragraph(caution), Listing(tuple(said)), Listing(tuple(assumed))]


def _alternative(choice: Document, currency: str) -> str:
    """Return one alternative: what it is, what it is worth today, and what the pipe is expected to be by then."""
    name = words.phrase(choice.get("name") or "not named").capitalize()
    if choice.get("present_value") is None:
        return f"{name}: no figure. {words.sentence(text(choice, 'reason'))}"
    before = part(choice, "before_acting")
    worst = words.share(before.get("share_in_worst_class"))
    risk = f"before anything is done last, {worst} of such pipes are expected in the worst class"
    money = words.money(choice["present_value"], currency)
    return f"{name}: {money}; {risk}. {words.sentence(text(choice, 'reason'))}"


def _plan(source: ReportInput, plan: Document, shown: dict[str, str]) -> list[Block]:
    currency = text(source.scope, "currency")
    blocks: list[Block] = [Heading(f"{plan_name(plan)}: {plan_cost(plan, currency)}", 3)]
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
        ("Order of work", _order(section)),
        ("Incomplete", text(section, "incomplete")),
        ("Cost", words.money(section.get("cost"), text(source.scope, "currency"))),
        ("Cures", "; ".join(cures) or _no_cure(section)),
        (
            "Cures as far as was seen",
            "; ".join(finding_name(source, ref) for ref in section.get("cures_in_part") or ()),
        ),
        ("Divided", _divided(source, section)),
        ("Who pays", shares(section.get("payer_shares"), text(source.scope, "currency")) or "not known"),
        ("Why", _plainly(section.get("reasons"))),
        ("Caution", _plainly(section.get("cautions"))),
    ]
    facts = Facts(tuple((name, said) for name, said in pairs if said))
    return [facts, *_checks(place, section), *_quantities(place, section, text(source.scope, "currency"))]


def _checks(place: int, section: Document) -> list[Block]:
    """Return the checks of a section; their names stand on the fold."""
    given = section.get("checks") or ()
    if not given:
        return []
    named = ", ".join(words.phrase(text(one, "check")) for one in rows(section, "checks"))
    return [Folded(f"Checks of S{place}: {named}", (Facts(tuple(_check(row) for row in given)),))]


def _quantities(place: int, section: Document, currency: str) -> list[Block]:
    lines = tuple(_quantity(row, currency) for row in rows(section, "quantities"))
    if not lines:
        return []
    columns = ("Item", "Quantity", "How it comes about", "Likely price")
    return [Folded(f"Quantities of S{place}: {len(lines)} lines", (Table(f"Quantities of S{place}", columns, lines),))]


def _order(section: Document) -> str:
    """Return the place of a section in the order of work, why, and what it shares with others."""
    place = as_number(section.get("order"))
    if place is None:
        return ""
    said = [text(row, "note") for row in rows(section, "shared")]
    return " ".join([f"Step {words.rounded(place)}.", *map(words.plain, section.get("order_reasons") or ()), *said])


def _no_cure(section: Document) -> str:
    return "none to its full extent" if section.get("cures_in_part") else "none; see why"


def _divided(source: ReportInput, section: Document) -> str:
    """Return what the section costs in each zone, where it lies in more than one."""
    zones = rows(section, "zones")
    if len(zones) < 2:
        return ""
    currency = text(source.scope, "currency")
    said = [f"{words.phrase(zone.get('zone') or '')}: {words.money(zone.get('cost'), currency)}" for zone in zones]
    return f"{'; '.join(said)}. {text(zones[0], 'divided')}"


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
    rest = {key: value for key, value in given.items() if key not in _SAID_APART}
    said = [words.sentence(text(given, "summary")), words.sentence(words.tidy(words.plain(rest)))]
    said += [words.sentence(words.plain(caution)) for caution in given.get("cautions") or ()]
    said += [f"({text(given, 'source')})"] if given.get("source") else []
    return f"Check: {name}" if name else "Check", " ".join(part for part in said if part)


def _quantity(row: Document, currency: str) -> tuple[str, ...]:
    unit = clean(row.get("unit") or "")
    amount = f"{words.rounded(row.get('quantity'))} {unit}".strip()
    between = part(row, "range")
    if between:
        amount += f" ({words.rounded(between.get('low'))} to {words.rounded(between.get('high'))})"
    name = words.phrase(row.get("item") or "not named")
    return name, amount, text(row, "formula") or "not given", _price(row, currency)


def _price(row: Document, currency: str) -> str:
    """Return how the price of a line comes about, or what pays for a derived quantity."""
    if row.get("is_derived"):
        return f"derived: in the price of {words.phrase(row.get('priced_in') or '')}"
    formula = text(row, "cost_formula")
    cost = words.money(row["cost"], currency) if row.get("cost") is not None else "not priced by itself"
    return f"{formula} = {cost}" if formula else cost
