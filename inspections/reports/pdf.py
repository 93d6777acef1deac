"""Renders a report as PDF with reportlab: embedded typeface, page numbers, the same bytes every time."""

import io
from collections.abc import Callable
from html import escape
from typing import Any, Final, Literal

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, Flowable, Image, KeepTogether, SimpleDocTemplate, Spacer
from reportlab.platypus import Paragraph as Flow
from reportlab.platypus import Table as Grid

from inspections.reports.blocks import (
    Block,
    DrawingPlace,
    Facts,
    Folded,
    Heading,
    Links,
    Listing,
    Paragraph,
    Picture,
    Table,
    Warning,
)
from inspections.reports.composing import compose
from inspections.reports.content import ReportInput
from inspections.reports.layout import lay_out
from inspections.reports.pdf_drawing import DrawingFlowable
from inspections.reports.pictures import size_of
from inspections.reports.stage import WIDE
from inspections.reports.typeface import BOLD, REGULAR, printable, register_faces, text_width

Page = Literal["letter", "a4"]

_MARGIN: Final = 16 * mm
_FOOT: Final = 10 * mm
_SIZES: Final = {"letter": LETTER, "a4": A4}
_LONGEST: Final = 1500  # letters of one paragraph or cell; a page must be able to hold it


def _style(size: float, is_bold: bool = False, **more: Any) -> ParagraphStyle:
    settings = {
        "fontName": BOLD if is_bold else REGULAR,
        "fontSize": size,
        "leading": size * 1.35,
        "spaceAfter": 3,
    }
    return ParagraphStyle(f"{size}-{is_bold}", **{**settings, **more})


_BODY: Final = _style(8.5)
_SMALL: Final = _style(7)
_CELL: Final = _style(6.8, spaceAfter=0)
_CELL_BOLD: Final = _style(6.8, True, spaceAfter=0)
_LEAD: Final = _style(12, True, spaceAfter=6)
_HEADINGS: Final = {
    1: _style(16, True, spaceAfter=8),
    2: _style(11.5, True, spaceBefore=12, spaceAfter=4, keepWithNext=1),
    3: _style(9, True, spaceBefore=8, spaceAfter=3, keepWithNext=1),
}
_OVER_DRAWING: Final = _style(11.5, True, spaceBefore=12, spaceAfter=4)  # kept together by hand: drawings shrink
_ITEM: Final = _style(8.5, leftIndent=10, bulletIndent=0)


def render_pdf(source: ReportInput, page: Page = "letter") -> bytes:
    """Return the report on Letter or A4 pages, numbered."""
    register_faces()
    width, height = _SIZES[page]
    blocks = compose(source)
    title = next((block.words for block in blocks if isinstance(block, Heading)), "Drain inspection")
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=(width, height),
        leftMargin=_MARGIN,
        rightMargin=_MARGIN,
        topMargin=_MARGIN,
        bottomMargin=_MARGIN + 4 * mm,
        title=printable(title),
        author=printable(str(source.heading.get("organisation") or "")),
        invariant=1,
        lang="en",
    )
    space = (width - 2 * _MARGIN - 12, height - 2 * _MARGIN - 4 * mm - 40)
    document.build(_flow(source, blocks, space), canvasmaker=_numbered(printable(title), width))
    return out.getvalue()


def _flow(source: ReportInput, blocks: list[Block], space: tuple[float, float]) -> list[Flowable]:
    """Return the pieces in order; the heading over the drawing stays with it, on a new page if it must."""
    found: list[Flowable] = []
    for block, after in zip(blocks, [*blocks[1:], None], strict=True):
        if isinstance(block, Heading) and isinstance(after, DrawingPlace):
            drawing = DrawingFlowable(lay_out(source, WIDE), *space)
            found += [CondPageBreak(drawing.smallest_height + 40), _words(block.words, _OVER_DRAWING)]
        else:
            found += _block(source, block, space)
    return found


def _numbered(title: str, width: float) -> Callable[..., Canvas]:
    """A canvas that writes "page n of m", which is known only when all pages are laid out."""

    class Numbered(Canvas):
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._waiting: list[dict[str, Any]] = []

        def showPage(self) -> None:
            self._waiting.append(dict(self.__dict__))
            self._startPage()  # type: ignore[attr-defined]  # reportlab types leave it out

        def save(self) -> None:
            for place, state in enumerate(self._waiting, start=1):
                self.__dict__.update(state)
                self._foot(place, len(self._waiting))
                super().showPage()
            super().save()

        def _foot(self, place: int, pages: int) -> None:
            self.setFont(REGULAR, 7)
            self.drawString(_MARGIN + 6, _FOOT, title[:90])
            self.drawRightString(width - _MARGIN - 6, _FOOT, f"page {place} of {pages}")

    return Numbered


