"""The desk as each role uses it, in a real browser: by keyboard alone, also at the width of a phone."""

from __future__ import annotations

import json
import re
import urllib.request
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests import builders
from tests.browser.conftest import Seen, Town
from tests.browser.test_pages import by_keyboard, serious

As = Callable[[str], Page]
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def tomorrow(town: Town) -> list[str]:
    """Two jobs of tomorrow morning that overlap, as scheduling software asks for them."""
    day = (datetime.now(UTC) + timedelta(days=1)).date().isoformat()
    hours = {"AF-3001": ("08:00", "10:00"), "AF-3002": ("09:30", "11:00")}
    return [
        asked(town, ref, {"start": f"{day}T{start}:00+00:00", "end": f"{day}T{end}:00+00:00"})
        for ref, (start, end) in hours.items()
    ]


def asked(town: Town, ref: str, window: dict[str, str]) -> str:
    """Ask for a job over the API and return its id."""
    body = builders.job(external_ref=ref, window=window)
    request = urllib.request.Request(
        f"{town.base}/api/v1/jobs",
        method="POST",
        data=json.dumps(body).encode(),
        headers={
            "Authorization": f"Bearer {town.token}",
            "Content-Type": "application/json",
            "Idempotency-Key": str(uuid.uuid4()),
        },
    )
    with urllib.request.urlopen(request, timeout=30) as answer:
        return str(json.loads(answer.read())["id"])


