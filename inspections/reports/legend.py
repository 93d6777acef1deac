"""What frames the side view: alarms and verdict over it, the meaning of signs and scales under it."""

from inspections.reports import words
from inspections.reports.content import as_number, part, rows
from inspections.reports.grades import gauge_of, scheme_words
from inspections.reports.marks import Ink, Mark, Text, box
from inspections.reports.narrative import alarm_title, verdict
from inspections.reports.stage import Stage
from inspections.reports.tags import Gauge, Shape, Tag, draw_sign
from inspections.reports.tracks import wrapped

_MEANINGS: dict[Shape, str] = {
    "structural": "structural finding",
    "service": "service finding",
    "alarm": "alarm: keep away",
    "ungraded": "finding, not graded",
}
_SIZE = 9.5
_LINE = 12.5


def draw_banner(stage: Stage) -> tuple[list[Mark], float]:
    """Return the alarms, white on black, and the verdict; and the y below them."""
    marks: list[Mark] = []
    y = 6.0
    for row in rows(stage.source.lateral, "alarms"):
        lines = wrapped(f"{alarm_title(stage.source, row)}. Keep away, stop work.", 12, (stage.width - 24) / 1.12)
        marks.append(box(4, y, stage.width - 8, 10 + 16 * len(lines), Ink(width=2.0, fill="#000000")))
        for place, said in enumerate(lines):
            marks.append(Text((12, y + 17 + 16 * place), said, 12, True, ink="#ffffff"))
        y += 16 + 16 * len(lines)
    for said in wrapped(verdict(stage.source)[0], 12, (stage.width - 20) / 1.12):
        marks.append(Text((8, y + 12), said, 12, True))
        y += 16
    return marks, y + 10


def draw_legend(stage: Stage, findings: list[Tag], y: float) -> tuple[list[Mark], float]:
    """Return the meaning of the signs used and what is to scale; and the height used."""
    marks: list[Mark] = [Text((10, y + 10), "Signs", 10, True)]
    x, row_y = 10.0, y + 16
    for tag, meaning in _signs(stage, findings):
        need = 28 + Text((0, 0), meaning, _SIZE).width + 16
        if x > 10 and x + need > stage.width - 6:
            x, row_y = 10.0, row_y + 23
        marks += draw_sign(tag, x, row_y)
        marks.append(Text((x + (30 if tag.gauge else 23), row_y + 12), meaning, _SIZE))
        x += need
    row_y += 28
    for note in _notes(stage, findings):
        for said in wrapped(note, _SIZE, stage.width - 24):
            marks.append(Text((10, row_y + 8), said, _SIZE, ink="#333333"))
            row_y += _LINE
    return marks, row_y - y


def _signs(stage: Stage, findings: list[Tag]) -> list[tuple[Tag, str]]:
    used = {tag.shape for tag in findings}
    found = [(Tag(None, shape, "n", ""), meaning) for shape, meaning in _MEANINGS.items() if shape in used]
    gauge = _example_gauge(stage)
    if gauge and any(tag.gauge for tag in findings):
        found.append((Tag(None, "structural", "n", "", gauge=gauge), "grade: the more cells filled, the worse"))
    return [*found, (Tag(None, "unseen", "", ""), "not seen: nothing is known here")]


def _example_gauge(stage: Stage) -> Gauge | None:
    scheme = part(part(stage.source.lateral, "grading"), "scheme")
    whole = gauge_of(scheme, as_number(scheme.get("worst")))
    return Gauge((whole.steps + 1) // 2, whole.steps) if whole else None


def _notes(stage: Stage, findings: list[Tag]) -> list[str]:
    scheme = part(part(stage.source.lateral, "grading"), "scheme")
    notes = [f"Grades by the scheme {scheme_words(scheme)}."] if scheme else []
    notes.append(_scale_note(stage))
    if findings:
        notes.append(
            "Seen from the right-hand side. Clock positions face downstream, 12 is the crown; black marks are "
            "on the near wall, white ones on the far wall (between 6 and 12 o'clock). A bar over the pipe is "
            "the doubt in the station, two standard deviations each way."
        )
    return notes


def _scale_note(stage: Stage) -> str:
    if not stage.extent.is_known:
        return "Not to scale: no station is known."
    said = ["Lengths along the line are to scale."]
    if stage.thickened is not None:
        said.append(f"The pipe is drawn {_times(stage.thickened)} times too thick.")
    return " ".join([*said, *_depth_notes(stage)])


def _depth_notes(stage: Stage) -> list[str]:
    per_depth, knots = stage.profile.units_per_length, stage.profile.knots
    if per_depth is None:
        return ["The depth is not known; the pipe is drawn flat."]
    times = _times(per_depth / stage.per_length)
    said = [f"Depths are drawn at {times} times the scale of lengths, the ground as level."]
    if knots[0][0] > stage.extent.start or knots[-1][0] < stage.extent.end:
        known = [words.length(station, stage.source.units) for station, _ in knots]
        said.append(f"Depth is known at {', '.join(known)} only; beyond, the pipe is drawn level.")
    return said


def _times(factor: float) -> str:
    return f"{factor:.0f}" if factor >= 10 else f"{factor:.1f}"
