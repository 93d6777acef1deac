"""The drawing of a lateral, laid out once as marks; `svg` and `pdf_drawing` only draw them."""

from inspections.reports import words
from inspections.reports.content import Document, ReportInput, part, text
from inspections.reports.marks import Ink, Mark, Sheet, Text, box, polygon
from inspections.reports.narrative import describe
from inspections.reports.side_view import (
    draw_accesses,
    draw_boundaries,
    draw_defects,
    draw_features,
    draw_ground,
    draw_joints,
    draw_pipe,
    draw_unseen,
)
from inspections.reports.stage import WIDE, Stage, set_stage
from inspections.reports.tagging import defect_tags, place_tags
from inspections.reports.tags import Arrangement, Gauge, Tag, arrange, draw_sign, draw_tags, key_of
from inspections.reports.tracks import draw_axis, draw_materials, draw_plan, draw_runs, wrapped

_TOP = 8.0
_HOUSE = 26.0  # room above the ground for the building and the leaders


def lay_out(source: ReportInput, width: float = WIDE) -> Sheet:
    """Return the side view of the lateral for a sheet of one width, `WIDE` or `NARROW`."""
    stage = set_stage(source, width)
    above = defect_tags(source, stage.x_of)
    below = place_tags(source, stage.x_of)
    upper = arrange(above, 6, width - 6, stage.words_width)
    lower = arrange(below, 6, width - 6, stage.words_width)
    marks, y = _side_view(stage, upper, lower)
    for band in (draw_materials, draw_runs, draw_plan):
        drawn, height = band(stage, y)
        marks += drawn
        y += height + 6
    drawn, height = _key(stage, above, upper, below, lower, y)
    marks += drawn
    y += height
    drawn, height = _legend(stage, y + 6)
    marks += drawn
    title, description = describe(source)
    return Sheet(width, y + height + 12, tuple(marks), title, description)


def _side_view(stage: Stage, upper: Arrangement, lower: Arrangement) -> tuple[list[Mark], float]:
    ground = _TOP + upper.height + _HOUSE
    bottom = ground + stage.deepest + 12
    axis_y = bottom + lower.height + 8
    axis, axis_height = draw_axis(stage, axis_y, ground)
    marks: list[Mark] = [*draw_ground(stage, ground), *axis]
    marks += _drops(stage, upper, ground, is_up=True)
    marks += _drops(stage, lower, ground, is_up=False)
    marks += draw_boundaries(stage, ground)
    marks += draw_accesses(stage, ground)
    for draw in (draw_pipe, draw_joints, draw_features, draw_unseen, draw_defects):
        marks += draw(stage, ground)
    marks += draw_tags(upper, ground - _HOUSE + 4, True, stage.words_width)
    marks += draw_tags(lower, bottom - 2, False, stage.words_width)
    return marks, axis_y + axis_height


def _drops(stage: Stage, arrangement: Arrangement, ground: float, is_up: bool) -> list[Mark]:
    """The upright part of each leader, between the pipe and where its pole begins."""
    found: list[Mark] = []
    for tag in arrangement.tags:
        if tag.anchor is None:
            continue
        station = stage.extent.start + (tag.anchor - stage.left) / stage.per_length
        y, half = ground + stage.middle(station), stage.half_height(station)
        ends = (ground - _HOUSE + 4, y - half) if is_up else (y + half, ground + stage.deepest + 10)
        found.append(polygon(((tag.anchor, ends[0]), (tag.anchor, ends[1])), Ink(width=0.8)))
    return found


