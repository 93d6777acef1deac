"""What stands under the side view: the axis of stations, materials, runs as tracks, the plan's sections."""

from decimal import Decimal

from inspections.reports import words
from inspections.reports.content import Document, ReportInput, number, part, rows, text
from inspections.reports.marks import Circle, Ink, Mark, Path, Pattern, Text, box, line
from inspections.reports.placement import lanes
from inspections.reports.stage import Stage, nice_ticks
from inspections.reports.tags import Tag, arrange, draw_tags, key_of
from inspections.reports.typeface import shortened

_FINE = Ink(width=0.8)
_GREY = "#333333"


def draw_axis(stage: Stage, y: float, grid_top: float) -> tuple[list[Mark], float]:
    """Return the axis with its ticks and what the stations count from; and the height used."""
    marks: list[Mark] = [line((stage.left, y), (stage.right, y), Ink(width=1.2))]
    unit = words.length_unit(stage.source.units)
    if not stage.extent.is_known:
        marks.append(Text((stage.left, y + 14), "no station known: not to scale; building left, main right", 9.5))
        return marks, 30.0
    most = 6 if stage.is_narrow else 12
    for station in nice_ticks(stage.extent.start, stage.extent.end, most):
        x = stage.x(station)
        marks.insert(0, line((x, grid_top), (x, y), Ink("#bbbbbb", 0.5, (1.0, 3.0))))
        marks.append(line((x, y), (x, y + 5), Ink(width=1.2)))
        marks.append(Text((x, y + 15), words.rounded(station), 10, anchor="middle"))
    datum = part(stage.source.lateral, "datum")
    origin = f" from {words.access(datum)}" if datum else ""
    caption = f"station, {unit}{origin}; flow to the right, toward the main"
    lines = wrapped(caption, 9.5, stage.width - stage.left - 8)[:3]
    marks += [Text((stage.left, y + 28 + 12 * place), said, 9.5) for place, said in enumerate(lines)]
    return marks, 26.0 + 12 * len(lines)


def draw_materials(stage: Stage, y: float) -> tuple[list[Mark], float]:
    """Return a bracket per segment with its material, size and joint spacing."""
    known = [piece for piece in stage.pieces if piece.segment is not None]
    if not known or not stage.extent.is_known:
        return [Text((stage.left, y + 10), "material and size not known", 10)], 20.0
    marks: list[Mark] = []
    edges: list[float] = []
    for piece in known:
        x1, x2 = stage.x(piece.start), stage.x(piece.end)
        marks.append(Path(((x1 + 0.8, y), (x1 + 0.8, y + 5), (x2 - 0.8, y + 5), (x2 - 0.8, y)), Ink(width=1.2)))
        label = shortened(segment_words(stage, piece.segment or {}), 10, stage.width - 60)
        made = Text((0, 0), label, 10)
        start = max(4.0, min(x1 + 2, stage.width - 6 - made.width))
        row = next((row for row, edge in enumerate(edges) if edge + 6 <= start), len(edges))
        edges[row : row + 1] = [start + made.width]
        marks.append(Text((start, y + 16 + row * 12), label, 10, has_halo=True))
    return marks, 12.0 + len(edges) * 12


def segment_words(stage: Stage, segment: Document) -> str:
    """Return a segment in words."""
    said = [words.phrase(segment.get("material") or "material not known")]
    if number(segment, "diameter") is not None:
        said.append(words.size(segment["diameter"], stage.source.units))
    else:
        said.append("size not known")
    if number(segment, "joint_spacing") is not None:
        said.append(f"joints every {words.length(segment['joint_spacing'], stage.source.units)}")
    return ", ".join(said)


def run_names(stage_runs: list[Document]) -> dict[str, str]:
    """Return a short name per run id, in the order given."""
    return {text(run, "id"): f"run {place}" for place, run in enumerate(stage_runs, start=1)}


