"""Reports of one lateral: the side view as SVG, the report as HTML and as PDF.

Made from plain documents only: the same input gives the same bytes.
"""

from inspections.reports.content import ReportInput
from inspections.reports.html import content_security_policy, page_of_words, render_html
from inspections.reports.layout import lay_out
from inspections.reports.pdf import Page, render_pdf
from inspections.reports.stage import NARROW, WIDE
from inspections.reports.svg import render_svg

__all__ = [
    "Page",
    "ReportInput",
    "content_security_policy",
    "drawing_svg",
    "page_of_words",
    "report_html",
    "report_pdf",
]


def drawing_svg(source: ReportInput, *, is_narrow: bool = False) -> str:
    """Return the side view of the lateral as a standalone SVG; `is_narrow` for the width of a phone."""
    return render_svg(lay_out(source, NARROW if is_narrow else WIDE))


def report_html(source: ReportInput) -> str:
    """Return the report as one HTML page that needs nothing else."""
    return render_html(source)


def report_pdf(source: ReportInput, page: Page = "letter") -> bytes:
    """Return the report as PDF on `letter` or `a4` pages, numbered."""
    return render_pdf(source, page)
