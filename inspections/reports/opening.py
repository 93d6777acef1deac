"""The first part of a report: alarms, the verdict, the drawing, what was not seen."""

from inspections.reports import words
from inspections.reports.blocks import Block, DrawingPlace, Heading, Links, Listing, Paragraph, Warning
from inspections.reports.content import Document, ReportInput, as_number, clean, part, rows, text
from inspections.reports.narrative import alarm_title, verdict
from inspections.reports.pipeline import unseen_notes

GAS_STEPS = (
    "Treat it as a gas main until the utility has said what it is.",
    "Do not cut, jet, line or dig here. Keep people and flames away.",
    "From a safe distance call the gas emergency number and the utility that owns the line.",
)
# Where the alarm does not say it in its own words.
COLLAPSE_STEPS = ("Keep loads and people off the ground above it until a competent person has looked at it.",)


def opening(source: ReportInput) -> list[Block]:
    """Return title, alarms, verdict and drawing."""
    place = ", ".join(clean(row) for row in source.heading.get("address_lines") or ())
    lead, *rest = verdict(source)
    return [
        Heading(f"Drain inspection: {place or 'address not given'}", 1),
        Paragraph(_in_short(source), "small"),
        *_shared(source),
        *alarms(source),
        Heading("Verdict", 2),
        Paragraph(lead, "lead"),
        *[Paragraph(said) for said in rest],
        *_older_state(source),
        Heading("The line from the building to the main", 2),
        DrawingPlace(),
    ]


_TO_PRINT = (("PDF, Letter", "?form=pdf&page=letter"), ("PDF, A4", "?form=pdf&page=a4"))


def _shared(source: ReportInput) -> list[Block]:
    """Tell a reader without an account how they came by this, that it moves on, and how to print it."""
    shared = text(source.heading, "shared")
    if not shared:
        return []
    newest = "It shows the newest state of the records; what that follows from stands under Sources and digests."
    return [Paragraph(f"{shared} {newest}", "small"), Links("To print:", _TO_PRINT)]


def _older_state(source: ReportInput) -> list[Block]:
    """Say where the records have moved on from what is shown."""
    said: list[Block] = []
    if source.lateral.get("is_current") is False and source.runs:
        said.append(Paragraph("The records have changed since this was graded; the newest state is being computed."))
    if source.scope is not None and source.scope.get("is_current") is False:
        said.append(Paragraph("The plans below were computed from an earlier state of the records; have them redone."))
    return said


def _in_short(source: ReportInput) -> str:
    """Who asked, who looked and when, in one line; the details stand further down."""
    heading = source.heading
    days = sorted({text(run, "started_at")[:10] for run in source.runs if run.get("started_at")})
    said = [
        f"asked by {text(heading, 'customer_name') or 'somebody not named'}",
        f"inspected by {text(heading, 'organisation') or 'somebody not named'}",
        f"on {', '.join(days)}" if days else "date not given",
        f"job {text(heading, 'job_ref') or 'not given'}",
    ]
    return f"A{'; '.join(said)[1:]}."


def alarms(source: ReportInput) -> list[Block]:
    """Return one warning per alarm, of the lateral or of the scope, each once."""
    found: dict[tuple[str, str, str], Document] = {}
    for row in [*rows(source.lateral, "alarms"), *rows(source.scope, "alarms")]:
        found.setdefault((text(row, "code"), text(row, "ref"), text(row, "at")), row)
    return [_alarm(source, row) for row in found.values()]


def _alarm(source: ReportInput, row: Document) -> Warning:
    code = text(row, "code")
    detail = text(row, "detail")
    steps = {"foreign_line": GAS_STEPS, "imminent_collapse": () if detail else COLLAPSE_STEPS}.get(code, ())
    return Warning(alarm_title(source, row), (*([detail] if detail else []), *steps))


def not_seen(source: ReportInput) -> list[Block]:
    """Return what nobody saw. It stands before the findings: an unseen stretch is never "no defect"."""
    coverage = part(part(source.lateral, "grading"), "coverage")
    notes = unseen_notes(source)
    blocks: list[Block] = [Heading("What was not seen", 2)]
    if notes:
        blocks += [
            Paragraph("About these stretches nothing is known; they may hide defects."),
            Listing(tuple(notes)),
        ]
    elif source.runs:
        blocks.append(Paragraph("No stretch between the ends of the inspection is reported as not seen."))
    else:
        blocks.append(Paragraph("Everything: no camera has been in this pipe."))
    if coverage:
        blocks.append(Paragraph(_coverage(coverage)))
    return blocks


def _coverage(coverage: Document) -> str:
    said = f"Seen: {words.share(coverage.get('length_share'))} of the inspected length"
    joints = as_number(coverage.get("joints_seen"))
    if joints is None:
        return said + "."
    affected = words.rounded(coverage.get("joints_affected"))
    expected = coverage.get("joints_expected")
    of_all = f", about {words.rounded(expected)} expected" if as_number(expected) is not None else ""
    return f"{said}; {affected} of {words.rounded(joints)} joints seen have a defect{of_all}."
