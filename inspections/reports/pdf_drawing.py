"""Draws a sheet into a PDF: the same marks as the SVG, as vectors."""

from typing import Any, Final

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from inspections.reports.marks import Circle, Ink, Mark, Path, Sheet, Text
from inspections.reports.patterns import PATTERNS, Tile
from inspections.reports.typeface import BOLD, REGULAR, printable, register_faces

_SMALLEST: Final = 0.75  # of the full size; below, words get too small on paper


class DrawingFlowable(Flowable):
    """A sheet as a flowing part of the report, scaled to the space there is.

    It shrinks a little to stay on the page begun; where that would make it illegible it takes a new page.
    """

    def __init__(self, sheet: Sheet, width: float, height: float) -> None:
        super().__init__()
        self.sheet = sheet
        self.largest = min(width / sheet.width, height / sheet.height)
        self.scale = self.largest

    @property
    def smallest_height(self) -> float:
        """The least height it takes."""
        return self.sheet.height * self.largest * _SMALLEST

    def wrap(self, _: float, height: float) -> tuple[float, float]:
        """Return the space taken on a page with some height left."""
        fitting = min(self.largest, height / self.sheet.height)
        self.scale = fitting if fitting >= _SMALLEST * self.largest else self.largest
        self.width, self.height = self.sheet.width * self.scale, self.sheet.height * self.scale
        return self.width, self.height

    def draw(self) -> None:
        """Draw at the current place; y grows downward inside."""
        canvas = self.canv
        canvas.saveState()
        canvas.scale(self.scale, self.scale)
        for mark in self.sheet.marks:
            _draw(canvas, mark, self.sheet.height)
        canvas.restoreState()


def _draw(canvas: Canvas, mark: Mark, height: float) -> None:
    if isinstance(mark, Text):
        _draw_text(canvas, mark, height)
        return
    path = _outline(canvas, mark, height)
    ink = mark.ink
    if ink.fill and not ink.pattern:
        canvas.setFillColor(ink.fill)
        canvas.drawPath(path, stroke=0, fill=1)
    if ink.pattern:
        _hatch(canvas, path, mark, height, PATTERNS[ink.pattern])
    if ink.stroke:
        _pen(canvas, ink)
        canvas.drawPath(path, stroke=1, fill=0)


def _outline(canvas: Canvas, mark: Path | Circle, height: float) -> Any:
    path = canvas.beginPath()
    if isinstance(mark, Circle):
        path.circle(mark.centre[0], height - mark.centre[1], mark.radius)
        return path
    (first_x, first_y), *rest = mark.points
    path.moveTo(first_x, height - first_y)
    for x, y in rest:
        path.lineTo(x, height - y)
    if mark.is_closed:
        path.close()
    return path


def _pen(canvas: Canvas, ink: Ink) -> None:
    canvas.setStrokeColor(ink.stroke or "#000000")
    canvas.setLineWidth(ink.width)
    canvas.setDash(list(ink.dash))


def _hatch(canvas: Canvas, path: Any, mark: Path | Circle, height: float, tile: Tile) -> None:
    points = mark.points if isinstance(mark, Path) else (mark.centre,)
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    top, bottom = min(y for _, y in points), max(y for _, y in points)
    canvas.saveState()
    canvas.clipPath(path, stroke=0, fill=0)
    canvas.setStrokeColor(tile.ink)
    canvas.setLineWidth(tile.width)
    canvas.setDash([])
    lines = [
        (
            column * tile.side + x1,
            height - (row * tile.side + y1),
            column * tile.side + x2,
            height - (row * tile.side + y2),
        )
        for column in range(int(left // tile.side), int(right // tile.side) + 1)
        for row in range(int(top // tile.side), int(bottom // tile.side) + 1)
        for (x1, y1), (x2, y2) in tile.strokes
    ]
    canvas.lines(lines)
    canvas.restoreState()


def _draw_text(canvas: Canvas, text: Text, height: float) -> None:
    register_faces()
    words = printable(text.words)
    x, y = text.at[0], height - text.at[1]
    canvas.setFont(BOLD if text.is_bold else REGULAR, text.size)
    width = canvas.stringWidth(words, BOLD if text.is_bold else REGULAR, text.size)
    start = {"start": x, "middle": x - width / 2, "end": x - width}[text.anchor]
    if text.has_halo:
        canvas.setFillColor("#ffffff")
        canvas.rect(start - 1, y - text.size * 0.22, width + 2, text.size, stroke=0, fill=1)
    canvas.setFillColor(text.ink)
    canvas.drawString(start, y, words)
