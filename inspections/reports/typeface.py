"""The typeface of the drawing and the PDF: Bitstream Vera, shipped with reportlab, embedded in the PDF.

Its letters are as wide as those of DejaVu Sans and Verdana and wider than those of Helvetica and Arial,
so what fits in Vera fits in whatever a browser draws the SVG with.
"""

from functools import lru_cache
from typing import Any, Final

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR: Final = "Vera"
BOLD: Final = "VeraBd"
MISSING: Final = "?"  # stands for a letter the typeface has not; the HTML keeps the letter itself


@lru_cache(maxsize=1)
def _faces() -> dict[str, Any]:
    faces = {REGULAR: TTFont(REGULAR, "Vera.ttf"), BOLD: TTFont(BOLD, "VeraBd.ttf")}
    for face in faces.values():
        pdfmetrics.registerFont(face)
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)
    return faces


def register_faces() -> None:
    """Make both weights known to reportlab; may be called as often as one likes."""
    _faces()


def printable(words: str) -> str:
    """Return the words with every letter the typeface has not replaced by a visible sign."""
    glyphs = _faces()[REGULAR].face.charToGlyph
    return "".join(letter if ord(letter) in glyphs else MISSING for letter in words)


def text_width(words: str, size: float, is_bold: bool = False) -> float:
    """Return the width of one line at a type size, both in drawing units.

    A letter the typeface has not counts as a full square: scripts with wide letters still fit.
    """
    _faces()
    glyphs = _faces()[REGULAR].face.charToGlyph
    missing = sum(ord(letter) not in glyphs for letter in words)
    known = "".join(letter for letter in words if ord(letter) in glyphs)
    return float(pdfmetrics.stringWidth(known, BOLD if is_bold else REGULAR, size)) + missing * size


def shortened(words: str, size: float, width: float, is_bold: bool = False) -> str:
    """Return the words cut to fit a width, the cut shown by an ellipsis."""
    words = words[:400]
    if text_width(words, size, is_bold) <= width:
        return words
    while words and text_width(words + "…", size, is_bold) > width:
        words = words[:-1]
    return words.rstrip() + "…"
