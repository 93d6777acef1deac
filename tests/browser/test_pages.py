"""The API page, the report and the desk in a real browser: nothing from outside, no complaint, readable to all."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import Seen, Town

DESK_PAGES = (
    "/admin/",
    "/admin/desk/",
    "/admin/inspections/job/",
    "/admin/inspections/run/",
    "/admin/inspections/calculation/",
    "/admin/inspections/auditentry/",
    "/admin/second-factor/",
)


def serious(page: Page) -> list[str]:
    """Return what the accessibility checker calls serious or critical on the page."""
    found = Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {one['help']} {[node['html'][:120] for node in one['nodes'][:3]]}"
        for one in found
        if one["impact"] in ("serious", "critical")
    ]


def test_the_api_page_lists_the_addresses_and_asks_nobody_outside(page: Page, town: Town, seen: Seen) -> None:
    page.goto(f"{town.base}/api/v1/docs")
    for group, address in (("runs", "Send a run"), ("laterals", "Ask for a repair scope")):
        page.locator(f'[data-tag="{group}"]').click()
        expect(page.get_by_text(address, exact=True)).to_be_visible()
    assert seen.foreign == []
    assert seen.complaints == []


def test_the_api_page_does_a_request_with_a_token(page: Page, town: Town) -> None:
    page.goto(f"{town.base}/api/v1/docs")
    page.locator("button.authorize").click()
    page.locator(".modal-ux input").fill(town.token)
    page.locator(".modal-ux button.authorize").click()
    page.locator(".modal-ux button.btn-done").click()
    page.locator('[data-tag="jobs"]').click()
    page.get_by_text("List jobs", exact=True).click()
    page.get_by_role("button", name="Try it out").click()
    page.get_by_role("button", name="Execute").click()
    expect(page.locator(".live-responses-table tr.response .response-col_status").first).to_contain_text("200")
    expect(page.locator(".live-responses-table")).to_contain_text("AF-1001")


def test_the_report_shows_verdict_and_drawing_on_paper_and_phone(desk: Page, town: Town, seen: Seen) -> None:
    desk.goto(town.report)
    expect(desk.get_by_text("Grade 4 of 5 (5 worst) on 97 % seen").first).to_be_visible()
    assert serious(desk) == []
    desk.set_viewport_size({"width": 390, "height": 844})
    assert desk.evaluate("document.documentElement.scrollWidth") <= 390
    assert serious(desk) == []
    assert seen.foreign == []
    assert seen.complaints == []


@pytest.mark.parametrize("path", DESK_PAGES)
def test_a_page_of_the_desk_is_readable_to_all(desk: Page, town: Town, seen: Seen, path: str) -> None:
    answer = desk.goto(f"{town.base}{path}")
    assert answer is not None
    assert answer.status == 200
    assert serious(desk) == []
    assert seen.foreign == []
    assert seen.complaints == []


def test_a_form_with_dates_and_choices_works_within_its_policy(desk: Page, town: Town, seen: Seen) -> None:
    desk.goto(f"{town.base}/admin/inspections/job/add/")
    desk.get_by_role("link", name="Today").first.click()
    expect(desk.locator("#id_window_start_0")).not_to_have_value("")
    desk.locator(".select2-selection").first.click()
    desk.locator(".select2-results__option").first.click()
    assert seen.foreign == []
    assert seen.complaints == []


def test_an_auditor_accepts_a_run_by_keyboard_alone(desk: Page, town: Town) -> None:
    desk.goto(f"{town.base}/admin/inspections/run/?state__exact=submitted")
    by_keyboard(desk, desk.locator("#result_list tbody tr").first.locator("th a"))
    desk.wait_for_url(re.compile(r"/run/.+/change/"))
    by_keyboard(desk, desk.get_by_role("link", name="Accept or return"))
    desk.wait_for_url(re.compile(r"/run/.+/review/"))
    by_keyboard(desk, desk.get_by_label("accept", exact=False).first, press="Space")
    by_keyboard(desk, desk.get_by_role("button", name="Save the verdict"))
    expect(desk.get_by_text("The run is accepted.")).to_be_visible()


def by_keyboard(page: Page, target: Locator, press: str = "Enter") -> None:
    """Go to a thing by the Tab key and press it; fails where Tab does not lead there."""
    wanted = target.element_handle()
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("one => document.activeElement === one", wanted):
            page.keyboard.press(press)
            return
    raise AssertionError(f"Tab does not lead to {target}")
