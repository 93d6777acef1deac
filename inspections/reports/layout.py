"""The drawing of a lateral, laid out once as marks; `svg` and `pdf_drawing` only draw them."""

from inspections.reports.content import ReportInput
from inspections.reports.ground_view import draw_accesses, draw_boundaries, draw_depth_note, draw_ground
from inspections.reports.legend import draw_banner, draw_legend
from inspections.reports.marks import Ink, Mark, Sheet, Text, line
from inspections.reports.narrative import describe
from inspections.reports.pipe_view import draw_features, draw_joints, draw_pipe, draw_unseen
from inspections.reports.stage import WIDE, Stage, set_stage
from inspections.reports.tagging import defect_tags, place_tags
from inspections.reports.tags import Arrangement, Tag, arrange, draw_tags, key_of
from inspections.reports.tracks import draw_axis, draw_materials, draw_plan, draw_runs
from inspections.reports.wall_view import draw_defects

_HOUSE = 26.0  # room above the ground for the building and the leaders


def lay_out(source: ReportInput, width: float = WIDE) -> Sheet:
    """Return the side view of the lateral for a sheet of one width, `WIDE` or `NARROW`."""
    stage = set_stage(source, width)
    above, below = defect_tags(stage), place_tags(stage)
    upper = arrange(above, 6, width - 6, stage.words_width)
    lower = arrange(below, 6, width - 6, stage.words_width)
    marks, y = draw_banner(stage)
    view, y = _side_view(stage, upper, lower, y)
    marks += view
    for band in (draw_materials, draw_runs, draw_plan):
        drawn, height = band(stage, y)
        marks += drawn
        y += height + 6
    drawn, height = _key(stage, above, upper, below, lower, y)
    marks += drawn
    y += height
    drawn, height = draw_legend(stage, above, y + 6)
    marks += drawn
    title, description = describe(source)
    return Sheet(width, y + height + 12, tuple(marks), title, description)


def _side_view(stage: Stage, upper: Arrangement, lower: Arrangement, top: float) -> tuple[list[Mark], float]:
    ground = top + upper.height + _HOUSE
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
    marks += draw_depth_note(stage, ground)
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
        found.append(line((tag.anchor, ends[0]), (tag.anchor, ends[1]), Ink(width=0.8)))
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
            heading = f"{title} with no known place on the line" if tags is lost and upper.has_words else title
            marks.append(Text((10, y + 11), heading, 10.5, True))
            drawn, height = key_of(tags, 10, y + 18, stage.width - 16, 1 if stage.is_narrow else 3)
            marks += drawn
            y += height + 26
    return marks, y - top
