"""Answers kept for blind retries: how long, and how the old ones go."""

from datetime import timedelta
from typing import Final

from django.db.models import Value
from django.db.models.functions import Now

from inspections.models import KeptAnswer

KEPT_DAYS: Final = 30
_AT_ONCE: Final = 500  # so that nobody waits for a sweep that has much to do


def sweep() -> int:
    """Forget some of the answers that are older than promised; return how many."""
    old = KeptAnswer.objects.filter(created_at__lt=Now() - Value(timedelta(days=KEPT_DAYS)))
    ids = list(old.order_by("created_at").values_list("pk", flat=True)[:_AT_ONCE])
    return KeptAnswer.objects.filter(pk__in=ids).delete()[0] if ids else 0
