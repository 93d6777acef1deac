"""The report says what was found and what was not, in HTML and PDF alike."""

import io
import re
from html.parser import HTMLParser

import pytest
from pypdf import PdfReader

from inspections.reports import ReportInput, report_html, report_pdf
from tests.reports import cases


class _Page(HTMLParser):
    """Reads a page the way a browser does: tags and words apart."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.words: list[str] = []
        self.links: list[str] = []
        self._in_style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self._in_style = tag == "style"
        self.links += [value or "" for name, value in attrs if name in ("src", "href", "action", "data")]

    def handle_endtag(self, tag: str) -> None:
        self._in_style = False

    def handle_data(self, data: str) -> None:
        if not self._in_style:
            self.words.append(data)


def page_of(source: ReportInput) -> _Page:
    page = _Page()
    page.feed(report_html(source))
    return page


def html_words(source: ReportInput) -> str:
    return _flat(" ".join(page_of(source).words))


def pdf_words(source: ReportInput) -> str:
    pages = PdfReader(io.BytesIO(report_pdf(source))).pages
    return _flat(" ".join(page.extract_text() for page in pages))


def _flat(words: str) -> str:
    return re.sub(r"\s+", " ", words)


READERS = pytest.mark.parametrize("read", [html_words, pdf_words])


@READERS
def test_verdict_names_grade_direction_coverage_and_scheme(read):
    assert (
        "Grade 5 of 5 (5 worst) on 91 % seen, by the scheme open-five version 1 (1 best, 5 worst)."
        in read(cases.bad())
    )


@pytest.mark.parametrize("name", list(cases.CASES))
def test_same_input_gives_the_same_bytes(name):
    make = cases.CASES[name]
    assert report_html(make()) == report_html(make())
    assert report_pdf(make()) == report_pdf(make())