def _words(words: str, style: ParagraphStyle, **more: Any) -> Flow:
    shown = words if len(words) <= _LONGEST else f"{words[:_LONGEST]}… ({len(words) - _LONGEST} more letters)"
    return Flow(escape(printable(shown), quote=False), style, **more)


def _block(source: ReportInput, block: Block, space: tuple[float, float]) -> list[Flowable]:
    match block:
        case Heading():
            return [_words(block.words, _HEADINGS[block.level])]
        case Paragraph():
            return [_words(block.words, {"lead": _LEAD, "small": _SMALL}.get(block.weight, _BODY))]
        case Listing():
            return [_words(item, _ITEM, bulletText="–") for item in block.items]
        case Links():
            return []
        case Facts():
            return [_facts(block, space[0]), Spacer(1, 6)]
        case Table():
            return _table(block, space[0])
        case Warning():
            return [_warning(block, space[0]), Spacer(1, 6)]
        case Picture():
            return [_picture(block, space[0])]
        case DrawingPlace():
            return [DrawingFlowable(lay_out(source, WIDE), *space)]
        case Folded():
            return [piece for each in block.blocks for piece in _block(source, each, space)]


def _facts(facts: Facts, width: float) -> Flowable:
    cells = [[_words(name, _CELL_BOLD), _words(said, _CELL)] for name, said in facts.pairs]
    rule: list[Any] = [("LINEBELOW", (0, 0), (-1, -1), 0.3, "#999999"), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    return Grid(cells or [["", ""]], colWidths=[width * 0.24, width * 0.76], style=rule, splitInRow=1)


def _table(table: Table, width: float) -> list[Flowable]:
    cells = [[_words(name, _CELL_BOLD) for name in table.columns]]
    cells += [
        [_words(cell, _CELL_BOLD if place == 0 else _CELL) for place, cell in enumerate(row)] for row in table.rows
    ]
    style: list[Any] = [
        ("GRID", (0, 0), (-1, -1), 0.4, "#777777"),
        ("BACKGROUND", (0, 0), (-1, 0), "#e8e8e8"),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 3),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
    ]
    grid = Grid(cells, colWidths=_column_widths(table, width), style=style, repeatRows=1, splitInRow=1)
    return [_words(table.title, _HEADINGS[3]), grid, Spacer(1, 6)]


def _column_widths(table: Table, width: float) -> list[float]:
    """Share the width by the length of the words; no column narrower than its longest word, if that can be."""
    columns = [[table.columns[place], *[row[place] for row in table.rows]] for place in range(len(table.columns))]
    longest = [min(max(map(_longest_word, cells)), width / len(columns)) for cells in columns]
    wishes = [min(max(text_width(cell, _CELL.fontSize, True) for cell in cells), 400.0) for cells in columns]
    spare = width - sum(longest)
    more = [max(wish - least, 1.0) ** 0.7 for wish, least in zip(wishes, longest, strict=True)]
    return [least + spare * wish / sum(more) for least, wish in zip(longest, more, strict=True)]


def _longest_word(cell: str) -> float:
    return max((text_width(word, _CELL.fontSize, True) for word in cell[:_LONGEST].split()), default=0.0) + 8


def _warning(warning: Warning, width: float) -> Flowable:
    lines: list[Flowable] = [_words(warning.title, _LEAD), *[_words(said, _BODY) for said in warning.lines]]
    frame: list[Any] = [("BOX", (0, 0), (-1, -1), 2.5, "#000000"), ("LEFTPADDING", (0, 0), (-1, -1), 8)]
    return Grid([[line] for line in lines], colWidths=[width], style=frame, splitInRow=1)


def _picture(picture: Picture, width: float) -> Flowable:
    across, down = size_of(picture.data)
    scale = min(width * 0.6 / across, 300.0 / down)
    image = Image(io.BytesIO(picture.data), across * scale, down * scale)
    return KeepTogether([image, _words(picture.caption, _SMALL)])
