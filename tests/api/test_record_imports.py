"""Records as lines: each is answered as it would be alone, safe to repeat, tried first, and no line is dropped."""

from __future__ import annotations

import csv
import io
import json
import uuid
from typing import Any

import pytest

from inspections.api.record_imports import MOST_LINES
from inspections.models import AuditEntry, Customer, Import, Property
from tests import builders, people
from tests.api.answers import draft_of, job_of, nothing_changes, read, refused, sealed_of
from tests.api.test_imports import lines_of, text_of
from tests.client import Api

NDJSON, CSV = "application/x-ndjson", "text/csv"
ASHBY: dict[str, Any] = {"external_ref": "C-1", "name": "Rowan Ashby", "kind": "household"}


def send(api: Api, kind: str, body: str | bytes, *, media: str = NDJSON, query: str = "", key: str = "") -> Any:
    headers = {"Idempotency-Key": key or str(uuid.uuid4())}
    return api._send("POST", f"/imports/{kind}{query}", body, headers, media=media)


def imported(api: Api, kind: str, *rows: Any, query: str = "") -> list[dict[str, Any]]:
    return lines_of(send(api, kind, text_of(list(rows)), query=query))


def table(api: Api, kind: str, text: str, query: str = "") -> list[dict[str, Any]]:
    return lines_of(send(api, kind, text, media=CSV, query=query))


def outcomes(lines: list[dict[str, Any]]) -> list[str]:
    return [one["outcome"] for one in lines]


def test_each_line_is_made_or_refused_with_all_its_faults_and_the_sound_ones_stand(api: Api) -> None:
    lines = imported(
        api,
        "customers",
        ASHBY,
        {"external_ref": "C-2", "name": 5, "kind": "hermit"},
        "{not json",
        ["a list"],
        {"name": "Nobody knows me again"},
        {"external_ref": "C-3", "name": "Juniper Hale", "nmae": "x"},
        {**ASHBY, "name": "Again"},
        {"external_ref": "C-4", "name": "Wren Calloway"},
    )
    assert [(one["line"], one["outcome"], one["code"]) for one in lines] == [
        (1, "made", None),
        (2, "refused", "malformed"),
        (3, "refused", "malformed"),
        (4, "refused", "not_an_object"),
        (5, "refused", "required"),
        (6, "refused", "malformed"),
        (7, "refused", "stands_twice"),
        (8, "made", None),
    ]
    assert {(one["pointer"], one["code"]) for one in lines[1]["errors"]} == {
        ("/name", "not_text"),
        ("/kind", "unknown_value"),
    }
    assert lines[5]["errors"][0]["detail"].endswith("did you mean name?")
    assert read(api.get(f"/customers/{lines[0]['id']}"))["name"] == "Rowan Ashby"
    assert sorted(Customer.objects.values_list("external_ref", flat=True)) == ["C-1", "C-4"]
    made = Import.objects.get()
    assert (made.kind, made.lines, made.taken, made.refused) == ("customers", 8, 2, 6)
    assert read(api.get("/imports?kind=customers"))["items"][0]["kind"] == "customers"


def test_the_same_lines_again_change_nothing_and_other_content_only_where_it_is_to_replace(api: Api) -> None:
    (first,) = imported(api, "customers", ASHBY)
    (again,) = imported(api, "customers", ASHBY)
    assert (again["outcome"], again["id"]) == ("unchanged", first["id"])
    moved = {**ASHBY, "phone": "555-0188"}
    (kept,) = imported(api, "customers", moved)
    assert (kept["outcome"], kept["code"], kept["id"]) == ("refused", "external_ref_taken", None)
    (changed,) = imported(api, "customers", moved, query="?replace=true")
    assert (changed["outcome"], changed["id"]) == ("changed", first["id"])
    assert read(api.get(f"/customers/{first['id']}"))["phone"] == "555-0188"
    assert outcomes(imported(api, "customers", moved, query="?replace=true")) == ["unchanged"]


def test_a_line_under_an_id_is_a_put(api: Api) -> None:
    id = str(uuid.uuid4())
    assert imported(api, "customers", {"id": id, "name": "Fern Abbot"})[0]["id"] == id
    assert outcomes(imported(api, "customers", {"id": id, "name": "Fern Abbot"})) == ["unchanged"]
    (other,) = imported(api, "customers", {"id": id, "name": "Fern Abbott"})
    assert (other["outcome"], other["code"]) == ("refused", "revision_required")
    assert outcomes(imported(api, "customers", {"id": id, "name": "Fern Abbott"}, query="?replace=true")) == [
        "changed"
    ]


