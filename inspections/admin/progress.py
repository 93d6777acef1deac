"""How far long work is: a bar that needs no script, and the same in words."""

from django.utils.html import format_html
from django.utils.safestring import SafeString

from inspections.models import Import, Recomputation
from inspections.services import recomputing


def of_recomputation(row: Recomputation) -> SafeString:
    """Return how far a recomputation is: done of all, the pace of the last minute, how long the rest takes."""
    document = recomputing.recomputation_document(row)
    said = f"{row.done} of {row.total} laterals"
    if document["per_second"] is not None:
        said += f", {document['per_second']:.3g} a second, about {_lasting(document['seconds_left'])} left"
    elif document["state"] != "done":
        said += f", {document['state']}"
    return bar(row.done, row.total, said)


def of_import(row: Import) -> SafeString:
    """Return what became of the lines of an import, which is done when it is answered."""
    in_runs = row.taken + row.flagged
    return bar(in_runs, row.lines, f"{in_runs} of {row.lines} lines taken")


def bar(done: int, total: int, said: str) -> SafeString:
    """Return a bar with its words; an empty one where there is nothing to do."""
    return format_html(
        '<progress max="{}" value="{}" aria-label="{}"></progress> {}', max(total, 1), min(done, total), said, said
    )


def _lasting(seconds: int) -> str:
    if seconds < 120:
        return f"{seconds} s"
    return f"{round(seconds / 60)} min" if seconds < 7200 else f"{seconds / 3600:.1f} h"