def _key(
    stage: Stage, above: list[Tag], upper: Arrangement, below: list[Tag], lower: Arrangement, y: float
) -> tuple[list[Mark], float]:
    """The words of all tags that stand on the drawing as signs only, or not at all."""
    lost = [tag for tag in above if tag.anchor is None]
    groups = [
        ("Findings", above if not upper.has_words else lost),
        ("Along the pipe", below if not lower.has_words else []),
    ]
    marks: list[Mark] = []
    top = y
    for title, tags in groups:
        if tags:
            heading = (
                f"{title} with no known place on the line" if tags is lost and upper.has_words else title
            )
            marks.append(Text((10, y + 11), heading, 10.5, True))
            drawn, height = key_of(tags, 10, y + 18, stage.width - 16, 1 if stage.is_narrow else 3)
            marks += drawn
            y += height + 26
    return marks, y - top


def _legend(stage: Stage, y: float) -> tuple[list[Mark], float]:
    scheme = part(part(stage.source.lateral, "grading"), "scheme")
    signs = [
        (Tag(0, "structural", "1", ""), "structural finding"),
        (Tag(0, "service", "2", ""), "service finding"),
        (Tag(0, "alarm", "3", ""), "alarm: keep away"),
        (Tag(0, "ungraded", "4", ""), "not graded"),
        (Tag(0, "structural", "5", "", gauge=Gauge(3, 5)), "grade: more filled cells, worse"),
    ]
    marks: list[Mark] = [Text((10, y + 10), "Signs", 10, True)]
    x, row_y = 10.0, y + 16
    for tag, meaning in signs:
        label = Text((0, 0), meaning, 9.5)
        need = 34 + label.width + 14
        if x > 10 and x + need > stage.width - 6:
            x, row_y = 10.0, row_y + 23
        marks += draw_sign(tag, x, row_y)
        marks.append(Text((x + (28 if tag.gauge else 21), row_y + 12), meaning, 9.5))
        x += need
    hatch = Text((0, 0), "not seen", 9.5)
    if x + 40 + hatch.width > stage.width - 6:
        x, row_y = 10.0, row_y + 23
    marks.append(box(x, row_y + 2, 26, 13, Ink(width=1.0, dash=(3.0, 3.0), pattern="unseen")))
    marks.append(Text((x + 31, row_y + 12), "not seen", 9.5))
    row_y += 28
    for note in _notes(stage, scheme):
        for said in wrapped(note, 9.5, stage.width - 24):
            marks.append(Text((10, row_y + 8), said, 9.5, ink="#333333"))
            row_y += 12.5
    return marks, row_y - y


def _notes(stage: Stage, scheme: Document) -> list[str]:
    notes = []
    if scheme:
        best, worst = words.rounded(scheme.get("best")), words.rounded(scheme.get("worst"))
        scheme_name = f"{text(scheme, 'id')} version {text(scheme, 'version')}"
        notes.append(f"Grades by the scheme {scheme_name}: {best} is best, {worst} is worst.")
    notes.append(_scale_note(stage))
    notes.append(
        "Seen from the right-hand side, flow to the right. Clock positions face downstream: 12 is the crown; "
        "black marks are on the near wall, white ones on the far wall (7 to 11 o'clock). "
        "A bar over the pipe is the doubt in the station (two standard deviations each way)."
    )
    return notes


def _scale_note(stage: Stage) -> str:
    if not stage.extent.is_known:
        return "Not to scale: no station is known."
    said = ["Lengths along the line are to scale."]
    if stage.thickened is not None:
        said.append(f"The pipe is drawn {_times(stage.thickened)} times too thick.")
    per_depth = stage.profile.units_per_length
    if per_depth is None:
        return " ".join([*said, "The depth is not known; the pipe is drawn flat."])
    said.append(
        f"Depths are drawn at {_times(per_depth / stage.per_length)} times the scale of lengths, the ground as level."
    )
    knots = stage.profile.knots
    if knots[0][0] > stage.extent.start or knots[-1][0] < stage.extent.end:
        span = words.stretch(knots[0][0], knots[-1][0], stage.source.units)
        said.append(f"Depth is known at {span} only; beyond, the pipe is drawn level.")
    return " ".join(said)


def _times(factor: float) -> str:
    return f"{factor:.0f}" if factor >= 10 else f"{factor:.1f}"