def fits(page: Page) -> None:
    """Hold that a page needs no scrolling sideways on a phone and is readable to all there too."""
    page.set_viewport_size(PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert serious(page) == []
    page.set_viewport_size({"width": 1200, "height": 900})


def clean(seen: Seen) -> None:
    """Hold that nothing came from outside and that no policy was broken."""
    assert seen.foreign == []
    assert seen.complaints == []


def test_a_dispatcher_assigns_by_keyboard_and_sees_what_collides(
    at_desk: As, town: Town, tomorrow: list[str], seen: Seen
) -> None:
    desk = at_desk("dispatcher")
    for id in tomorrow:
        desk.goto(f"{town.base}/admin/desk/")
        by_keyboard(desk, desk.locator(f'#visits a[href*="{id}"]'))
        desk.wait_for_url(re.compile("/change/"))
        desk.locator("#id_inspector").focus()
        desk.keyboard.type("linden")
        by_keyboard(desk, desk.locator("[name=_save]"))
        expect(desk.get_by_text("was changed successfully")).to_be_visible()
    expect(desk.get_by_text("Collision: AF-3002 overlaps AF-3001")).to_be_visible()
    desk.goto(f"{town.base}/admin/desk/")
    glance = desk.locator(".at-a-glance")
    expect(glance).to_contain_text("2 visits collide: AF-3001, AF-3002")
    expect(glance).to_contain_text("with what must not wait")
    assert serious(desk) == []
    fits(desk)
    clean(seen)


def test_a_dispatcher_moves_a_visit_out_of_the_way(at_desk: As, town: Town, tomorrow: list[str], seen: Seen) -> None:
    desk = at_desk("dispatcher")
    desk.goto(f"{town.base}/admin/inspections/job/{tomorrow[1]}/change/")
    for field, hour in (("#id_window_end_1", "16:00"), ("#id_window_start_1", "14:00")):
        desk.locator(field).fill(hour)
    by_keyboard(desk, desk.locator("[name=_save]"))
    expect(desk.get_by_text("was changed successfully")).to_be_visible()
    expect(desk.get_by_text("Collision:")).to_have_count(0)
    desk.goto(f"{town.base}/admin/inspections/job/{tomorrow[1]}/history/")
    expect(desk.locator("#content")).to_contain_text("user hazel")
    expect(desk.locator("#content")).to_contain_text("window, start")
    assert serious(desk) == []
    fits(desk)
    clean(seen)


@pytest.mark.parametrize("kind", ["job", "property", "accesspoint", "customer", "ratebook", "user"])
def test_every_field_of_a_form_has_a_name(desk: Page, town: Town, seen: Seen, kind: str) -> None:
    desk.goto(f"{town.base}/admin/inspections/{kind}/add/")
    assert desk.locator("[name=_save]").count() == 1
    clean(seen)  # before the checker, which tries styles of its own
    assert serious(desk) == []


def test_a_shared_report_opens_without_an_account_until_it_is_withdrawn(
    at_desk: As, town: Town, chromium: Browser, seen: Seen
) -> None:
    desk = at_desk("dispatcher")
    lateral = re.search(r"laterals/([0-9a-f-]{36})", town.report)
    assert lateral
    desk.goto(f"{town.base}/admin/inspections/lateral/{lateral[1]}/change/")
    by_keyboard(desk, desk.get_by_role("link", name="Share the report"))
    desk.wait_for_url(re.compile("/share/"))
    desk.get_by_label("For whom").fill("Rowan Ashby")
    assert serious(desk) == []
    by_keyboard(desk, desk.get_by_role("button", name="Make the link"))
    url = desk.locator(".once code").inner_text()
    fits(desk)
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    reader, complaints = context.new_page(), []
    reader.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    reader.goto(url)
    expect(reader.get_by_text("Shown by a link made on")).to_be_visible()
    assert reader.evaluate("document.documentElement.scrollWidth") <= 390
    assert serious(reader) == []
    desk.goto(f"{town.base}/admin/inspections/reportlink/")
    expect(desk.locator("#result_list")).to_contain_text("Rowan Ashby")
    assert serious(desk) == []
    desk.locator("#result_list tbody input[type=checkbox]").first.check()
    desk.locator("select[name=action]").select_option("revoke")
    by_keyboard(desk, desk.locator("button[name=index]"))
    expect(desk.get_by_text("1 withdrawn.")).to_be_visible()
    answer = reader.goto(url)
    assert answer is not None and answer.status == 410
    expect(reader.get_by_text("This link was withdrawn.")).to_be_visible()
    assert serious(reader) == []
    assert [one for one in complaints if "410" not in one] == []
    context.close()
    clean(seen)


def test_an_auditor_returns_a_run_with_reasons_and_checks_the_trail(at_desk: As, town: Town, seen: Seen) -> None:
    desk = at_desk("auditor")
    desk.goto(f"{town.base}/admin/desk/")
    by_keyboard(desk, desk.locator("#waiting").get_by_role("link", name="Accept or return").first)
    desk.wait_for_url(re.compile("/review/"))
    by_keyboard(desk, desk.get_by_label("accept", exact=False).first, press="Space")
    desk.keyboard.press("ArrowDown")
    expect(desk.get_by_label("return it", exact=False)).to_be_checked()
    by_keyboard(desk, desk.get_by_role("button", name="Save the verdict"))
    expect(desk.get_by_text("Say why the run is returned, one reason a line.")).to_be_visible()
    desk.locator("#id_reasons").fill("The lens is fouled from 20 ft on.")
    assert serious(desk) == []
    fits(desk)
    by_keyboard(desk, desk.get_by_role("button", name="Save the verdict"))
    expect(desk.get_by_text("The run is returned.")).to_be_visible()
    desk.goto(f"{town.base}/admin/inspections/auditentry/")
    by_keyboard(desk, desk.get_by_role("button", name="Verify the trail"))
    expect(desk.get_by_text("The trail is whole")).to_be_visible()
    clean(seen)


def test_an_inspector_sees_their_own_day_and_nothing_else(at_desk: As, town: Town, tomorrow: list[str]) -> None:
    desk = at_desk("inspector")
    desk.goto(f"{town.base}/admin/desk/")
    expect(desk.get_by_text("Work that failed")).to_have_count(0)
    expect(desk.get_by_text("AF-1001")).to_have_count(0)
    assert serious(desk) == []
    fits(desk)
    for page in ("auditentry", "user", "calculation", "reportlink", "apitoken"):
        answer = desk.goto(f"{town.base}/admin/inspections/{page}/")
        assert answer is not None and answer.status == 403, page


def test_an_administrator_sees_what_is_wrong_with_a_code_map_row_by_row(desk: Page, town: Town, seen: Seen) -> None:
    desk.goto(f"{town.base}/admin/inspections/codemap/add/")
    wrong: dict[str, Any] = {"id": "alder", "version": 1, "title": "Codes of the road office"}
    wrong["entries"] = [{"code": "K1", "kind": "crack"}, {"code": "K2", "kind": "dragon"}, {"kind": "roots"}]
    desk.locator("#id_pasted").fill(json.dumps(wrong))
    by_keyboard(desk, desk.locator("[name=_save]"))
    said = desk.locator(".errorlist").first
    expect(said).to_contain_text("entries 2, kind:")
    expect(said).to_contain_text("entries 3, code:")
    expect(desk.locator("#id_pasted")).to_have_value(re.compile("dragon"))
    clean(seen)  # before the checker, which tries styles of its own on large fields
    assert serious(desk) == []
    fits(desk)
