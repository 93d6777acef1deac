"""Calculations as rows: asked for, claimed, finished or given up. The row is the truth, a message only rings.

Times are the database's: a worker whose clock is wrong neither steals nor loses work.
"""

import uuid
from datetime import timedelta
from typing import Any, Final

from django.conf import settings
from django.db import transaction
from django.db.models import DateTimeField, ExpressionWrapper, F, Q, Value
from django.db.models.functions import Now

from inspections.actor import Actor
from inspections.models import Calculation
from inspections.services import doorbell, trail
from scoring import RULES_VERSION

TASK: Final = "inspections.calculate"
MOST_ATTEMPTS: Final = 5
_RING_AT_ONCE: Final = 500
# Attempts are counted from the last one that got somewhere: work in many parts is no poison.
_LAST_ATTEMPT: Final = F("fruitful_attempt") + MOST_ATTEMPTS


def _from_now(seconds: float) -> Any:
    return ExpressionWrapper(Now() + Value(timedelta(seconds=seconds)), output_field=DateTimeField())


def calculation_request(*, actor: Actor, kind: str, subject: uuid.UUID, subject_revision: int) -> Calculation:
    """Return the row for this work, made if it was never asked for; rings after the commit."""
    row, is_new = Calculation.objects.get_or_create(
        kind=kind,
        subject=subject,
        subject_revision=subject_revision,
        rules_version=RULES_VERSION,
        defaults={"organisation": actor.organisation, "request_id": actor.request_id},
    )
    if is_new or row.state == "failed":
        _queue_again(row)
        _told(row, "queued")
        transaction.on_commit(lambda: ring(row.id))
    return row


def _told(row: Calculation, state: str, **more: Any) -> None:
    """Tell those who follow of a new state. Must run in the transaction that makes it."""
    data = {"id": str(row.id), "kind": row.kind, "subject": str(row.subject), "state": state, **more}
    type, subject = f"calculation.{state}", f"calculations/{row.id}"
    trail.event(organisation=row.organisation, type=type, subject=subject, data=data)


def calculation_again(*, row: Calculation) -> None:
    """Queue a calculation that failed once more, with all its attempts."""
    with transaction.atomic():
        if Calculation.objects.filter(pk=row.pk, state="failed").exists():
            _queue_again(row)
            _told(row, "queued")
            transaction.on_commit(lambda: ring(row.id))


def calculation_run_again(*, actor: Actor, row: Calculation) -> bool:
    """Queue a calculation that failed once more and note who wanted it; False when it is not failed any more."""
    with transaction.atomic():
        failed = Calculation.objects.select_for_update().filter(pk=row.pk, state="failed").first()
        if failed is None:
            return False
        before = {"state": "failed", "error": failed.error}
        calculation_again(row=failed)
        trail.entry(
            actor=actor,
            record_type="calculation",
            record_id=failed.pk,
            action="run_again",
            before=before,
            after={"state": "queued"},
        )
        return True


def _queue_again(row: Calculation) -> None:
    if row.state == "failed":
        row.state, row.attempts, row.fruitful_attempt = "queued", 0, 0
        row.error, row.run_after, row.finished_at = None, None, None
        row.save(
            update_fields=[
                "state",
                "attempts",
                "fruitful_attempt",
                "error",
                "run_after",
                "finished_at",
                "updated_at",
            ]
        )


def release_running() -> int:
    """End the leases of all that is running; only for a process that knows itself to be the only one.

    The rows stay running: the sweep rings for those and gives up what killed as many processes as it may.
    """
    return Calculation.objects.filter(state="running").update(lease_until=_from_now(-1.0), updated_at=Now())


def ring(id: uuid.UUID) -> None:
    """Tell the workers that there is work."""
    doorbell.ring(TASK, id)


