"""Reads reports back the way a reader's program does: HTML by its tags, PDF by its words."""

import io
import re
from html.parser import HTMLParser

from pypdf import PdfReader

from inspections.reports import ReportInput, report_html, report_pdf


class Page(HTMLParser):
    """A page taken apart: its tags, its words, what it points to."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.links: list[str] = []
        self.words: list[str] = []
        self._is_style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self._is_style = tag == "style"
        self.attributes += [name for name, _ in attrs]
        self.links += [value or "" for name, value in attrs if name in ("src", "href", "action", "data")]

    def handle_endtag(self, tag: str) -> None:
        self._is_style = False

    def handle_data(self, data: str) -> None:
        if not self._is_style:
            self.words.append(data)


def page_of(source: ReportInput) -> Page:
    page = Page()
    page.feed(report_html(source).replace("<wbr>", ""))
    return page


def html_words(source: ReportInput) -> str:
    return flat(" ".join(page_of(source).words))


def pdf_pages(source: ReportInput, page: str = "letter") -> PdfReader:
    return PdfReader(io.BytesIO(report_pdf(source, page)))


def pdf_words(source: ReportInput) -> str:
    return flat(" ".join(page.extract_text() for page in pdf_pages(source).pages))


def flat(words: str) -> str:
    return re.sub(r"\s+", " ", words)
