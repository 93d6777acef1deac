"""Tags: a sign with a number or letter, and two lines of words, hung from the pipe by a pole.

Signs tell kinds apart by shape, grades by the number of filled cells and by the words, never by hue.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from inspections.reports.marks import Circle, Ink, Mark, Path, Text, box, line, polygon
from inspections.reports.placement import Spot, place_badges, place_flags
from inspections.reports.typeface import shortened, text_width

Shape = Literal["structural", "service", "alarm", "ungraded", "feature", "boundary", "section", "unseen"]

SIGN: Final = 17.0
GAUGE: Final = 6.0
TEXT_SIZE: Final = 10.0
ROW_HEIGHT: Final = 27.0
ELBOW: Final = 16.0  # height in which a leader crosses over from the pipe to its pole
_BLACK: Final = "#000000"


@dataclass(frozen=True, slots=True)
class Gauge:
    """A grade as filled cells out of the steps of its scheme, worst all filled."""

    filled: int
    steps: int


@dataclass(frozen=True, slots=True)
class Tag:
    """One label: where it points to (None: no place on the drawing), its sign and its words."""

    anchor: float | None
    shape: Shape
    sign: str
    title: str
    detail: str = ""
    gauge: Gauge | None = None


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Tags with their places. `has_words` False: only signs stand there, the words go to a key."""

    tags: tuple[Tag, ...]
    spots: tuple[Spot, ...]
    has_words: bool
    height: float


def sign_width(tag: Tag) -> float:
    """Return the width of the sign with its gauge."""
    return SIGN + (GAUGE + 2 if tag.gauge else 0)


def arrange(tags: Sequence[Tag], left: float, right: float, words_width: float) -> Arrangement:
    """Return places for all tags that point somewhere, sorted along the pipe, with words where they fit."""
    placed = sorted((tag for tag in tags if tag.anchor is not None), key=lambda tag: tag.anchor or 0.0)
    anchors = [tag.anchor or 0.0 for tag in placed]
    widths = [sign_width(tag) + 4 + _words_width(tag, words_width) for tag in placed]
    spots = place_flags(anchors, widths, left, right)
    if spots is not None:
        tall = ROW_HEIGHT * (1 + max((spot.row for spot in spots), default=-1))
        return Arrangement(tuple(placed), tuple(spots), True, tall + ELBOW + 4 if placed else 0.0)
    badge = max(sign_width(tag) for tag in placed) + 2
    spots = place_badges(anchors, badge, left, right)
    tall = (SIGN + 2) * (1 + max(spot.row for spot in spots))
    return Arrangement(tuple(placed), tuple(spots), False, tall + ELBOW)


def _words_width(tag: Tag, limit: float) -> float:
    return min(limit, max(text_width(tag.title, TEXT_SIZE, True), text_width(tag.detail, TEXT_SIZE)))


def draw_tags(arrangement: Arrangement, base_y: float, is_up: bool, words_width: float) -> list[Mark]:
    """Return poles, signs and words; leaders start at `base_y` and go up or down from there."""
    way = -1.0 if is_up else 1.0
    clear = 8.0 if is_up and arrangement.has_words else 0.0  # the words reach lower than their sign
    poles: list[Mark] = []
    signs: list[Mark] = []
    for tag, spot in zip(arrangement.tags, arrangement.spots, strict=True):
        pitch = ROW_HEIGHT if arrangement.has_words else SIGN + 2
        near = base_y + way * (ELBOW + clear + spot.row * pitch)
        pole_x = spot.x if arrangement.has_words else spot.x + SIGN / 2
        far = near + way * (SIGN if arrangement.has_words else 0)
        poles.append(
            Path(((tag.anchor or 0.0, base_y), (pole_x, base_y + way * ELBOW), (pole_x, far)), Ink(width=0.8))
        )
        top = near - SIGN if is_up else near
        signs += draw_sign(tag, spot.x, top)
        if arrangement.has_words:
            signs += tag_words(tag, spot.x, top, words_width)
    return poles + signs


def tag_words(tag: Tag, x: float, top: float, words_width: float) -> list[Mark]:
    """Return the two lines of words to the right of a sign."""
    start = x + sign_width(tag) + 4
    title = shortened(tag.title, TEXT_SIZE, words_width, True)
    detail = shortened(tag.detail, TEXT_SIZE, words_width)
    marks: list[Mark] = [Text((start, top + 7.5), title, TEXT_SIZE, True, has_halo=True)]
    if detail:
        marks.append(Text((start, top + 19.0), detail, TEXT_SIZE, has_halo=True))
    return marks


