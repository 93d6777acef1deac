"""The side view of the findings: each on the wall of the pipe, at its station and clock position."""

from collections.abc import Sequence
from decimal import Decimal

from inspections.reports.content import Document, number
from inspections.reports.findings import findings_of
from inspections.reports.marks import Circle, Ink, Mark, Path, box, line, polygon
from inspections.reports.pipe_view import clock_height
from inspections.reports.stage import Stage

_FINE = Ink(width=0.8)


def draw_defects(stage: Stage, ground: float) -> list[Mark]:
    """Return each defect where it sits: at its station and clock position, with its doubt in station."""
    marks: list[Mark] = []
    for found in findings_of(stage.source.lateral) if stage.extent.is_known else []:
        station = number(found.defect, "station")
        if station is not None:
            marks += _on_the_wall(stage, ground, found.defect, float(station))
            marks += _doubt(stage, ground, found.defect, float(station))
    return marks


def _on_the_wall(stage: Stage, ground: float, defect: Document, station: float) -> list[Mark]:
    if defect.get("kind") == "foreign_line":
        return _crossing(stage.x(station), ground + stage.middle(station))
    end = number(defect, "to_station")
    if end is not None and stage.x(end) > stage.x(station):
        return _stretch(stage, ground, defect, station, float(end))
    x, y, half = stage.x(station), ground + stage.middle(station), stage.half_height(station)
    high, low = _wall_span(number(defect, "clock_from"), number(defect, "clock_to"))
    thick = max((low - high) * half, 5.0)
    top = min(max(y + high * half, y - half), y + half - thick + 2.5)
    return [box(x - 2.2, top - 1, 4.4, thick, Ink(width=1.2, fill="#ffffff" if _is_far_side(defect) else "#000000"))]


def _stretch(stage: Stage, ground: float, defect: Document, start: float, end: float) -> list[Mark]:
    """A stretch along the pipe: standing water as high as it stands, else bands at the clock positions."""
    percent = number(defect, "percent")
    if defect.get("kind") == "sag":
        level = 1 - 2 * min(float(percent), 100.0) / 100 if percent is not None and percent > 0 else 0.6
        return [_along(stage, ground, (start, end), (level, 1.0), Ink(width=1.0, fill="#ffffff", pattern="water"))]
    ink = Ink(width=1.0, fill="#ffffff" if _is_far_side(defect) else "#8a8a8a")
    if number(defect, "clock_from") is None and number(defect, "clock_to") is None:
        return [_along(stage, ground, (start, end), span, ink) for span in ((-1.0, -0.75), (0.75, 1.0))]
    return [
        _along(stage, ground, (start, end), _wall_span(number(defect, "clock_from"), number(defect, "clock_to")), ink)
    ]


def _crossing(x: float, y: float) -> list[Mark]:
    """Another line seen end on, crossed out: it does not belong here."""
    cross = Ink(width=2.0)
    return [
        Circle((x, y), 7.5, Ink(width=2.4, fill="#ffffff")),
        line((x - 5, y - 5), (x + 5, y + 5), cross),
        line((x - 5, y + 5), (x + 5, y - 5), cross),
    ]


def _along(stage: Stage, ground: float, stations: tuple[float, float], span: tuple[float, float], ink: Ink) -> Path:
    """A band along the pipe between two heights on its wall, -1 crown to 1 invert."""
    start, end = stations
    half = stage.half_height((start + end) / 2)
    upper, lower = span[0] * half, max(span[1] * half, span[0] * half + 4)
    at = [start, *(station for station, _ in stage.profile.knots if start < station < end), end]
    top = [(stage.x(station), ground + stage.middle(station) + upper) for station in at]
    bottom = [(stage.x(station), ground + stage.middle(station) + lower) for station in reversed(at)]
    return polygon((*top, *bottom), ink)


def _wall_span(start: Decimal | None, end: Decimal | None) -> tuple[float, float]:
    """Return the highest and lowest point of an arc as seen from the side, -1 crown to 1 invert."""
    if start is None and end is None:
        return -1.0, 1.0
    heights = [clock_height(hour) for hour in _hours(start, end)]
    return min(heights), max(heights)


def _hours(start: Decimal | None, end: Decimal | None) -> Sequence[Decimal]:
    first = start if start is not None else end
    last = end if end is not None else start
    if first is None or last is None:
        return []
    turn = (last - first) % 12
    steps = int(turn * 2)
    return [first + Decimal(step) / 2 for step in range(steps + 1)] + [last]


def _is_far_side(defect: Document) -> bool:
    """Looking from the right-hand side, between 6 and 12 o'clock lies on the far wall."""
    hours = [hour % 12 for hour in _hours(number(defect, "clock_from"), number(defect, "clock_to"))]
    return bool(hours) and all(hour > 6 for hour in hours)


def _doubt(stage: Stage, ground: float, defect: Document, station: float) -> list[Mark]:
    deviation = number(defect, "station_sd")
    if deviation is None or deviation <= 0:
        return []
    reach = float(deviation) * 2
    x1, x2 = stage.x(station - reach), stage.x(station + reach)
    if x2 - x1 < 8:
        return []
    y = ground + stage.middle(station) - stage.half_height(station) - 5
    ends = [line((x, y - 2.5), (x, y + 2.5), _FINE) for x in (x1, x2)]
    return [line((x1, y), (x2, y), _FINE), *ends]
