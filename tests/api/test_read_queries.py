"""More records make no more queries: what each list asks of the database is written down, for every expansion."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inspections import models
from inspections.api.reading import Many
from inspections.api.urls import urlpatterns
from inspections.services import outbox
from tests import builders, people
from tests.api.answers import draft_of, job_of, plain, read, sealed_of
from tests.api.bidding import sent
from tests.api.closing import report
from tests.api.test_code_maps import ALDER
from tests.client import Api

# Queries an address makes, whatever it shows: the token with its organisation first, then the rows.
QUERIES = {
    "jobs": 4,
    "jobs?expand=runs": 4,
    "runs": 2,
    "runs?expand=job": 5,
    "runs?expand=grading": 4,
    "runs?expand=job,grading": 7,
    "runs/{run}/amendments": 3,
    "runs/{run}/gradings": 3,
    "runs/{run}/imported-observations": 3,
    "imports": 2,
    "calculations": 2,
    "laterals": 8,
    "laterals?expand=property": 10,
    "laterals/{lateral}/match-decisions": 3,
    "laterals/{lateral}/report-links": 3,
    "laterals/{lateral}/repair-scopes": 3,
    "laterals/{lateral}/repair-scopes?expand=lateral": 10,
    "repair-scopes": 2,
    "repair-scopes?expand=lateral": 9,
    "repair-scopes/{repair-scope}/bids": 3,
    "repair-scopes/{repair-scope}/closings": 3,
    "customers": 2,
    "properties": 3,
    "properties?expand=customer": 3,
    "properties?expand=laterals": 9,
    "properties?expand=customer,laterals": 9,
    "properties.geojson": 3,
    "properties.geojson?expand=customer": 3,
    "properties.geojson?expand=laterals": 9,
    "properties.geojson?expand=customer,laterals": 9,
    "access-points": 2,
    "access-points?expand=property": 4,
    "access-points?expand=lateral": 9,
    "access-points?expand=property,lateral": 11,
    "access-points.geojson": 2,
    "access-points.geojson?expand=property": 4,
    "access-points.geojson?expand=lateral": 9,
    "access-points.geojson?expand=property,lateral": 11,
    "grading-schemes": 2,
    "rate-books": 2,
    "rule-sets": 2,
    "code-maps": 2,
    "recomputations": 2,
    "recomputations/{recomputation}/differences": 3,
    "subscriptions": 2,
    "deliveries": 2,
    "deliveries?expand=event": 2,
    "tokens": 2,
}


def lists() -> Iterator[str]:
    """Yield every list of the URL table with every set of expansions it takes, named as in QUERIES."""
    for pattern in urlpatterns:
        view = pattern.callback.cls  # type: ignore[union-attr] # every address is a view of the API
        if not issubclass(view, Many):
            continue
        parent = str(pattern.pattern).partition("s/<")[0]
        address = re.sub(r"<str:\w+>", f"{{{parent}}}", str(pattern.pattern))
        yield address
        words = view.reading.expansions
        yield from (f"{address}?expand={word}" for word in words)
        if len(words) > 1:
            yield f"{address}?expand={','.join(words)}"


def test_every_list_and_expansion_has_its_number_of_queries() -> None:
    assert sorted(lists()) == sorted(QUERIES)


def again(row: Any, **changes: Any) -> Any:
    """Have the row once more, under an id of its own."""
    twin = type(row).objects.get(pk=row.pk)
    twin.pk, twin._state.adding, twin.external_ref = uuid.uuid4(), True, None
    for name, value in changes.items():
        setattr(twin, name, value)
    twin.save(force_insert=True)
    return twin


class Ground:
    """One of everything, and then many."""

    def __init__(self, api: Api, admin: Api) -> None:
        self.api = api
        self.job = job_of(api, property={**builders.job()["property"], "location": {"lat": 41.5, "lon": -72.2}})
        run = sealed_of(api, self.job)
        self.ids = {"run": run["id"], "lateral": run["lateral"]}
        read(api.put(f"/laterals/{run['lateral']}/site", builders.site()))
        read(api.post(f"/runs/{run['id']}/amendments", {"reason": "r", "changes": {"inspector": "Ivy Lark"}}), 201)
        second = draft_of(api, self.job, external_ref="R-2", defects=[{"ref": "z", "kind": "hole", "at": 12}])
        read(api.post(f"/runs/{second['id']}/submit"), 202)
        pair = {"a": {"run": run["id"], "ref": "a"}, "b": {"run": second["id"], "ref": "z"}}
        decision = {"action": "reject", "reason": "two things", **pair}
        read(api.post(f"/laterals/{run['lateral']}/match-decisions", decision), 201)
        scope = read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 3}}), 202)
        self.ids |= {"repair-scope": scope["id"]}
        sent(api, scope, lines=[{"extension": 7000}])
        first = [{"section": 1, "done_on": "2027-05-18"}]
        read(api.post(f"/repair-scopes/{scope['id']}/closings", report(sections=first, tests=[])), 202)
        read(api.post(f"/laterals/{run['lateral']}/report-links", {}), 201)
        draft = draft_of(api, self.job, external_ref="R-3")
        row = {"job": "AF-1001", "run": "R-3", "ref": "1", "units": "us", "at": 1, "kind": "hole"}
        api._send("POST", "/imports", plain(row), {"Idempotency-Key": "k"}, media="application/x-ndjson")
        self.point = {"property": self.job["property"]["id"], "units": "us", "kind": "clean_out"}
        self.point |= {"lateral": run["lateral"], "location": {"lat": 41.5, "lon": -72.2}}
        read(api.post("/access-points", self.point), 201)
        read(admin.post("/code-maps", {"document": ALDER}), 201)
        asked = read(admin.post("/recomputations", {"scheme": "open-five"}), 202)
        url = {"url": "https://hooks.example.com/", "event_types": ["*"]}
        subscription = read(admin.post("/subscriptions", url), 201)
        read(admin.post(f"/subscriptions/{subscription['id']}/test"), 202)
        observed = models.ImportedObservation.objects.get(run=draft["id"])
        models.ImportedObservation.objects.filter(pk=observed.pk).update(run=run["id"])
        self.ids |= {"recomputation": asked["id"]}

    def grow(self, count: int) -> None:
        """Have that many more of everything, on as many properties."""
        run = models.Run.objects.get(pk=self.ids["run"])
        state = models.ReconciledLateral.objects.order_by("-created_at").first()
        for n in range(count):
            self._grow_one(n, run, state)

    def _grow_one(self, n: int, run: Any, state: Any) -> None:
        place = {**builders.job()["property"], "external_ref": f"P-more-{n}", "location": {"lat": 41.5, "lon": -72.2}}
        customer = {"external_ref": f"C-{n}", "name": "Rowan Ashby"}
        job = job_of(self.api, external_ref=f"AF-{n}", property=place, customer=customer)
        draft_of(self.api, job), draft_of(self.api, job)
        lateral = models.Lateral.objects.get(property=job["property"]["id"])
        read(self.api.put(f"/laterals/{lateral.pk}/site", builders.site()))
        read(
            self.api.post(
                "/access-points", {**self.point, "property": job["property"]["id"], "lateral": str(lateral.pk)}
            ),
            201,
        )
        here, first = again(state, lateral=lateral), models.RunGrading.objects.filter(run=run).first()
        graded, scope = models.LateralGrading.objects.filter(reconciled=state), models.RepairScope.objects.first()
        again(graded.first(), reconciled=here)
        again(scope, lateral=lateral), again(scope, lateral=state.lateral)
        again(first, run_revision=1000 + n)
        again(models.RunGrading.objects.filter(run=run).first(), run=job_run(job), run_revision=1)
        again(models.Amendment.objects.first(), run_revision=1000 + n)
        again(models.MatchDecision.objects.first())
        again(models.Bid.objects.first()), again(models.Closing.objects.first())
        again(models.ReportLink.objects.first(), digest=f"{n:064}")
        again(models.ImportedObservation.objects.first(), ref=f"r-{n}")
        again(models.Import.objects.first())
        again(models.Recomputation.objects.first())
        again(models.LateralDifference.objects.first(), lateral=lateral)
        again(models.Calculation.objects.first(), subject=uuid.uuid4())
        again(models.Subscription.objects.first())
        for kind in (models.GradingScheme, models.RateBook, models.RuleSet, models.CodeMap):
            again(kind.objects.first(), version=100 + n, is_default=False)
        again(models.Delivery.objects.first(), subscription=again(models.Subscription.objects.first()))
        again(models.ApiToken.objects.first(), digest=f"{n:064}")


def job_run(job: dict[str, Any]) -> Any:
    return models.Run.objects.filter(job=job["id"]).order_by("created_at").first()


def count(api: Api, address: str, ids: dict[str, str]) -> tuple[int, int]:
    """Return how many queries an address makes, and how many records it shows."""
    path = address.format(**ids)
    models.ApiToken.objects.update(last_used_at=timezone.now())  # its use is noted once a minute
    with CaptureQueriesContext(connection) as captured:
        page = read(api.get(f"/{path}{'&' if '?' in path else '?'}limit=200"))
    return len(captured), len(page.get("items", page.get("features")))


@pytest.mark.usefixtures("works")
def test_more_records_make_no_more_queries(api: Api, firm: people.Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outbox, "ring", lambda id: None)  # a hundred receivers would be rung for at every change
    admin = Api(firm.token("admin"))
    ground = Ground(api, admin)
    few = {address: count(admin, address, ground.ids) for address in QUERIES}
    assert {address: queries for address, (queries, _) in few.items()} == QUERIES
    assert [address for address, (_, shown) in few.items() if not shown] == []
    ground.grow(50)
    many = {address: count(admin, address, ground.ids) for address in QUERIES}
    assert {address: queries for address, (queries, _) in many.items()} == QUERIES
    assert [address for address in QUERIES if many[address][1] < few[address][1] + 50] == []


ONE: dict[str, Callable[[Api], str]] = {
    "jobs": lambda api: str(job_of(api)["id"]),
    "runs": lambda api: str(draft_of(api)["id"]),
    "customers": lambda api: str(job_of(api)["customer"]["id"]),
    "properties": lambda api: str(job_of(api)["property"]["id"]),
    "laterals": lambda api: str(job_of(api)["property"]["laterals"][0]["id"]),
}


@pytest.mark.parametrize("kind", ONE)
def test_a_list_shows_a_record_as_it_is_read_alone(api: Api, kind: str) -> None:
    id = ONE[kind](api)
    for query in ("", "?fields=created_at,revision", "?units=si"):
        if (kind == "customers" and "units" in query) or (kind == "jobs" and "units" in query):
            continue
        if kind == "laterals" and "fields" in query:
            query = "?fields=name,property"
        assert read(api.get(f"/{kind}{query}"))["items"] == [read(api.get(f"/{kind}/{id}{query}"))]