def draw_sign(tag: Tag, x: float, top: float) -> list[Mark]:
    """Return the sign of a tag: its outline, its number or letter and, for a graded one, its gauge."""
    marks: list[Mark] = [*_outline(tag.shape, x, top)]
    ink = "#ffffff" if tag.shape in ("alarm", "boundary") else _BLACK
    size = 10.0 if len(tag.sign) < 3 else 7.5
    marks.append(Text((x + SIGN / 2, top + SIGN / 2 + size * 0.36), tag.sign, size, True, "middle", ink))
    if tag.gauge:
        marks += _gauge(tag.gauge, x + SIGN + 2, top)
    return marks


def _outline(shape: Shape, x: float, top: float) -> list[Mark]:
    middle, half = (x + SIGN / 2, top + SIGN / 2), SIGN / 2
    white = Ink(width=1.5, fill="#ffffff")
    match shape:
        case "service":
            return [Circle(middle, half, white)]
        case "alarm":
            return [
                _star(middle[0], middle[1], half + 3),
                box(x + 2, top + 2, SIGN - 4, SIGN - 4, Ink(None, fill=_BLACK)),
            ]
        case "ungraded":
            return [box(x, top, SIGN, SIGN, Ink(width=1.2, dash=(2.5, 2.0), fill="#ffffff"))]
        case "feature":
            return [_pointed(x, top, Ink(width=1.0, fill="#ffffff"))]
        case "unseen":
            hatched = Ink(width=1.0, dash=(3.0, 2.0), pattern="unseen")
            label = box(x + 3, top + 3, SIGN - 6, SIGN - 6, Ink(None, fill="#ffffff"))
            return [
                box(x, top, SIGN, SIGN, Ink(None, fill="#ffffff")),
                box(x, top, SIGN, SIGN, hatched),
                label,
            ]
        case "boundary":
            return [box(x, top, SIGN, SIGN, Ink(None, fill="#333333"))]
        case "section":
            return [
                box(x, top + 1, SIGN, SIGN - 2, white),
                line((x, top + SIGN - 3), (x + SIGN, top + SIGN - 3)),
            ]
        case _:
            return [box(x, top, SIGN, SIGN, white)]


def _star(x: float, y: float, reach: float) -> Mark:
    inner = reach * 0.72
    spikes = ((0, -1), (0.38, -0.38), (1, 0), (0.38, 0.38), (0, 1), (-0.38, 0.38), (-1, 0), (-0.38, -0.38))
    points = tuple(
        (
            x + dx * (reach if 0 in (dx, dy) else inner * 1.9),
            y + dy * (reach if 0 in (dx, dy) else inner * 1.9),
        )
        for dx, dy in spikes
    )
    return polygon(points, Ink(width=1.2, fill=_BLACK))


def _pointed(x: float, top: float, ink: Ink) -> Mark:
    return polygon(
        (
            (x + 4, top),
            (x + SIGN - 4, top),
            (x + SIGN, top + SIGN / 2),
            (x + SIGN - 4, top + SIGN),
            (x + 4, top + SIGN),
            (x, top + SIGN / 2),
        ),
        ink,
    )


def _gauge(gauge: Gauge, x: float, top: float) -> list[Mark]:
    cell = SIGN / gauge.steps
    return [
        box(
            x,
            top + SIGN - cell * (step + 1),
            GAUGE,
            cell,
            Ink(width=0.7, fill=_BLACK if step < gauge.filled else "#ffffff"),
        )
        for step in range(gauge.steps)
    ]


def key_of(tags: Sequence[Tag], left: float, top: float, width: float, columns: int) -> tuple[list[Mark], float]:
    """Return a key, sign and words of each tag in reading order down the columns, and its height."""
    if not tags:
        return [], 0.0
    per_column = -(-len(tags) // columns)
    column_width = width / columns
    marks: list[Mark] = []
    for index, tag in enumerate(tags):
        x = left + column_width * (index // per_column)
        y = top + ROW_HEIGHT * (index % per_column)
        marks += draw_sign(tag, x, y)
        marks += tag_words(tag, x, y, column_width - sign_width(tag) - 12)
    return marks, per_column * ROW_HEIGHT
