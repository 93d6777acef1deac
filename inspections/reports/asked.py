"""What was asked, by whom and when, and how the pipe was looked at: each run, and its recordings."""

from inspections.reports import words
from inspections.reports.blocks import Block, Facts, Heading, Paragraph, Table
from inspections.reports.content import Document, ReportInput, as_number, clean, part, rows, text

_NOT_GIVEN = "not given"
_RECORDED = {"pulling_back": "recorded while pulling back", "pushing": "recorded while pushing in"}


def asked(source: ReportInput) -> list[Block]:
    """Return what was asked, by whom, and how the pipe was looked at."""
    heading = source.heading
    window = part(heading, "window")
    pairs = [
        ("Inspected by", text(heading, "organisation")),
        ("Asked by", text(heading, "customer_name")),
        ("Asked on", words.moment(heading.get("asked_at"))),
        ("Visit agreed", words.period(window.get("start"), window.get("end"))),
        ("Address", ", ".join(clean(row) for row in heading.get("address_lines") or ())),
        ("Why", words.phrase(heading["purpose"]) if heading.get("purpose") else ""),
        ("Job", text(heading, "job_ref")),
        ("Instructions", text(heading, "instructions")),
        ("Stations count from", _datum(source)),
    ]
    facts = Facts(tuple((name, said or _NOT_GIVEN) for name, said in pairs))
    return [Heading("What was asked, and how it was looked at", 2), facts, *_runs(source), *_recordings(source)]


def _datum(source: ReportInput) -> str:
    datum = part(source.lateral, "datum")
    if not datum:
        return ""
    return f"{words.access(datum)}: station 0, positive with the flow, negative against it"


def _runs(source: ReportInput) -> list[Block]:
    if not source.runs:
        return [Paragraph("No camera has been in this pipe yet.")]
    placed = {text(row, "run"): row for row in rows(source.lateral, "runs")}
    blocks: list[Block] = []
    for place, run in enumerate(source.runs, start=1):
        pairs = _run(source, run, placed.get(text(run, "id"), {}))
        facts = Facts(tuple((name, said or _NOT_GIVEN) for name, said in pairs))
        blocks += [Heading(f"Run {place}, {words.phrase(run.get('direction') or 'direction not given')}", 3), facts]
    return blocks


def _run(source: ReportInput, run: Document, placed: Document) -> list[tuple[str, str]]:
    """Return one run: when, by whom, with what, under which conditions, from where to where, and why it ended."""
    return [
        ("When", words.period(run.get("started_at"), run.get("ended_at"))),
        ("By", text(run, "inspector")),
        ("From", _access(source, part(run, "start_access"))),
        ("How", _RECORDED.get(text(run, "recorded"), "")),
        ("Counter", _counter(source, run)),
        ("End", words.run_end(run)),
        ("On the line", _placement(source, placed)),
        ("Camera", _camera(source, run)),
        ("Conditions", words.plain(part(run, "conditions")) if run.get("conditions") else ""),
        ("State", words.phrase(run.get("state") or "")),
    ]


def _access(source: ReportInput, access: Document) -> str:
    size = access.get("size")
    said = [
        words.access(access),
        words.size(size, source.units) if as_number(size) is not None else "",
        text(access, "how_to_find"),
    ]
    return ", ".join(one for one in said if one)


def _counter(source: ReportInput, run: Document) -> str:
    start, end = run.get("counter_start"), run.get("counter_end")
    if as_number(start) is None:
        return ""
    if as_number(end) is None:
        return f"from {words.length(start, source.units)}, end not known"
    return f"{words.rounded(start)} to {words.length(end, source.units)}"


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
        return words.plain(camera) if camera else ""
    skid = camera.get("skid")
    on_skid = "" if not skid else ", on a skid" if skid is True else f", skid {words.plain(skid)}"
    return f"head {words.size(camera['head_diameter'], source.units)}{on_skid}"


def _recordings(source: ReportInput) -> list[Block]:
    """Return which recordings the findings were read from: name and digest, never the address, which may be a key."""
    table = [
        (f"run {place}", _file(clip), _duration(clip), text(clip, "sha256") or _NOT_GIVEN)
        for place, run in enumerate(source.runs, start=1)
        for clip in rows(run, "clips")
    ]
    if not table:
        return [Paragraph("No recording is named.")] if source.runs else []
    columns = ("Run", "Recording", "Lasts", "Digest (SHA-256)")
    note = "The recordings are kept by who inspected; a file with this digest is the one that was read."
    return [Table("Recordings", columns, tuple(table)), Paragraph(note, "small")]


def _file(clip: Document) -> str:
    path = text(clip, "uri").partition("?")[0].partition("#")[0]
    return path.rstrip("/").rpartition("/")[2] or "not named"


def _duration(clip: Document) -> str:
    lasts = clip.get("duration_s")
    return words.minutes(lasts) if as_number(lasts) is not None else _NOT_GIVEN
