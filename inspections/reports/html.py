"""Renders a report as one HTML page: style and drawing inside, no script, no outside host."""

import base64
import hashlib
from collections.abc import Sequence
from html import escape
from typing import Final

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
from inspections.reports.pictures import media_type
from inspections.reports.stage import NARROW, WIDE
from inspections.reports.style import STYLE
from inspections.reports.svg import render_svg

_LINE: Final = "\n"
_UNBROKEN: Final = 20  # letters of one word that a narrow column holds


def render_html(source: ReportInput) -> str:
    """Return the whole page. All words of the documents are escaped and kept in their own direction."""
    blocks = compose(source)
    title = next((block.words for block in blocks if isinstance(block, Heading)), "Drain inspection")
    return _page(title, [_block(source, block) for block in blocks])


def page_of_words(title: str, said: Sequence[str]) -> str:
    """Return a page in the style of a report that says something else: why there is none."""
    return _page(title, [f"<h1>{_said(title)}</h1>", *[f"<p>{_said(words)}</p>" for words in said]])


def _page(title: str, body: Sequence[str]) -> str:
    return _LINE.join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="referrer" content="no-referrer">',
            f"<title>{escape(title)}</title>",
            f"<style>{STYLE}</style>",
            "</head>",
            "<body>",
            "<main>",
            *body,
            "</main>",
            "</body>",
            "</html>",
            "",
        ]
    )


def content_security_policy() -> str:
    """Return the policy a page of this kind needs: its own style, pictures inside it, nothing else."""
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode("ascii")
    closed = "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    return f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; {closed}"


def _said(words: str) -> str:
    """Escape words; let a browser break what is too long for a column, keep foreign scripts to themselves."""
    said = " ".join("<wbr>".join(escape(piece) for piece in _pieces(word)) for word in words.split(" "))
    return said if words.isascii() else f"<bdi>{said}</bdi>"


def _pieces(word: str) -> list[str]:
    return [word[start : start + _UNBROKEN] for start in range(0, len(word), _UNBROKEN)]


def _block(source: ReportInput, block: Block) -> str:
    match block:
        case Heading():
            return f"<h{block.level}>{_said(block.words)}</h{block.level}>"
        case Paragraph():
            return f'<p class="{block.weight}">{_said(block.words)}</p>'
        case Listing():
            return "<ul>" + "".join(f"<li>{_said(item)}</li>" for item in block.items) + "</ul>"
        case Links():
            return _links(block)
        case Facts():
            pairs = "".join(f"<div><dt>{_said(name)}</dt><dd>{_said(said)}</dd></div>" for name, said in block.pairs)
            return f"<dl>{pairs}</dl>"
        case Table():
            return _table(block)
        case Warning():
            return _warning(block)
        case Picture():
            return _picture(block)
        case DrawingPlace():
            return _drawing(source)
        case Folded():
            inside = _LINE.join(_block(source, each) for each in block.blocks)
            return f"<details><summary>{_said(block.words)}</summary>{inside}</details>"


def _links(links: Links) -> str:
    said = ", ".join(f'<a href="{escape(address)}">{_said(name)}</a>' for name, address in links.pairs)
    return f'<p class="links">{_said(links.words)} {said}</p>'


def _table(table: Table) -> str:
    head = "".join(f'<th role="columnheader" scope="col">{_said(name)}</th>' for name in table.columns)
    body = _LINE.join(_row(table.columns, row) for row in table.rows)
    return (
        f'<table role="table"><caption>{_said(table.title)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{body}</tbody></table>'
    )


def _row(columns: tuple[str, ...], row: tuple[str, ...]) -> str:
    first, *rest = row
    cells = [f'<th role="rowheader" scope="row" data-name="{escape(columns[0])}">{_said(first)}</th>']
    cells += [
        f'<td role="cell" data-name="{escape(name)}">{_said(cell)}</td>'
        for name, cell in zip(columns[1:], rest, strict=True)
    ]
    return f'<tr role="row">{"".join(cells)}</tr>'


def _warning(warning: Warning) -> str:
    lines = "".join(f"<li>{_said(said)}</li>" for said in warning.lines)
    title = f"<p><strong>{_said(warning.title)}</strong></p>"
    return f'<section class="warning" aria-label="{escape(warning.title)}">{title}<ul>{lines}</ul></section>'


def _picture(picture: Picture) -> str:
    encoded = base64.b64encode(picture.data).decode("ascii")
    caption = _said(picture.caption)
    return (
        f'<figure><img alt="{escape(picture.caption)}" src="data:{media_type(picture.data)};base64,{encoded}">'
        f"<figcaption>{caption}</figcaption></figure>"
    )


def _drawing(source: ReportInput) -> str:
    wide = render_svg(lay_out(source, WIDE), "wide", is_standalone=False)
    narrow = render_svg(lay_out(source, NARROW), "narrow", is_standalone=False)
    return f'<div class="drawing wide">{wide}</div><div class="drawing narrow">{narrow}</div>'
