"""The findings of a report: where each lies, what was measured, its grade with rule and source."""

from inspections.reports import words
from inspections.reports.blocks import Block, Heading, Listing, Paragraph, Picture, Table
from inspections.reports.content import Document, ReportInput, as_number, clean, number, part, rows, text
from inspections.reports.findings import Finding, findings_of, grade_words
from inspections.reports.grades import grade_of, scheme_words
from inspections.reports.pictures import is_readable
from inspections.reports.tracks import run_names

_COLUMNS = ("No.", "What", "Where", "Clock", "Measured", "Grade", "Rule and source", "Seen in")


def findings(source: ReportInput) -> list[Block]:
    """Return the table of findings, the summaries of the grades and the pictures."""
    found = findings_of(source.lateral)
    scheme = part(part(source.lateral, "grading"), "scheme")
    blocks: list[Block] = [Heading("Findings", 2)]
    if not found:
        return [*blocks, Paragraph(_nothing_found(source)), *_summary(source), *_features(source)]
    graded_by = f"Grades by the scheme {scheme_words(scheme)}. " if scheme else "Not graded yet. "
    blocks.append(
        Paragraph(graded_by + "Clock positions face downstream, 12 is the crown. ± is one standard deviation.")
    )
    table = tuple(_row(source, finding) for finding in found)
    blocks.append(Table("Findings along the line", _COLUMNS, table))
    return [*blocks, *_pictures(source, found), *_summary(source), *_guidance(source), *_features(source)]


def _nothing_found(source: ReportInput) -> str:
    if not source.runs:
        return "None, because nobody has looked."
    return "None where the pipe could be seen."


def _row(source: ReportInput, found: Finding) -> tuple[str, ...]:
    defect, units = found.defect, source.units
    return (
        _numbered(found),
        words.defect_name(defect) + (" (seen differently by two runs)" if defect.get("ambiguous") else ""),
        _where(source, defect),
        words.clock(defect) or "not given",
        ", ".join(words.measures(defect, units)) or "not measured",
        grade_words(found),
        "; ".join(_reason(row) for row in found.grades) or "none",
        "; ".join(_seen_in(source, row) for row in rows(defect, "sources")) or "not given",
    )


def _numbered(found: Finding) -> str:
    """The number in this report, with the ref by which the data know the finding."""
    ref = text(found.defect, "ref")
    return f"{found.sign} (ref {ref})" if ref else found.sign


def _where(source: ReportInput, defect: Document) -> str:
    said = words.place(defect, source.units)
    deviation = number(defect, "station_sd")
    said = f"{said} ± {words.length(deviation, source.units)}" if deviation else said
    return f"{said}, at a joint" if defect.get("at_joint") else said


def _reason(row: Document) -> str:
    said = [
        text(row, "rule"),
        text(row, "source"),
        f"measure: {words.tidy(text(row, 'measure'))}" if row.get("measure") else "",
    ]
    return ", ".join(part for part in said if part) or "rule not given"


def _seen_in(source: ReportInput, row: Document) -> str:
    """Return one sighting: run, the run's own ref, counter, moment in the clip, the inspector's words."""
    name = run_names(list(source.runs)).get(text(row, "run")) or f"run {text(row, 'run')}"
    said = [f"{name} as {text(row, 'ref')}" if row.get("ref") else name]
    if as_number(row.get("counter")) is not None:
        said.append(f"at counter {words.length(row['counter'], source.units)}")
    written = _as_written(source, row)
    if number(written, "video_s") is not None:
        said.append(f"in the clip at {words.minutes(written['video_s'])}")
    note = text(written, "note")
    return " ".join(said) + (f": “{note}”" if note else "")


def _as_written(source: ReportInput, row: Document) -> Document:
    runs = [run for run in source.runs if row.get("ref") and run.get("id") == row.get("run")]
    defects = [defect for run in runs for defect in rows(run, "defects") if defect.get("ref") == row.get("ref")]
    return defects[0] if defects else {}


def _guidance(source: ReportInput) -> list[Block]:
    """Return what public guidance says beside the grades."""
    lines = rows(part(source.lateral, "grading"), "guidance")
    if not lines:
        return []
    signs = {text(found.defect, "ref"): found.sign for found in findings_of(source.lateral)}
    said = tuple(
        f"No. {signs.get(text(row, 'ref'), text(row, 'ref'))}: {text(row, 'says')} ({text(row, 'source')})"
        for row in lines
    )
    return [Heading("What public guidance says beside the grades", 3), Listing(said)]


