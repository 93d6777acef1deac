"""The first part of a report: alarms, the verdict, the drawing, what was asked and how it was looked at."""

from inspections.reports import words
from inspections.reports.blocks import Block, DrawingPlace, Facts, Heading, Listing, Paragraph, Table, Warning
from inspections.reports.content import Document, ReportInput, as_number, clean, part, rows, text
from inspections.reports.narrative import alarm_title, verdict
from inspections.reports.pipeline import unseen_notes

GAS_STEPS = (
    "Treat it as a gas main until the utility has said what it is.",
    "Do not cut, jet, line or dig here. Keep people and flames away.",
    "From a safe distance call the gas emergency number and the utility that owns the line.",
)
COLLAPSE_STEPS = ("Keep loads and people off the ground above it until a competent person has looked at it.",)


def opening(source: ReportInput) -> list[Block]:
    """Return title, alarms, verdict and drawing."""
    place = ", ".join(clean(row) for row in source.heading.get("address_lines") or ())
    lead, *rest = verdict(source)
    return [
        Heading(f"Drain inspection: {place or 'address not given'}", 1),
        Paragraph(_in_short(source), "small"),
        *alarms(source),
        Heading("Verdict", 2),
        Paragraph(lead, "lead"),
        *[Paragraph(said) for said in rest],
        Heading("The line from the building to the main", 2),
        DrawingPlace(),
    ]


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
    return f"{'; '.join(said)}.".capitalize() if False else said[0][:1].upper() + "; ".join(said)[1:] + "."


def alarms(source: ReportInput) -> list[Block]:
    """Return one warning per alarm, of the lateral or of the scope, each once."""
    found: dict[tuple[str, str, str], Document] = {}
    for row in [*rows(source.lateral, "alarms"), *rows(source.scope, "alarms")]:
        found.setdefault((text(row, "code"), text(row, "ref"), text(row, "at")), row)
    return [_alarm(source, row) for row in found.values()]


def _alarm(source: ReportInput, row: Document) -> Warning:
    code = text(row, "code")
    steps = {"foreign_line": GAS_STEPS, "imminent_collapse": COLLAPSE_STEPS}.get(code, ())
    detail = text(row, "detail")
    return Warning(alarm_title(source, row), (*([detail] if detail else []), *steps))


def asked(source: ReportInput) -> list[Block]:
    """Return what was asked, by whom, and how the pipe was looked at."""
    heading = source.heading
    pairs = [
        ("Inspected by", text(heading, "organisation")),
        ("Asked by", text(heading, "customer_name")),
        ("Address", ", ".join(clean(row) for row in heading.get("address_lines") or ())),
        ("Why", words.phrase(heading["purpose"]) if heading.get("purpose") else ""),
        ("Job", text(heading, "job_ref")),
        ("Instructions", text(heading, "instructions")),
        ("Stations count from", _datum(source)),
    ]
    facts = Facts(tuple((name, said or "not given") for name, said in pairs))
    return [Heading("What was asked, and how it was looked at", 2), facts, *_runs(source)]


def _datum(source: ReportInput) -> str:
    datum = part(source.lateral, "datum")
    if not datum:
        return ""
    return f"{words.access(datum)}: station 0, positive with the flow, negative against it"


def _runs(source: ReportInput) -> list[Block]:
    if not source.runs:
        return [Paragraph("No camera has been in this pipe yet.")]
    placed = {text(row, "run"): row for row in rows(source.lateral, "runs")}
    columns = ("Run", "When, by whom", "From", "Direction", "End", "On the line", "Camera, conditions", "State")
    table = [_run_row(source, place, run, placed) for place, run in enumerate(source.runs, start=1)]
    return [Table("Camera runs", columns, tuple(table))]


def _run_row(source: ReportInput, place: int, run: Document, placed: dict[str, Document]) -> tuple[str, ...]:
    when = words.period(run.get("started_at"), run.get("ended_at"))
    return (
        f"run {place}",
        ", ".join(said for said in (when, text(run, "inspector")) if said) or "not given",
        words.access(part(run, "start_access")),
        words.phrase(run.get("direction") or "not given"),
        words.run_end(run),
        _placement(source, placed.get(text(run, "id"), {})),
        "; ".join(said for said in (_camera(source, run), words.plain(part(run, "conditions"))) if said),
        words.phrase(run.get("state") or "not given"),
    )


def _placement(source: ReportInput, row: Document) -> str:
    reason = text(row, "reason")
    if as_number(row.get("station_at_start")) is None:
        return f"not tied to the datum{': ' + reason if reason else ''}"
    start, end = words.rounded(row["station_at_start"]), words.length(row.get("station_at_end"), source.units)
    scale = as_number(row.get("scale"))
    stretched = f", counter scaled by {words.rounded(scale, 4)}" if scale is not None and scale != 1 else ""
    return f"{start} to {end}{stretched}{'; ' + reason if reason else ''}"


def _camera(source: ReportInput, run: Document) -> str:
    camera = part(run, "camera")
    if as_number(camera.get("head_diameter")) is None:
        return words.plain(camera) if camera else "not given"
    skid = camera.get("skid")
    on_skid = "" if not skid else ", on a skid" if skid is True else f", skid {words.plain(skid)}"
    return f"head {words.size(camera['head_diameter'], source.units)}{on_skid}"


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
