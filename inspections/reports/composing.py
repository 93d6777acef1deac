"""The report as a list of blocks, in reading order. HTML and PDF render the same list."""

from inspections.reports.asked import asked
from inspections.reports.blocks import Block
from inspections.reports.closing import cautions, sources
from inspections.reports.content import ReportInput
from inspections.reports.finding_blocks import conflicts, findings
from inspections.reports.opening import not_seen, opening
from inspections.reports.plan_blocks import plans
from inspections.reports.section_blocks import plans_in_detail


def compose(source: ReportInput) -> list[Block]:
    """Return the whole report: alarms and verdict first, sources and digests last."""
    parts = (opening, not_seen, findings, conflicts, plans, cautions, asked, plans_in_detail, sources)
    return [block for make in parts for block in make(source)]