def test_an_id_is_a_uuid_and_never_leads_to_another_record(api: Api) -> None:
    (first,) = imported(api, "customers", ASHBY)
    other = {**ASHBY, "id": str(uuid.uuid4()), "name": "Fern Abbot"}
    odd = [{"id": id, "name": "x"} for id in (f"{uuid.uuid4()}?dry_run=true", "a/b", 5, [])]
    with nothing_changes(but=("Import", "AuditEntry", "AuditHead", "Event", "KeptAnswer")):
        lines = imported(api, "customers", other, *odd, query="?replace=true")
    assert [one["code"] for one in lines] == ["external_ref_taken", *["malformed"] * 4]
    assert [one["errors"][0]["code"] for one in lines[1:]] == ["not_a_uuid"] * 4
    assert read(api.get(f"/customers/{first['id']}"))["name"] == "Rowan Ashby"


def test_the_same_key_is_answered_byte_for_byte_and_trying_first_changes_nothing(api: Api) -> None:
    body = text_of([ASHBY, {"external_ref": "C-2"}])
    with nothing_changes():
        tried = send(api, "customers", body, query="?dry_run=true")
    assert outcomes(lines_of(tried)) == ["made", "refused"]
    first = send(api, "customers", body, key="k")
    assert outcomes(lines_of(first)) == ["made", "refused"]
    with nothing_changes():
        again = send(api, "customers", body, key="k")
    assert again.content == first.content and again.headers["Idempotency-Replayed"] == "true"
    with nothing_changes():
        refused(send(api, "customers", text_of([ASHBY]), key="k"), 422, "idempotency_key_reused")
        refused(api._send("POST", "/imports/customers", body, {}, media=NDJSON), 400, "idempotency_key_required")


def test_a_whole_day_comes_in_by_the_callers_own_keys(api: Api) -> None:
    imported(api, "customers", ASHBY)
    place = {"external_ref": "P-1", "customer_ref": "C-1", "address": {"line1": "9 Sluice Street"}}
    (house,) = imported(api, "properties", place)
    assert read(api.get(f"/properties/{house['id']}?expand=customer"))["customer"]["name"] == "Rowan Ashby"
    point = {"external_ref": "A-1", "property_ref": "P-1", "units": "us", "kind": "clean_out", "size": 4.0}
    assert outcomes(imported(api, "access-points", point)) == ["made"]
    job = {"external_ref": "J-1", "purpose": "routine", "customer": ASHBY, "property_id": house["id"]}
    (asked,) = imported(api, "jobs", job)
    run = {name: value for name, value in builders.run(asked["id"]).items() if name != "job"}
    sent = imported(
        api,
        "runs",
        {**run, "external_ref": "R-1", "job_ref": "J-1"},
        {**run, "external_ref": "R-2", "job_ref": "J-2"},
        {**run, "external_ref": "R-3", "job_ref": "J-1", "job": asked["id"]},
    )
    assert [(one["outcome"], [fault["pointer"] for fault in one["errors"]]) for one in sent] == [
        ("made", []),
        ("refused", ["/job_ref"]),
        ("refused", ["/job_ref"]),
    ]
    assert read(api.get(f"/runs/{sent[0]['id']}"))["job"] == asked["id"]
    assert AuditEntry.objects.filter(record_id=sent[0]["id"]).count() == 1


def test_a_sealed_run_is_not_written_over(api: Api) -> None:
    run = sealed_of(api, external_ref="R-1")
    document = {**builders.run(run["job"]), "external_ref": "R-1", "inspector": "Ivy Lark"}
    (line,) = imported(api, "runs", document, query="?replace=true")
    assert (line["outcome"], line["code"]) == ("refused", "run_is_sealed")
    assert read(api.get(f"/runs/{run['id']}"))["inspector"] != "Ivy Lark"


def test_a_table_comes_in_with_its_numbers_digit_for_digit(api: Api) -> None:
    lines = table(
        api,
        "properties",
        "\ufeffexternal_ref,address.line1,address.locality,year_built,location.lat,location.lon\r\n"
        'P-1,"9 Sluice Street, rear",Alder Falls,1948,41.50,-72.20\r\n'
        "P-2,10 Sluice Street,,,,\r\n"
        "P-3,11 Sluice Street,Alder Falls,old,41,-72\r\n"
        "\r\n"
        "P-4,12 Sluice Street\r\n",
    )
    assert [(one["line"], one["outcome"], one["code"]) for one in lines] == [
        (2, "made", None),
        (3, "made", None),
        (4, "refused", "malformed"),
        (6, "refused", "cell_count"),
    ]
    assert lines[2]["errors"][0]["pointer"] == "/year_built"
    shown = api.get(f"/properties/{lines[0]['id']}").content.decode()
    assert '"lat":41.50,"lon":-72.20' in shown
    second = read(api.get(f"/properties/{lines[1]['id']}"))
    assert (second["location"], second["year_built"], second["address"]["locality"]) == (None, None, None)


