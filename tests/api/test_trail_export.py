"""The trail outside: exported, verified by a script without access, held against an anchor, read as history."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from inspections import verify_trail
from inspections.models import AuditEntry, AuditHead
from inspections.services.trail import entry_hash
from inspections.verify_trail import DoesNotHold, verify
from tests import people
from tests.api.answers import draft_of, job_of, read, refused, sealed_of
from tests.client import Api
from tests.processes import ROOT
from tests.triggers import without_triggers


def exported(api: Api, query: str = "") -> list[str]:
    response = api.get(f"/audit-entries/export{query}")
    assert (response.status_code, response.headers["Content-Type"]) == (200, "application/x-ndjson")
    return b"".join(response.streaming_content).decode().rstrip("\n").split("\n")  # type: ignore[attr-defined]


def anchored() -> str:
    out = StringIO()
    call_command("anchor_audit", stdout=out)
    return out.getvalue()


def verified(anchor: Path | None = None) -> str:
    out = StringIO()
    call_command("verify_audit", *(("--anchor", str(anchor)) if anchor else ()), stdout=out)
    return out.getvalue()


@pytest.fixture
def run(api: Api, rung: list[str]) -> dict[str, Any]:
    """A run whose texts hold what JSON writers disagree about."""
    return sealed_of(api, inspector='Linden "Marsh" \\ \u00e9\u2028\U0001f600\t\x7f')


def test_an_export_verifies_without_access(api: Api, run: dict[str, Any], firm: people.Firm) -> None:
    lines = exported(api)
    mine = AuditEntry.objects.filter(organisation=firm.organisation)
    chains = mine.values("record_type", "record_id").distinct().count()
    assert verify(lines) == (mine.count(), chains, 0)
    assert json.loads(lines[-1]) == {"entries": mine.count()}


def test_the_script_is_short_and_runs_alone(api: Api, run: dict[str, Any], tmp_path: Path) -> None:
    source = (ROOT / "inspections" / "verify_trail.py").read_text()
    assert len(source.splitlines()) < 100
    script, trail, anchor = tmp_path / "verify_trail.py", tmp_path / "trail.ndjson", tmp_path / "anchor.ndjson"
    script.write_text(source)
    trail.write_text("\n".join(exported(api)) + "\n", encoding="utf-8")
    anchor.write_text(anchored())
    command = [sys.executable, "-I", str(script), str(trail), str(anchor)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "") and done.stdout.startswith("The trail holds")
    trail.write_text(trail.read_text(encoding="utf-8").replace("mistyped", "x").replace("submitted", "accepted", 1))
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 1 and "was changed after it was written" in done.stdout


def edited(lines: list[str]) -> list[str]:
    changed = {**json.loads(lines[1]), "actor": "nobody"}
    return [lines[0], json.dumps(changed), *lines[2:]]


def edited_with_its_hash(lines: list[str]) -> list[str]:
    changed = {**json.loads(lines[0]), "actor": "nobody"}
    changed["hash"] = verify_trail.entry_hash(changed)
    return [json.dumps(changed), *lines[1:]]


def swapped(lines: list[str]) -> list[str]:
    return [lines[1], lines[0], *lines[2:]]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (edited, "entry 2: was changed"),
        (edited_with_its_hash, "entry 2: does not follow"),
        (swapped, "entry 1 is missing"),
        (lambda lines: lines[1:], "entry 1 is missing"),
        (lambda lines: [lines[0], *lines[2:]], "cut"),
        (lambda lines: [lines[0], lines[0], *lines[1:]], "entry 2 is missing"),
        (lambda lines: lines[:-1], "cut"),
    ],
)
def test_a_changed_export_is_told(
    api: Api, run: dict[str, Any], change: Callable[[list[str]], list[str]], said: str
) -> None:
    lines = exported(api, f"?record_type=run&record_id={run['id']}")
    assert len(lines) == 3  # created, submitted, the last line
    with pytest.raises(DoesNotHold, match=said):
        verify(change(lines))


def test_a_tail_taken_off_with_its_head_edited_is_found_against_an_anchor_only(
    api: Api, run: dict[str, Any], tmp_path: Path
) -> None:
    anchor = tmp_path / "anchor.ndjson"
    anchor.write_text(anchored())
    assert "heads of the anchor still there" in verified(anchor)
    first = AuditEntry.objects.get(record_id=run["id"], number=1)
    with without_triggers():
        AuditEntry.objects.filter(record_id=run["id"], number=2).delete()
    AuditHead.objects.filter(record_id=run["id"]).update(number=1, hash=first.hash)
    assert verified().startswith("The trail holds")  # nothing inside the database gives it away
    with pytest.raises(CommandError, match=rf"run {run['id']}, entry 2 \(of the anchor\)"):
        verified(anchor)
    with pytest.raises(DoesNotHold, match="when the anchor was made"):
        verify(exported(api), anchor.read_text().splitlines())


def test_a_chain_written_anew_is_found_against_an_anchor(api: Api, run: dict[str, Any], tmp_path: Path) -> None:
    anchor = tmp_path / "anchor.ndjson"
    anchor.write_text(anchored())
    previous = "0" * 64
    for row in AuditEntry.objects.filter(record_id=run["id"]).order_by("number"):
        row.actor, row.previous_hash = "nobody", previous
        previous = entry_hash(row)
        with without_triggers():
            AuditEntry.objects.filter(pk=row.pk).update(actor="nobody", previous_hash=row.previous_hash, hash=previous)
    AuditHead.objects.filter(record_id=run["id"]).update(hash=previous)
    assert verified().startswith("The trail holds")
    with pytest.raises(CommandError, match=f"run {run['id']}"):
        verified(anchor)


def test_a_trail_that_grew_since_holds_against_its_anchor(
    api: Api, run: dict[str, Any], firm: people.Firm, rival_api: Api, tmp_path: Path
) -> None:
    job_of(rival_api)
    anchor = tmp_path / "anchor.ndjson"
    anchor.write_text(anchored())
    read(api.post(f"/runs/{run['id']}/accept"))
    job_of(api, external_ref="AF-2")
    assert verified(anchor).startswith("The trail holds")
    heads = [json.loads(line) for line in anchor.read_text().splitlines()]
    own = [head for head in heads if head["organisation"] == str(firm.organisation.id)]
    assert 0 < len(own) < len(heads)
    assert verify(exported(api), anchor.read_text().splitlines())[2] == len(own)


@pytest.mark.parametrize("content", ["nonsense", "[]", '{"record_type": "run"}'])
def test_a_file_that_is_no_anchor_is_said(db: None, tmp_path: Path, content: str) -> None:
    (tmp_path / "a").write_text(content)
    with pytest.raises(CommandError, match="not what anchor_audit prints"):
        verified(tmp_path / "a")


def test_the_export_shows_auditors_their_own_organisation_only(
    api: Api, run: dict[str, Any], rival_api: Api, firm: people.Firm
) -> None:
    refused(Api(firm.token("records:read", "runs:write")).get("/audit-entries/export"), 403, "scope_missing")
    assert run["id"] not in "".join(exported(rival_api))
    assert exported(rival_api, f"?record_id={run['id']}") == ['{"entries":0}']
    refused(api.get("/audit-entries/export?recordtype=run"), 400, "malformed", "/recordtype")


def test_the_history_of_a_run_says_who_did_what_when_and_why(api: Api, run: dict[str, Any]) -> None:
    amended = {"reason": "the counter slipped", "changes": {"counter_end": 61}}
    read(api.post(f"/runs/{run['id']}/amendments", amended), 201)
    entries = read(api.get(f"/runs/{run['id']}/history"))["items"]
    assert [(entry["number"], entry["action"], entry["reason"]) for entry in entries] == [
        (1, "created", ""),
        (2, "submitted", ""),
        (3, "amended", "the counter slipped"),
    ]
    assert {(entry["through"], entry["record_id"]) for entry in entries} == {("api", run["id"])}
    assert all(entry["actor"].startswith("token pbk_") and entry["request_id"] and entry["at"] for entry in entries)
    assert (entries[2]["before"]["counter_end"], entries[2]["after"]["counter_end"]) == (60, 61)


def test_a_history_is_read_in_pages(api: Api, run: dict[str, Any]) -> None:
    first = read(api.get(f"/runs/{run['id']}/history?limit=1"))
    second = read(api.http.get(first["next"]))
    assert [first["items"][0]["number"], second["items"][0]["number"]] == [1, 2]


def test_a_record_that_was_taken_away_keeps_its_history(api: Api) -> None:
    draft = draft_of(api)
    assert api.delete(f"/runs/{draft['id']}", **{"If-Match": "*"}).status_code == 204
    refused(api.get(f"/runs/{draft['id']}"), 404, "not_found")
    actions = [entry["action"] for entry in read(api.get(f"/runs/{draft['id']}/history"))["items"]]
    assert actions == ["created", "deleted"]


def test_the_history_of_a_lateral_holds_that_of_its_site(api: Api, run: dict[str, Any]) -> None:
    from_soil = {"units": "us", "soil": "B"}
    read(api.put(f"/laterals/{run['lateral']}/site", from_soil, **{"If-Match": "*"}))
    entries = read(api.get(f"/laterals/{run['lateral']}/history"))["items"]
    assert [(entry["record_type"], entry["action"]) for entry in entries] == [("lateral", "made"), ("site", "changed")]


def test_the_history_of_another_kind_of_record_is_not_there(api: Api, run: dict[str, Any]) -> None:
    refused(api.get(f"/jobs/{run['id']}/history"), 404, "not_found")
    refused(api.get("/jobs/nonsense/history"), 404, "not_found")
