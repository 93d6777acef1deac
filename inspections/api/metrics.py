"""Numbers for monitoring, in the Prometheus text format; closed unless a token for them is set."""

import os
import secrets
from collections.abc import Iterator

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from prometheus_client import CONTENT_TYPE_LATEST, REGISTRY, CollectorRegistry, Metric, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from inspections.api import problems
from inspections.queries import queues


class Queues(Collector):
    """How much work waits and for how long, read when asked: the rows are the queue."""

    def collect(self) -> Iterator[Metric]:
        depth = GaugeMetricFamily("pullback_queue_rows", "Rows by queue and state.", labels=["queue", "state"])
        age = GaugeMetricFamily(
            "pullback_queue_oldest_seconds",
            "Since when the oldest row could have been taken; of deliveries that are queued, the lag of webhooks.",
            labels=["queue", "state"],
        )
        for row in queues.waiting():
            depth.add_metric([row.queue, row.state], row.count)
            age.add_metric([row.queue, row.state], row.oldest_s)
        yield depth
        yield age


def metrics(request: HttpRequest) -> HttpResponse:
    """Answer with all numbers of all web processes to who carries PULLBACK_METRICS_TOKEN; 404 to everybody else."""
    wanted, sent = settings.METRICS_TOKEN, request.headers.get("Authorization", "")
    if not wanted or not secrets.compare_digest(sent.encode(), f"Bearer {wanted}".encode()):
        return problems.http_problem(request, 404, detail="There is nothing at this address.")
    several = CollectorRegistry()
    if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
        MultiProcessCollector(several)  # type: ignore[no-untyped-call] # of the library
    queued = CollectorRegistry()
    queued.register(Queues())
    web = several if "PROMETHEUS_MULTIPROC_DIR" in os.environ else REGISTRY
    return HttpResponse(generate_latest(web) + generate_latest(queued), content_type=CONTENT_TYPE_LATEST)