def _pictures(source: ReportInput, found: list[Finding]) -> list[Block]:
    """Return the pictures there are; where there are none, what to look at instead."""
    if not source.pictures:
        return [Paragraph("No pictures are kept with these findings; where given, the moment in the recording is.")]
    shown: list[Block] = []
    for finding in found:
        data = source.pictures.get(text(finding.defect, "ref"))
        if data is not None:
            where = words.place(finding.defect, source.units)
            caption = f"No. {finding.sign}: {words.defect_name(finding.defect)}, {where}"
            missing = Paragraph(f"{caption}: the picture cannot be read.")
            shown.append(Picture(data, caption) if is_readable(data) else missing)
    return shown


def _summary(source: ReportInput) -> list[Block]:
    grading = part(source.lateral, "grading")
    if not grading:
        return []
    scheme, share = part(grading, "scheme"), words.share(part(grading, "coverage").get("length_share"))
    table = tuple(
        _summary_row(aspect, part(grading, aspect), scheme) for aspect in ("structural", "service", "overall")
    )
    columns = (
        "",
        f"Grade on {share} seen",
        "Findings per grade",
        "Worst two",
        "Weighted count",
        "Mean grade",
    )
    return [Table(f"Grades by the scheme {scheme_words(scheme)}", columns, table)]


def _summary_row(aspect: str, summary: Document, scheme: Document) -> tuple[str, ...]:
    counts = [
        f"{words.rounded(count)} of grade {clean(grade)}"
        for grade, count in sorted(part(summary, "counts").items())
        if as_number(count)
    ]
    worst = [
        f"{words.rounded(row.get('count'))} of grade {words.rounded(row.get('grade'))}"
        for row in rows(summary, "worst_two")
    ]
    return (
        aspect,
        grade_of(scheme, summary.get("grade")),
        ", ".join(counts) or "none",
        ", ".join(worst) or "none",
        _figure(summary, "weighted_count"),
        _figure(summary, "mean_grade"),
    )


def _figure(summary: Document, key: str) -> str:
    return words.rounded(summary[key]) if number(summary, key) is not None else "none"


def _features(source: ReportInput) -> list[Block]:
    features = rows(source.lateral, "features")
    joints = sum(row.get("kind") == "joint" for row in features)
    others = [row for row in features if row.get("kind") != "joint"]
    blocks: list[Block] = []
    if others or joints:
        blocks.append(Heading("What else is on the line", 3))
        said = [_feature(source, row) for row in others]
        said += [f"{joints} sound joint{'' if joints == 1 else 's'} seen"] if joints else []
        blocks.append(Listing(tuple(said)))
    return [*blocks, *_pipe(source)]


def _feature(source: ReportInput, row: Document) -> str:
    said = [words.phrase(row.get("kind") or "feature"), text(row, "label"), words.clock(row)]
    return f"{words.place(row, source.units)}: {', '.join(part for part in said if part)}"


def _pipe(source: ReportInput) -> list[Block]:
    segments = rows(source.lateral, "segments")
    if not segments:
        return []
    table = tuple(_segment(source, row) for row in segments)
    return [Table("Pipe", ("Stretch", "Material", "Size", "Joint spacing"), table)]


def _segment(source: ReportInput, row: Document) -> tuple[str, ...]:
    def given(key: str, said: str) -> str:
        return said if number(row, key) is not None else "not known"

    return (
        words.stretch(row.get("from"), row.get("to"), source.units),
        words.phrase(row.get("material") or "not known"),
        given("diameter", words.size(row.get("diameter"), source.units)),
        given("joint_spacing", words.length(row.get("joint_spacing"), source.units)),
    )


def conflicts(source: ReportInput) -> list[Block]:
    """Return where runs contradict each other; both statements are kept."""
    found = rows(source.lateral, "conflicts")
    if not found:
        return []
    table = tuple(_conflict(source, row) for row in found)
    return [
        Heading("Where runs contradict each other", 2),
        Paragraph("Both statements are kept; look again before relying on either."),
        Table("Contradictions", ("Where", "What", "Seen in"), table),
    ]


def _conflict(source: ReportInput, row: Document) -> tuple[str, ...]:
    sources = "; ".join(_seen_in(source, seen) for seen in rows(row, "sources"))
    what = text(row, "detail") or words.phrase(row.get("code") or "not described")
    for id, name in run_names(list(source.runs)).items():
        what = what.replace(f"Run {id}", name.capitalize()).replace(id, name)
    return words.place(row, source.units), what, sources or "not given"