def draw_runs(stage: Stage, y: float) -> tuple[list[Mark], float]:
    """Return a track per run: a dot where the camera went in, an arrow where it went, how it ended."""
    marks: list[Mark] = []
    top = y
    placed = {text(row, "run"): row for row in rows(stage.source.lateral, "runs")}
    names = run_names(list(stage.source.runs))
    for run in stage.source.runs:
        name = names[text(run, "id")]
        direction = words.phrase(run.get("direction") or "direction not given")
        start = words.access(part(run, "start_access"))
        label = f"{name.capitalize()}, {direction} from {start}: {words.run_end(run)}"
        row = placed.get(text(run, "id"), {})
        for said in _lines(label, stage.width - 20):
            marks.append(Text((10, y + 10), said, 10, has_halo=True))
            y += 13
        marks += _track(stage, run, row, y + 5)
        y += 17
    if not stage.source.runs:
        marks.append(Text((10, y + 10), "no run of a camera yet", 10))
        y += 20
    return marks, y - top


def _lines(label: str, width: float) -> list[str]:
    lines = wrapped(label, 10, width)
    return lines if len(lines) <= 3 else [*lines[:2], shortened(" ".join(lines[2:]), 10, width)]


def _track(stage: Stage, run: Document, row: Document, y: float) -> list[Mark]:
    start, end = number(row, "station_at_start"), number(row, "station_at_end")
    if start is None or end is None or not stage.extent.is_known:
        why = shortened(f"not tied to the datum: {text(row, 'reason') or 'no reason given'}", 9.5, stage.width - 40)
        return [line((10, y), (22, y), Ink(width=1.5, dash=(3.0, 2.0))), Text((26, y + 3.5), why, 9.5)]
    x1, x2 = stage.x(start), stage.x(end)
    way = 1.0 if x2 >= x1 else -1.0
    marks: list[Mark] = [
        line((x1, y), (x2, y), Ink(width=2.0)),
        Circle((x1, y), 3.5, Ink(None, fill="#000000")),
    ]
    for along in (0.35, 0.7):
        x = x1 + (x2 - x1) * along
        marks.append(Path(((x - way * 4, y - 4), (x + way * 3, y), (x - way * 4, y + 4)), Ink(width=2.0)))
    return marks + _track_end(run, x2, y, way)


def _track_end(run: Document, x: float, y: float, way: float) -> list[Mark]:
    if run.get("reached") == "stopped":
        cross = Ink(width=2.2)
        return [line((x - 5, y - 5), (x + 5, y + 5), cross), line((x - 5, y + 5), (x + 5, y - 5), cross)]
    arrow = ((x - way * 7, y - 5), (x, y), (x - way * 7, y + 5))
    return [Path(arrow, Ink(width=1.0, fill="#000000"), True), line((x, y - 6), (x, y + 6), Ink(width=2.2))]


def wrapped(words_in: str, size: float, width: float) -> list[str]:
    """Return the words broken into lines that fit a width; a single word too long is shortened."""
    found: list[str] = []
    current = ""
    for word in words_in.split():
        longer = f"{current} {word}".strip()
        if Text((0, 0), longer, size).width <= width:
            current = longer
            continue
        found += [current] if current else []
        current = shortened(word, size, width)
    return [*found, current] if current else found


def chosen_plan(source: ReportInput) -> Document | None:
    """Return the plan drawn: the one asked for, else the one of least cost, else the first; none where none may be."""
    plans = [] if text(source.scope, "impossible") else rows(source.scope, "plans")
    named = {text(plan, "name"): plan for plan in reversed(plans)}
    return named.get(source.plan or "") or named.get("least_cost") or (plans[0] if plans else None)


def plan_cost(plan: Document, currency: str) -> str:
    """Return what a plan costs; one that is not possible has no price, which is not to be read as costing nothing."""
    if plan.get("is_possible") is False:
        return "not possible, no price"
    return words.money(plan.get("total"), currency)


