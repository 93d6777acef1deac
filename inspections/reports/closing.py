"""The last part of a report: cautions, and what every number can be traced to."""

from inspections.reports import words
from inspections.reports.blocks import Block, Facts, Heading, Listing, Paragraph, Warning
from inspections.reports.content import ReportInput, part, rows, text
from inspections.reports.grades import scheme_words
from inspections.reports.opening import GAS_STEPS

EXCAVATION = (
    "Excavation can kill. The checks restate 29 CFR 1926 Subpart P as an aid; a competent person on site "
    "decides; state plans differ."
)
CALL_FIRST = "Call before you dig, and dig only where the utilities are marked."
SEWAGE = "Sewage is a pathogen: gloves, eye protection, washing. Sewer gas and confined spaces can kill."
DECISION_AID = (
    "Grades, scopes and prices are decision aids: local code, the sewer authority and licensed plumbers and "
    "engineers decide."
)
NO_TEST = "A recording is not a pressure test: a pipe that looks sound may leak."
MISREAD = (
    "About 20 % of pipes in poor condition are taken for better than they are (Caradot et al. 2018, Structure "
    "and Infrastructure Engineering, doi 10.1080/15732479.2017.1356858)."
)


_SAME_START = 3  # words


def cautions(source: ReportInput) -> list[Block]:
    """Return the cautions that apply: those of the scope and those that always do."""
    given = [words.plain(row) for row in (source.scope or {}).get("cautions") or ()]
    always = [EXCAVATION, CALL_FIRST, SEWAGE, DECISION_AID, NO_TEST, MISREAD]
    parts = [part for caution in given for part in (caution, *caution.split(". ")[1:])]
    missing = [caution for caution in always if not any(_is_about_the_same(caution, other) for other in parts)]
    said = dict.fromkeys([*given, *missing])
    return [Heading("Cautions", 2), *_foreign_line(source), Listing(tuple(said))]


def _is_about_the_same(one: str, other: str) -> bool:
    """Whether two cautions begin with the same words, and so need not both be read."""
    first, second = ([word.rstrip(":.,;") for word in caution.split()[:_SAME_START]] for caution in (one, other))
    return first == second


def _foreign_line(source: ReportInput) -> list[Block]:
    kinds = {text(row, "kind") for row in rows(source.lateral, "defects")}
    codes = {text(row, "code") for row in rows(source.lateral, "alarms")}
    if "foreign_line" not in kinds | codes:
        return []
    title = "A line that is no part of the drain passes through it. It may be a gas main."
    return [Warning(title, GAS_STEPS)]


def sources(source: ReportInput) -> list[Block]:
    """Return what this report was made from, so that any number in it can be computed again."""
    lateral, scope = source.lateral, source.scope or {}
    grading = part(lateral, "grading")
    pairs = [
        ("Lateral", text(lateral, "id")),
        *[(f"Run {place}", text(run, "id")) for place, run in enumerate(source.runs, start=1)],
        ("Runs reconciled by", words.plain(lateral["rules"]) if lateral.get("rules") else ""),
        ("Grading scheme", scheme_words(part(grading, "scheme")) if grading else ""),
        ("Rules of this service", text(lateral, "rules_version")),
        ("Digest of the graded inputs (SHA-256)", text(lateral, "inputs_sha256")),
        ("Digest of the scope's inputs (SHA-256)", text(scope, "inputs_sha256")),
        *[(words.phrase(key).capitalize(), words.plain(scope[key])) for key in _SCOPE_SOURCES if scope.get(key)],
    ]
    quoted = sorted({text(row, "source") for row in rows(grading, "defects") if row.get("source")})
    blocks: list[Block] = [
        Heading("Sources and digests", 2),
        Paragraph("The same inputs and rules give the same report, byte for byte."),
        Facts(tuple((name, said) for name, said in pairs if said)),
    ]
    return [*blocks, Paragraph("Rules of the grades come from:"), Listing(tuple(quoted))] if quoted else blocks


_SCOPE_SOURCES = ("rate_book", "rule_set", "rules", "as_of")
