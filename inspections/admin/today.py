"""The desk: jobs of the coming days by inspector, work that waits or failed, runs that wait for review.

As many queries on a busy day as on a quiet one: each section is read at once, up to a stated number of rows.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.contrib.admin import AdminSite
from django.http import HttpRequest, HttpResponse
from django.template.response import TemplateResponse
from django.utils import timezone

from inspections import exact_json
from inspections.admin import progress, roles
from inspections.models import Calculation, Delivery, Job, Recomputation, Run
from inspections.queries.results import run_alarms
from inspections.services.run_problems import problems_of
from inspections.translate import Document, moment, run_document

DAYS: Final = 7
MOST_JOBS: Final = 300
MOST_ROWS: Final = 50
_MOST_BULK: Final = 5
# House rule: a visit without an end is taken to last an hour when overlaps are looked for.
_OPEN_VISIT: Final = timedelta(hours=1)
_ALIVE: Final = ("requested", "scheduled", "under_way")


@dataclass(frozen=True, slots=True)
class Visit:
    """One job in the calendar, with what it collides with."""

    job: Job
    start: datetime
    end: datetime
    is_open: bool = False
    overlaps: tuple[str, ...] = ()

    @property
    def reference(self) -> str:
        """What the job is called."""
        return _reference(self.job)

    @property
    def hours(self) -> str:
        """The time of day as it was written, with its offset."""
        end = "open" if self.is_open else f"{self.end:%H:%M}"
        return f"{self.start:%H:%M} to {end} ({self.start:%z})"


@dataclass(frozen=True, slots=True)
class Round:
    """One inspector's visits of one day."""

    day: date
    inspector: str
    visits: tuple[Visit, ...]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A run to be reviewed, with what it lacks."""

    run: Run
    lacks: tuple[str, ...]
    alarms: tuple[str, ...]


def page(request: HttpRequest, site: AdminSite) -> HttpResponse:
    """Return the desk of who is signed in."""
    now = timezone.now()
    jobs = _jobs(request, now)
    shown, waiting = rounds(jobs, now), _waiting(request)
    context = {
        **site.each_context(request),
        "title": "Today and the coming days",
        "rounds": shown,
        "colliding": [visit for one in shown for visit in one.visits if visit.overlaps],
        "cut_at": MOST_JOBS if len(jobs) == MOST_JOBS else None,
        "unplanned": _unplanned(request),
        "waiting": waiting,
        "alarming": sum(bool(one.alarms) for one in waiting),
        "may_plan": roles.may(request, "add", Job) and roles.person(request).organisation_id is not None,
        "may_review": roles.may(request, "act", Run),
        **_work(request),
        "bulk": _bulk(request),
        **_deliveries(request),
    }
    return TemplateResponse(request, "admin/desk/today.html", context)


def _jobs(request: HttpRequest, now: datetime) -> list[Job]:
    """Return the jobs whose window touches yesterday (it is still today somewhere) to the last day shown."""
    rows = roles.visible(request, Job.objects.all(), "organisation").filter(
        state__in=_ALIVE, window_start__gte=now - timedelta(days=1), window_start__lt=now + timedelta(days=DAYS)
    )
    rows = rows.select_related("inspector", "property", "customer").order_by("window_start", "id")
    return list(rows[:MOST_JOBS])


def rounds(jobs: Iterable[Job], now: datetime) -> list[Round]:
    """Return the jobs from today on by day and inspector, what overlaps marked; nobody's first, they need somebody.

    A day is a day where the house stands: it changes at midnight of the offset the job was written in.
    """
    grouped: defaultdict[tuple[date, str], list[Visit]] = defaultdict(list)
    for visit in map(_visit, jobs):
        if visit.start.date() < now.astimezone(visit.start.tzinfo).date():
            continue
        who = visit.job.inspector
        grouped[visit.start.date(), (who.get_full_name() or who.username) if who else ""].append(visit)
    return [
        Round(day, inspector or "nobody yet", _marked(visits) if inspector else tuple(visits))
        for (day, inspector), visits in sorted(grouped.items())
    ]


def _visit(job: Job) -> Visit:
    """Read a job's window as it was written: eight o'clock is eight o'clock where the house stands."""
    window = exact_json.load(job.written).get("window") or {}
    start = moment(window.get("start")) or job.window_start or timezone.now()
    end = moment(window.get("end"))
    return Visit(job, start, end or start + _OPEN_VISIT, is_open=end is None)