def no_work(scope: Document | None, plan: Document) -> str:
    """Return why a plan has no sections: there is nothing to do, or nothing that may be done."""
    if plan.get("is_possible") is False:
        return f"Not possible: {text(plan, 'reason')}"
    left = rows(plan, "not_curable") or rows(scope, "not_curable")
    if left:
        return f"No work: {len(left)} of the findings cannot be cured by any allowed method."
    return "Nothing to do in this plan."


def method_pattern(method: str) -> Pattern:
    """Return the pattern of a method: digging, lining, cleaning or other."""
    named = method.lower()
    if any(word in named for word in ("open_cut", "spot", "dig", "replace", "burst", "trap", "new_clean_out")):
        return "digging"
    if "lin" in named or "cipp" in named:
        return "lining"
    return "cleaning" if any(word in named for word in ("clean", "root", "jet", "scal")) else "other"


def draw_plan(stage: Stage, y: float) -> tuple[list[Mark], float]:
    """Return the plan's sections as bars with their method in words; empty without a plan."""
    plan = chosen_plan(stage.source)
    if plan is None:
        return _no_plan(stage, y)
    if not stage.extent.is_known:
        return [], 0.0
    currency = text(stage.source.scope, "currency")
    title = f"Plan “{words.phrase(plan.get('name') or 'plan')}”: {plan_cost(plan, currency)}"
    top = y
    marks: list[Mark] = []
    for said in wrapped(title, 10.5, stage.width - 24):
        marks.append(Text((10, y + 11), said, 10.5, True, has_halo=True))
        y += 14
    sections = sorted(rows(plan, "sections"), key=lambda row: number(row, "from") or Decimal(0))
    bars = [_bar(stage, section) for section in sections]
    tracks = lanes(bars)
    tags: list[Tag] = []
    for place, (section, (x1, x2), lane) in enumerate(zip(sections, bars, tracks, strict=True)):
        bar_y = y + 5 + lane * 14
        pattern = method_pattern(text(section, "method"))
        marks.append(box(x1, bar_y, x2 - x1, 11, Ink(width=1.2, fill="#ffffff", pattern=pattern)))
        tags.append(_section_tag(stage, section, place, (x1 + x2) / 2))
    y += 8 + 14 * (1 + max(tracks, default=0))
    if not sections:
        marks.append(Text((10, y), no_work(stage.source.scope, plan), 10))
    arrangement = arrange(tags, 6, stage.width - 6, stage.words_width)
    marks += draw_tags(arrangement, y - 2, False, stage.words_width)
    y += arrangement.height
    if not arrangement.has_words:
        key, tall = key_of(tags, 10, y + 8, stage.width - 16, 1 if stage.is_narrow else 2)
        marks += key
        y += tall + 8
    return marks, y - top + 6


def _no_plan(stage: Stage, y: float) -> tuple[list[Mark], float]:
    """Return why nothing is proposed, where something was asked for."""
    impossible = text(stage.source.scope, "impossible")
    if not impossible:
        return [], 0.0
    lines = wrapped(f"No plan: {impossible}", 10.5, stage.width - 24)
    marks: list[Mark] = [Text((10, y + 11 + 14 * row), said, 10.5, True) for row, said in enumerate(lines)]
    return marks, 14.0 * len(lines) + 6


def _bar(stage: Stage, section: Document) -> tuple[float, float]:
    low, high = number(section, "from"), number(section, "to")
    x1 = stage.left if low is None else stage.x(low)
    x2 = stage.right if high is None else stage.x(high)
    return x1, max(x2, x1 + 5)


def _section_tag(stage: Stage, section: Document, place: int, anchor: float) -> Tag:
    title = words.phrase(section.get("method") or "method not named")
    where = words.stretch(section.get("from"), section.get("to"), stage.source.units)
    return Tag(anchor, "section", f"S{place + 1}", title, where)
