"""How much work waits, and for how long: what monitoring and readiness ask."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, F, Min, Q
from django.db.models.functions import Coalesce, Now

from inspections.models import Calculation, Delivery
from inspections.models.webhooks import OPEN_STATES


@dataclass(frozen=True, slots=True)
class Waiting:
    """Rows of a queue in one state; `oldest_s`: seconds since the oldest of them could have been taken."""

    queue: str
    state: str
    count: int
    oldest_s: float


def waiting() -> list[Waiting]:
    """Return what waits and what is under way, by queue and state; failed work too, which waits for a person."""
    work = Calculation.objects.filter(state__in=("queued", "running", "failed"))
    sent = Delivery.objects.filter(state__in=(*OPEN_STATES, "failed"))
    due = Q(next_attempt_at__lte=Now()) | ~Q(state="queued")  # a retry of tomorrow does not wait today
    return [
        *_counted("calculations", work, Coalesce("run_after", "created_at"), Q()),
        *_counted("deliveries", sent, F("next_attempt_at"), due),
    ]


def _counted(queue: str, rows: Any, since: Any, due: Q) -> list[Waiting]:
    found = rows.values("state").annotate(many=Count("pk"), oldest=Min(since, filter=due), now=Now())
    return [
        Waiting(queue, row["state"], row["many"], _seconds(row["oldest"], row["now"]))
        for row in found.order_by("state")
    ]


def _seconds(oldest: datetime | None, now: datetime) -> float:
    return 0.0 if oldest is None else max(0.0, (now - oldest).total_seconds())


def oldest_queued_s() -> float:
    """Return how long the oldest calculation waits that could be taken, in seconds."""
    queued = Calculation.objects.filter(state="queued").filter(Q(run_after=None) | Q(run_after__lte=Now()))
    found = queued.annotate(now=Now(), since=Coalesce("run_after", "created_at")).order_by("since").first()
    return 0.0 if found is None else _seconds(found.since, found.now)
