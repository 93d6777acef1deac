"""The desk page: jobs by inspector, work that waits, runs to review; and lists that stay cheap and safe."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from inspections import models as records
from inspections.admin import today
from inspections.models import Calculation, Job, Run, User
from tests import builders
from tests.admin.conftest import desk, made
from tests.admin.test_pages_open import address
from tests.client import Api

DESK = "/admin/desk/"


def tomorrow(start: str, end: str) -> dict[str, str]:
    """Return a window of tomorrow."""
    day = (timezone.now() + timedelta(days=1)).date().isoformat()
    return {"start": f"{day}T{start}:00+00:00", "end": f"{day}T{end}:00+00:00"}


def visit(api: Api, ref: str, inspector: User | None, start: str, end: str) -> Job:
    """Ask for a job of tomorrow and give it to an inspector."""
    job = made(api.post("/jobs", builders.job(external_ref=ref, window=tomorrow(start, end))))
    Job.objects.filter(pk=job["id"]).update(inspector=inspector)
    return Job.objects.get(pk=job["id"])


def test_jobs_of_one_inspector_that_overlap_are_marked(api: Api, dispatcher: Client, inspector: User) -> None:
    visit(api, "early", inspector, "08:00", "10:00")
    visit(api, "clash", inspector, "09:30", "11:00")
    visit(api, "after", inspector, "11:00", "12:00")  # begins as the other ends: no clash
    visit(api, "nobody", None, "09:00", "10:00")
    rounds = dispatcher.get(DESK).context["rounds"]
    assert [one.inspector for one in rounds] == ["nobody yet", "Linden Marsh"]
    marked = {visit.job.external_ref: visit.overlaps for one in rounds for visit in one.visits}
    assert marked == {"early": ("clash",), "clash": ("early",), "after": (), "nobody": ()}


def test_what_needs_somebody_is_said_at_a_glance(
    api: Api, dispatcher: Client, inspector: User, failed: Calculation
) -> None:
    visit(api, "early", inspector, "08:00", "10:00")
    visit(api, "clash", inspector, "09:30", "11:00")
    page = dispatcher.get(DESK).content.decode()
    glance = page[page.index('<ul class="at-a-glance">') : page.index('id="visits"')]
    for said in ("2 visits collide", "<strong>early</strong>, <strong>clash</strong>", "1 piece of work failed"):
        assert said in glance
    assert "1 run to review" in glance


def test_a_job_shows_the_inspectors_day_and_warns_when_it_is_moved_into_another(
    api: Api, dispatcher: Client, inspector: User
) -> None:
    visit(api, "early", inspector, "08:00", "10:00")
    late = visit(api, "late", inspector, "11:00", "12:00")
    page = f"/admin/inspections/job/{late.pk}/change/"
    shown = dispatcher.get(page).content.decode()
    assert "08:00 to 10:00 (+0000)" in shown and "overlaps" not in shown
    day = late.window_start.date().isoformat()
    typed = {"inspector": inspector.pk, "state": late.state, "instructions": "", "seen_revision": late.revision}
    typed |= {"window_start_0": day, "window_start_1": "09:00", "window_end_0": day, "window_end_1": "10:30"}
    said = dispatcher.post(page, typed, follow=True).content.decode()
    assert "Collision: late overlaps early in the inspector&#x27;s day." in said


def test_runs_with_what_must_not_wait_come_first(api: Api, auditor: Client, job: Job, rung: list[str]) -> None:
    for ref, kind in (("calm", "roots"), ("urgent", "collapse")):
        defects = [{"ref": "x", "kind": kind, "at": 12}]
        run = made(api.post("/runs", builders.run(str(job.pk), external_ref=ref, defects=defects)))
        made(api.post(f"/runs/{run['id']}/submit"))
    assert [one.run.external_ref for one in auditor.get(DESK).context["waiting"]] == ["urgent", "calm"]


def test_long_work_shows_how_far_it_is_without_a_script(api: Api, dispatcher: Client, run: Run) -> None:
    scheme = records.GradingScheme.objects.get(organisation=run.organisation, is_default=True)
    row = records.Recomputation.objects.create(
        organisation=run.organisation, scheme=scheme, against=scheme, apply=True, total=300, done=120
    )
    work = Calculation.objects.create(
        organisation=run.organisation, kind="recompute", subject=row.pk, subject_revision=1, rules_version="x"
    )
    records.Recomputation.objects.filter(pk=row.pk).update(calculation=work)
    for page in (DESK, "/admin/inspections/recomputation/", f"/admin/inspections/recomputation/{row.pk}/change/"):
        shown = dispatcher.get(page).content.decode()
        assert '<progress max="300" value="120"' in shown and "120 of 300 laterals, queued" in shown, page


def test_the_day_begins_at_midnight_where_the_house_stands(api: Api, inspector: User) -> None:
    late, early = "2027-03-01T23:30:00-05:00", "2027-03-02T00:30:00-05:00"  # 04:30 and 05:30 UTC on 2 March
    jobs = [made(api.post("/jobs", builders.job(external_ref=at, window={"start": at}))) for at in (late, early)]
    rows = list(Job.objects.filter(pk__in=[job["id"] for job in jobs]))
    at_two = datetime.fromisoformat("2027-03-02T07:00:00+00:00")  # two in the morning there: 2 March
    assert [visit.job.external_ref for one in today.rounds(rows, at_two) for visit in one.visits] == [early]
    at_ten = datetime.fromisoformat("2027-03-02T03:00:00+00:00")  # ten in the evening there: still 1 March
    assert [str(one.day) for one in today.rounds(rows, at_ten)] == ["2027-03-01", "2027-03-02"]


def test_hours_are_shown_as_they_were_written(api: Api, dispatcher: Client) -> None:
    window = {end: at.replace("+00:00", "-05:00") for end, at in tomorrow("08:00", "10:00").items()}
    made(api.post("/jobs", builders.job(window=window)))
    assert "08:00 to 10:00 (-0500)" in dispatcher.get(DESK).content.decode()


def test_an_inspector_sees_their_own_day(api: Api, inspector: User) -> None:
    visit(api, "mine", inspector, "08:00", "10:00")
    visit(api, "theirs", None, "08:00", "10:00")
    page = desk(inspector).get(DESK)
    assert [one.inspector for one in page.context["rounds"]] == ["Linden Marsh"]
    assert b"Work that failed" not in page.content


def test_failed_work_shows_its_reason_and_a_button(failed: Calculation, dispatcher: Client) -> None:
    page = dispatcher.get(DESK).content.decode()
    assert "&lt;b&gt;the pipe&lt;/b&gt; is longer than the run" in page
    assert f"/admin/inspections/calculation/{failed.pk}/again/" in page


def test_runs_to_review_show_what_is_missing(api: Api, run: Run, auditor: Client) -> None:
    changes = {"reason": "It was not written down.", "changes": {"started_at": None, "segments": []}}
    assert api.post(f"/runs/{run.pk}/amendments", changes).status_code == 201
    (waiting,) = auditor.get(DESK).context["waiting"]
    assert waiting.lacks == (
        "Say when the run was made.",
        "Give material and diameter of the pipe from counter to counter.",
    )
    assert f"/admin/inspections/run/{run.pk}/review/" in auditor.get(DESK).content.decode()


def test_what_must_not_wait_stands_wherever_the_run_does(api: Api, job: Job, auditor: Client, works: None) -> None:
    hurt = [
        {"kind": "foreign_line", "at": 20, "note": "a yellow plastic pipe crosses the drain"},
        {"kind": "broken", "at": 30, "soil_seen": True},
    ]
    sent = made(api.post("/runs", builders.run(str(job.pk), defects=hurt, unseen=[])))
    made(api.post(f"/runs/{sent['id']}/submit"))
    scope = made(api.post(f"/laterals/{sent['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 3}}))
    pages = [DESK, f"/admin/inspections/run/{sent['id']}/change/", f"/admin/inspections/run/{sent['id']}/review/"]
    pages += [f"/admin/inspections/lateral/{sent['lateral']}/change/"]
    pages += [f"/admin/inspections/repairscope/{scope['id']}/change/"]
    for page in pages:
        shown = auditor.get(page).content.decode()
        assert "Imminent collapse: broken with soil to be seen behind it" in shown, page
        assert "it may be a gas main. No cutting, no jetting" in shown, page


def test_jobs_are_found_by_when_and_by_whose_they_are(api: Api, dispatcher: Client, inspector: User) -> None:
    visit(api, "tomorrow", inspector, "08:00", "10:00")
    made(api.post("/jobs", builders.job(external_ref="whenever", window=None)))
    made(api.post("/jobs", builders.job(external_ref="far", window={"start": "2150-01-01T08:00:00Z"})))

    def found(**filters: str) -> set[str]:
        listed = dispatcher.get("/admin/inspections/job/", filters).context["cl"].result_list
        return {job.external_ref for job in listed}

    assert found(when="coming") == {"tomorrow"}
    assert found(when="later") == {"far"}
    assert found(when="no_time") == {"whenever"}
    assert found(when="past") == set()
    assert found(inspector=str(inspector.pk)) == {"tomorrow"}
    assert found(inspector="nobody") == {"whenever", "far"}


def test_a_search_looks_into_what_a_record_refers_to(api: Api, dispatcher: Client, inspector: User) -> None:
    one = visit(api, "AF-1", inspector, "08:00", "10:00")
    other = {"address": {"line1": "9 Sluice Street", "locality": "Alder Falls"}}
    made(api.post("/jobs", builders.job(external_ref="AF-10", property=other, customer={"name": "Wren Calloway"})))
    Calculation.objects.create(
        organisation=one.organisation, kind="grade_run", subject=one.pk, subject_revision=1, rules_version="x"
    )

    def found(kind: str, q: str) -> list[str]:
        listed = dispatcher.get(f"/admin/inspections/{kind}/", {"q": q}).context["cl"].result_list
        return sorted(str(getattr(row, "external_ref", None) or row.subject) for row in listed)

    assert found("job", "calloway") == found("job", "sluice wren") == found("job", '"9 Sluice"') == ["AF-10"]
    assert found("job", "linden") == [] and found("job", "inspector") == ["AF-1"]  # the username
    assert found("job", "AF-1") == ["AF-1"]  # a whole reference means that record
    assert found("job", "AF-") == ["AF-1", "AF-10"]
    assert found("job", "sluice ashby") == []
    assert found("calculation", str(one.pk)) == [str(one.pk)] and found("calculation", "nothing") == []


def _fill(api: Api, count: int, inspector: User) -> None:
    for number in range(count):
        place = {"address": {"line1": f"{number} Millrace Lane", "locality": "Alder Falls"}}
        who = {"name": f"Household {number}"}
        document = builders.job(
            external_ref=f"N-{inspector.pk}-{count}-{number}",
            customer=who,
            property=place,
            window=tomorrow("08:00", "10:00"),
        )
        job = made(api.post("/jobs", document))
        Job.objects.filter(pk=job["id"]).update(inspector=inspector)
        run = made(api.post("/runs", builders.run(job["id"])))
        made(api.post(f"/runs/{run['id']}/submit"))
        access = {"property": job["property"]["id"], "units": "us", "kind": "clean_out"}
        made(api.post("/access-points", access))


CHEAP = [
    records.Customer,
    records.Property,
    records.AccessPoint,
    records.Lateral,
    records.Site,
    records.Job,
    records.Run,
    records.RunGrading,
    records.ReconciledLateral,
    records.Calculation,
    records.AuditEntry,
    records.Event,
    records.KeptAnswer,
]


def test_lists_and_desk_ask_as_often_for_thirty_rows_as_for_three(
    works: None, api: Api, administrator: Client, inspector: User, django_assert_max_num_queries: Any
) -> None:
    _fill(api, 3, inspector)
    addresses = [DESK, *(address(model, "changelist") for model in CHEAP)]
    few = {}
    for one in addresses:
        administrator.get(one)  # what is read once a process is read now
        with django_assert_max_num_queries(15) as asked:
            administrator.get(one)
        few[one] = len(asked.captured_queries)
    _fill(api, 27, inspector)
    for one in addresses:
        with django_assert_max_num_queries(few[one]):
            administrator.get(one)


@pytest.mark.parametrize("role", ["administrator", "auditor"])
def test_hostile_names_are_shown_as_text(works: None, api: Api, firm: Any, inspector: User, role: str) -> None:
    from tests.admin.conftest import everything, person

    hostile = "<script>alert(1)</script>"
    everything(api)
    records.Customer.objects.update(name=hostile)
    records.Property.objects.update(line1=hostile)
    records.AccessPoint.objects.update(label=hostile, how_to_find=hostile)
    Job.objects.update(instructions=hostile, external_ref=hostile, window_start=timezone.now(), inspector=inspector)
    Run.objects.filter(state="submitted").update(external_ref=hostile)
    Run.objects.update(access_label=hostile, inspector=hostile, review_reasons=[hostile])
    User.objects.filter(pk=inspector.pk).update(first_name=hostile)
    records.Defect.objects.update(note=hostile)
    records.Calculation.objects.update(error=hostile, state="failed")
    made(api.post("/jobs", builders.job(external_ref="H", instructions=hostile, customer={"name": hostile})))
    client = desk(person(firm, role))
    shown = 0
    for model in (records.Customer, records.Property, records.AccessPoint, records.Job, records.Run, records.Lateral,
                  records.Calculation, records.AuditEntry, records.KeptAnswer):  # fmt: skip
        rows = list(model._default_manager.order_by("-pk")[:8])
        for page in [
            address(model, "changelist"),
            *(address(model, p, row.pk) for row in rows for p in ("change", "history")),
        ]:
            content = client.get(page).content.decode()
            assert hostile not in content, page
            shown += "&lt;script&gt;alert(1)" in content
    for page in (DESK, "/admin/"):
        assert hostile not in client.get(page).content.decode()
    assert shown > 15