def _marked(visits: Sequence[Visit]) -> tuple[Visit, ...]:
    return tuple(
        replace(one, overlaps=tuple(_reference(other.job) for other in visits if _collide(one, other)))
        for one in visits
    )


def _collide(one: Visit, other: Visit) -> bool:
    return one is not other and one.start < other.end and other.start < one.end


def _reference(job: Job) -> str:
    return job.external_ref or str(job.pk)[:8]


def day_of(job: Job) -> tuple[Visit, ...]:
    """Return what its inspector does on the day of a job, the job among it, what overlaps marked."""
    if job.inspector_id is None or job.window_start is None:
        return ()
    day, span = _visit(job).start.date(), timedelta(days=2)
    rows = Job.objects.filter(inspector=job.inspector_id, state__in=_ALIVE).select_related("property")
    near = rows.filter(window_start__gt=job.window_start - span, window_start__lt=job.window_start + span)
    visits = [_visit(one) for one in near.order_by("window_start", "id")[:MOST_ROWS]]
    return _marked([one for one in visits if one.start.date() == day])


def _unplanned(request: HttpRequest) -> list[Job]:
    """Return jobs that have no time yet, oldest first."""
    rows = roles.visible(request, Job.objects.filter(state__in=_ALIVE, window_start=None), "organisation")
    return list(rows.select_related("property", "customer", "inspector").order_by("created_at", "id")[:MOST_ROWS])


def _work(request: HttpRequest) -> dict[str, Any]:
    if not roles.may(request, "see", Calculation):
        return {}
    rows = roles.visible(request, Calculation.objects.all(), "organisation")
    failed = list(rows.filter(state="failed").order_by("-created_at", "-id")[:MOST_ROWS])
    queued = list(rows.filter(state__in=("queued", "running")).order_by("created_at", "id")[:MOST_ROWS])
    return {
        "sees_work": True,
        "failed": failed,
        "queued": queued,
        "may_run_again": roles.may(request, "act", Calculation),
    }


def _bulk(request: HttpRequest) -> list[dict[str, Any]]:
    """Return work on all records that has not ended, with how far it is; there are few of these at a time."""
    if not roles.may(request, "see", Recomputation):
        return []
    rows = roles.visible(request, Recomputation.objects.all(), "organisation")
    rows = rows.filter(calculation__state__in=("queued", "running")).select_related("scheme", "calculation")
    newest = rows.order_by("-created_at", "-id")[:_MOST_BULK]
    return [{"row": row, "progress": progress.of_recomputation(row)} for row in newest]


def _deliveries(request: HttpRequest) -> dict[str, Any]:
    """Return what no receiver took, newest first."""
    if not roles.may(request, "see", Delivery):
        return {}
    rows = roles.visible(request, Delivery.objects.filter(state="failed"), "organisation")
    rows = rows.select_related("event", "subscription").order_by("-created_at", "-id")
    return {"undelivered": list(rows[:MOST_ROWS]), "may_replay": roles.may(request, "act", Delivery)}


def _waiting(request: HttpRequest) -> list[Waiting]:
    """Return submitted runs that nobody reviewed yet: first those with what must not wait, then oldest first."""
    rows = roles.visible(request, Run.objects.filter(state="submitted"), "organisation")
    runs = list(rows.select_related("job__property").order_by("submitted_at", "id")[:MOST_ROWS])
    said = [(run, run_document(run)) for run in runs]
    found = [Waiting(run, tuple(_lacks(document)), tuple(_alarms(document))) for run, document in said]
    return sorted(found, key=lambda one: not one.alarms)


def _alarms(document: Document) -> list[str]:
    return [alarm["detail"] for alarm in run_alarms(document)]


def _lacks(document: Document) -> list[str]:
    return [problem.fault.detail for problem in problems_of(document)]