def claim(id: uuid.UUID) -> Calculation | None:
    """Take a calculation that is queued, or whose worker's lease ran out. One UPDATE decides who."""
    is_queued = Q(state="queued") & (Q(run_after=None) | Q(run_after__lte=Now()))
    is_orphaned = Q(state="running", lease_until__lt=Now())
    with transaction.atomic():
        taken = Calculation.objects.filter(is_queued | is_orphaned, pk=id, attempts__lt=_LAST_ATTEMPT).update(
            state="running",
            attempts=F("attempts") + 1,
            lease_until=_from_now(settings.LEASE_SECONDS),
            updated_at=Now(),
        )
        if not taken:
            return None
        claimed = Calculation.objects.select_related("organisation").get(pk=id)
        if claimed.attempts == 1 or claimed.attempts > claimed.fruitful_attempt + 1:
            _told(claimed, "running", attempts=claimed.attempts)  # not for the next turn of long work
        return claimed


def finish(claimed: Calculation, **result: Any) -> bool:
    """Close a claimed calculation; call it in the transaction that writes the effect, before the effect.

    False: another worker holds it now, and the effect is not ours to write.
    """
    mine = Calculation.objects.filter(pk=claimed.pk, attempts=claimed.attempts, state="running")
    if not mine.update(finished_at=Now(), updated_at=Now(), lease_until=None, **result):
        return False
    by = result.get("superseded_by_id")
    ended = {"error": result.get("error"), "superseded_by": str(by) if by else None}
    _told(claimed, result["state"], attempts=claimed.attempts, **ended)
    return True


def extend(claimed: Calculation) -> bool:
    """Say that a part of long work is done: the lease begins anew. Call it in the transaction that writes the part.

    False: another worker holds the calculation now, and the part is not ours to write.
    """
    mine = Calculation.objects.filter(pk=claimed.pk, attempts=claimed.attempts, state="running")
    lease = _from_now(settings.LEASE_SECONDS)
    return bool(mine.update(lease_until=lease, fruitful_attempt=claimed.attempts, updated_at=Now()))


def hand_over(claimed: Calculation) -> None:
    """Queue long work whose part is done behind what waits, so that it holds nobody up; rings after the commit."""
    mine = Calculation.objects.filter(pk=claimed.pk, attempts=claimed.attempts, state="running")
    if mine.update(state="queued", lease_until=None, run_after=None, updated_at=Now()):
        transaction.on_commit(lambda: ring(claimed.pk))


def put_back(claimed: Calculation, error: str, *, is_final: bool) -> bool:
    """Queue a calculation whose attempt failed again, later each time; give it up after five attempts."""
    fruitful = Calculation.objects.values_list("fruitful_attempt", flat=True).get(pk=claimed.pk)
    if is_final or claimed.attempts >= fruitful + MOST_ATTEMPTS:
        return finish(claimed, state="failed", error=error)
    mine = Calculation.objects.filter(pk=claimed.pk, attempts=claimed.attempts, state="running")
    later = _from_now(2.0 ** (claimed.attempts - fruitful))
    if not mine.update(state="queued", error=error, run_after=later, lease_until=None, updated_at=Now()):
        return False
    _told(claimed, "queued", attempts=claimed.attempts, error=error)
    return True


def poison() -> list[Calculation]:
    """Return what five workers took and none brought back."""
    orphaned = Calculation.objects.filter(state="running", lease_until__lt=Now(), attempts__gte=_LAST_ATTEMPT)
    return list(orphaned.select_related("organisation").order_by("created_at")[:_RING_AT_ONCE])


def sweep() -> int:
    """Ring for all work that waits although its message may be lost; return how much."""
    is_due = Q(state="queued") & (Q(run_after=None) | Q(run_after__lte=Now()))
    # What was just queued is being rung for; what was queued in the future was so by a machine whose clock is wrong.
    is_old = Q(updated_at__lt=_from_now(-1.0)) | Q(updated_at__gt=_from_now(1.0))
    waiting = Calculation.objects.filter((is_due & is_old) | Q(state="running", lease_until__lt=Now()))
    ids = list(waiting.order_by("created_at").values_list("id", flat=True)[:_RING_AT_ONCE])
    for id in ids[: doorbell.lacking(settings.CELERY_TASK_DEFAULT_QUEUE, len(ids))]:
        ring(id)
    return len(ids)