@pytest.mark.parametrize(
    ("text", "pointer"),
    [
        ("external_ref,nmae\r\nC-1,x\r\n", "/nmae"),
        ("external_ref,name,name\r\nC-1,x,y\r\n", "/name"),
        ('external_ref,name\r\nC-1,"open\r\n', None),
        (b"external_ref,name\r\nC-1,\xff\r\n", None),
        ("external_ref,name\r\nC-1," + "x" * 10_001 + "\r\n", None),
    ],
)
def test_a_table_that_cannot_be_read_is_refused_as_a_whole(api: Api, text: Any, pointer: str | None) -> None:
    with nothing_changes():
        problem = refused(send(api, "customers", text, media=CSV), 400, "malformed")
    assert [one["pointer"] for one in problem["errors"]] == ([pointer] if pointer else [])


def test_what_is_no_import_is_refused_and_changes_nothing(api: Api, firm: people.Firm) -> None:
    reader = Api(firm.token("records:read"))
    with nothing_changes():
        refused(send(api, "customers", "\n"), 422, "invalid")
        refused(send(api, "customers", "", media=CSV), 422, "invalid")
        refused(send(api, "customers", "external_ref,name\r\n", media=CSV), 422, "invalid")
        refused(send(api, "customers", text_of([ASHBY] * (MOST_LINES + 1))), 422, "invalid")
        refused(send(api, "customers", text_of([ASHBY]), media="application/json"), 415, "media_type_not_supported")
        refused(send(api, "runs", "external_ref\r\nx\r\n", media=CSV), 415, "media_type_not_supported")
        refused(send(api, "customers", text_of([ASHBY]), query="?replace=yes"), 400, "malformed", "/replace")
        refused(send(reader, "customers", text_of([ASHBY])), 403, "scope_missing")
        answer = send(api, "customers", text_of([{"external_ref": "a\x00", "name": "x"}]), query="?dry_run=true")
        assert outcomes(lines_of(answer)) == ["refused"]


def test_a_rivals_records_are_neither_found_nor_named(api: Api, rival_api: Api) -> None:
    theirs = job_of(rival_api)
    mine = {"external_ref": "P-9", "address": {"line1": "1 Weir Row"}}
    lines = imported(
        api,
        "properties",
        {**mine, "customer_ref": theirs["customer"]["external_ref"]},
        {**mine, "external_ref": "P-10", "customer_id": theirs["customer"]["id"]},
        {**mine, "id": theirs["property"]["id"], "external_ref": "P-11"},
        query="?replace=true",
    )
    assert outcomes(lines) == ["refused"] * 3
    assert lines[2]["code"] == "not_found"
    assert Property.objects.filter(organisation__name__startswith="Alder").count() == 0


HOSTILE = ["=1+1", "'=1+1", "''x", "'tis", "@home", "-2", "  +3", "O'Dell", "\tx", "'", "a\r\nb", '"quoted"', "１＝2"]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("kind", ["customers", "properties", "access-points"])
def test_an_export_comes_back_in_as_it_was(api: Api, kind: str) -> None:
    job = job_of(api)
    for number, text in enumerate(HOSTILE):
        record = {
            "customers": {"name": text},
            "properties": {"address": {"line1": text}, "location": {"lat": 41.5, "lon": -72.2}},
            "access-points": {"property": job["property"]["id"], "units": "us", "kind": "other", "label": text},
        }[kind]
        read(api.post(f"/{kind}", {**record, "external_ref": f"X-{number}"}), 201)
    answer = api.get(f"/exports/{kind}.csv")
    content = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    rows = list(csv.reader(io.StringIO(content.decode(), newline="")))
    executed = [cell for row in rows for cell in row if cell[:1] in "=+@\t" and cell]
    assert len(rows) >= len(HOSTILE) and not executed
    with nothing_changes(but=("Import", "AuditEntry", "AuditHead", "Event", "KeptAnswer")):
        lines = lines_of(send(api, kind, content, media=CSV))
    assert set(outcomes(lines)) == {"unchanged"}
    lined = b"".join(api.get(f"/exports/{kind}.ndjson").streaming_content)  # type: ignore[attr-defined]
    for line in lined.splitlines():
        document = json.loads(line)
        kept = {name: value for name, value in document.items() if name not in ("laterals", "erased_at")}
        assert outcomes(imported(api, kind, kept)) == ["unchanged"]


def test_a_draft_is_replaced_where_it_is_to_be(api: Api) -> None:
    run = draft_of(api, external_ref="R-1")
    document = {**builders.run(run["job"]), "external_ref": "R-1", "inspector": "Ivy Lark"}
    assert outcomes(imported(api, "runs", document)) == ["refused"]
    assert outcomes(imported(api, "runs", document, query="?replace=true")) == ["changed"]
    assert read(api.get(f"/runs/{run['id']}"))["inspector"] == "Ivy Lark"
