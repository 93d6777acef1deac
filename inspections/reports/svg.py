"""Draws a sheet as SVG: no script, no style sheet, no outside host; a title and a description."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Final

from inspections.reports.marks import Circle, Ink, Mark, Path, Pattern, Sheet, Text
from inspections.reports.patterns import PATTERNS, Tile

_FONTS: Final = "'DejaVu Sans', Verdana, Helvetica, Arial, sans-serif"


def render_svg(sheet: Sheet, name: str = "lateral", is_standalone: bool = True) -> str:
    """Return the sheet as one SVG element. `name` keeps ids apart where two stand in one page."""
    namespace = ' xmlns="http://www.w3.org/2000/svg"'
    width, height = _n(sheet.width), _n(sheet.height)
    opening = (
        f'<svg{namespace} role="img" aria-labelledby="{name}-title" aria-describedby="{name}-desc" '
        f'viewBox="0 0 {width} {height}" width="{width}" height="{height}" font-family="{_FONTS}">'
    )
    head = [
        opening,
        f'<title id="{name}-title">{escape(sheet.title)}</title>',
        f'<desc id="{name}-desc">{escape(sheet.description)}</desc>',
        _definitions(name, _patterns_used(sheet.marks)),
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
    ]
    body = [_mark(mark, name) for mark in sheet.marks]
    prolog = '<?xml version="1.0" encoding="UTF-8"?>\n' if is_standalone else ""
    return prolog + "\n".join([*head, *body, "</svg>"]) + "\n"


def _patterns_used(marks: Sequence[Mark]) -> Mapping[Pattern, Tile]:
    used = {mark.ink.pattern for mark in marks if not isinstance(mark, Text) and mark.ink.pattern}
    return {pattern: tile for pattern, tile in PATTERNS.items() if pattern in used}


def _definitions(name: str, tiles: Mapping[Pattern, Tile]) -> str:
    return "<defs>" + "".join(_tile(name, pattern, tile) for pattern, tile in tiles.items()) + "</defs>"


def _tile(name: str, pattern: Pattern, tile: Tile) -> str:
    strokes = "".join(
        f'<path d="M{_n(x1)} {_n(y1)}L{_n(x2)} {_n(y2)}" stroke="{tile.ink}" stroke-width="{_n(tile.width)}"/>'
        for (x1, y1), (x2, y2) in tile.strokes
    )
    side = _n(tile.side)
    return (
        f'<pattern id="{name}-{pattern}" width="{side}" height="{side}" patternUnits="userSpaceOnUse">'
        f"{strokes}</pattern>"
    )


def _mark(mark: Mark, name: str) -> str:
    if isinstance(mark, Text):
        return _text(mark)
    if isinstance(mark, Circle):
        x, y = mark.centre
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(mark.radius)}" {_ink(mark.ink, name)}/>'
    return _path(mark, name)


def _path(path: Path, name: str) -> str:
    points = "L".join(f"{_n(x)} {_n(y)}" for x, y in path.points)
    return f'<path d="M{points}{"Z" if path.is_closed else ""}" {_ink(path.ink, name)}/>'


def _ink(ink: Ink, name: str) -> str:
    fill = f"url(#{name}-{ink.pattern})" if ink.pattern else ink.fill or "none"
    said = [f'fill="{fill}"']
    if ink.stroke:
        said += [f'stroke="{ink.stroke}"', f'stroke-width="{_n(ink.width)}"']
        said += [f'stroke-dasharray="{" ".join(_n(part) for part in ink.dash)}"'] if ink.dash else []
    return " ".join(said)


def _text(text: Text) -> str:
    x, y = text.at
    said = [f'x="{_n(x)}"', f'y="{_n(y)}"', f'font-size="{_n(text.size)}"', f'fill="{text.ink}"']
    said += ['font-weight="bold"'] if text.is_bold else []
    said += [f'text-anchor="{text.anchor}"'] if text.anchor != "start" else []
    if text.has_halo:
        said.append('stroke="#ffffff" stroke-width="3" stroke-linejoin="round" paint-order="stroke"')
    return f"<text {' '.join(said)}>{escape(text.words)}</text>"


def _n(number: float) -> str:
    shown = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if shown == "-0" else shown
