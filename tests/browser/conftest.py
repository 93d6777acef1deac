"""A served demo town and a headless Chromium (Debian's) that notes every address it asks for."""

from __future__ import annotations

import re
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests.processes import running, settings_for, spare_port

OWN_PASSWORD = "heron-copper-quarry-12"
FIRST_PASSWORD = "gravel-otter-lantern-41"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@dataclass(frozen=True)
class Town:
    """Where the demo serves, and how to get in."""

    base: str
    password: str
    token: str
    report: str


@dataclass
class Seen:
    """What a page asked for and complained about."""

    foreign: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def town(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Town]:
    """The demo town, served until the tests end."""
    home, port = tmp_path_factory.mktemp("town"), spare_port()
    log = home / "log"
    with running(settings_for(home), log, sys.executable, "manage.py", "demo", "--port", str(port)):
        said = wait_for_words("Serving until", log)
        yield Town(
            base=f"http://127.0.0.1:{port}",
            password=re.search(r"one-time password (\S+)", said).group(1),
            token=re.search(r"^Token\s+(\S+)", said, flags=re.MULTILINE).group(1),
            report=re.search(r"^Report\s+(\S+)", said, flags=re.MULTILINE).group(1),
        )


def wait_for_words(words: str, log: Path, within: float = 90) -> str:
    """Return a program's output once it says something."""
    until = time.monotonic() + within
    while time.monotonic() < until:
        said = log.read_text() if log.exists() else ""
        if words in said:
            return said
        time.sleep(0.2)
    raise AssertionError(f"the demo did not come up:\n{said[-2000:]}")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium; nothing is downloaded."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def seen() -> Seen:
    """What the page of this test asked for outside, and what it complained about."""
    return Seen()


@pytest.fixture
def page(chromium: Browser, town: Town, seen: Seen) -> Iterator[Page]:
    """A fresh page, nobody signed in."""
    context = chromium.new_context(viewport={"width": 1200, "height": 900})
    page = context.new_page()
    page.on("request", lambda request: note_foreign(seen, town, request.url))
    page.on("console", lambda message: seen.complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    yield page
    context.close()


def note_foreign(seen: Seen, town: Town, url: str) -> None:
    """Keep an address that is not the service's own."""
    if not url.startswith((town.base, "data:", "about:", "blob:")):
        seen.foreign.append(url)


@pytest.fixture(scope="session")
def own_password(chromium: Browser, town: Town) -> str:
    """The password the administrator chose in place of the one for one sign-in."""
    context = chromium.new_context()
    page = context.new_page()
    page.goto(f"{town.base}/admin/")
    _signed_in(page, town.password)
    page.wait_for_url(lambda url: url.endswith("/admin/password_change/"))
    page.locator("#id_old_password").fill(town.password)
    page.locator("#id_new_password1").fill(OWN_PASSWORD)
    page.locator("#id_new_password2").fill(OWN_PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: url.endswith("/admin/password_change/done/"))
    context.close()
    return OWN_PASSWORD


@pytest.fixture(scope="session")
def cookies(own_password: str) -> dict[str, Any]:
    """By username: the cookies of who signed in before. A name may not sign in once a test: tries are counted."""
    return {}


def _at_desk(page: Page, town: Town, cookies: dict[str, Any], username: str) -> Page:
    if username in cookies:
        page.context.add_cookies(cookies[username])
    page.goto(f"{town.base}/admin/")
    if username not in cookies:
        _signed_in(page, OWN_PASSWORD, username)
        page.wait_for_url(lambda url: url.endswith("/admin/") and "login" not in url)
        cookies[username] = page.context.cookies()
    return page


def _signed_in(page: Page, password: str, username: str = "admin") -> None:
    """Sign in by keyboard alone."""
    page.locator("#id_username").focus()
    page.keyboard.type(username)
    page.keyboard.press("Tab")
    page.keyboard.type(password)
    page.keyboard.press("Enter")


@pytest.fixture
def desk(page: Page, town: Town, cookies: dict[str, Any]) -> Page:
    """A page signed in as the administrator."""
    return _at_desk(page, town, cookies, "admin")


@pytest.fixture(scope="session")
def staff(chromium: Browser, town: Town, own_password: str) -> dict[str, str]:
    """One person a role, made by the administrator at the desk; each then chose a password of their own."""
    context = chromium.new_context()
    page = context.new_page()
    page.goto(f"{town.base}/admin/")
    _signed_in(page, own_password)
    page.wait_for_url(lambda url: url.endswith("/admin/") and "login" not in url)
    names = {"dispatcher": "hazel", "inspector": "linden", "auditor": "ivy"}
    for role, username in names.items():
        page.goto(f"{town.base}/admin/inspections/user/add/")
        page.locator("#id_username").fill(username)
        page.locator("#id_password1").fill(FIRST_PASSWORD)
        page.locator("#id_password2").fill(FIRST_PASSWORD)
        page.locator("#id_role").select_option(role)
        page.locator("[name=_save]").click()
        page.wait_for_url(lambda url: "/change/" in url)
    context.close()
    for username in names.values():
        _chooses_a_password(chromium, town, username)
    return names


def _chooses_a_password(chromium: Browser, town: Town, username: str) -> None:
    context = chromium.new_context()
    page = context.new_page()
    page.goto(f"{town.base}/admin/")
    _signed_in(page, FIRST_PASSWORD, username)
    page.wait_for_url(lambda url: url.endswith("/admin/password_change/"))
    page.locator("#id_old_password").fill(FIRST_PASSWORD)
    page.locator("#id_new_password1").fill(OWN_PASSWORD)
    page.locator("#id_new_password2").fill(OWN_PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: url.endswith("/admin/password_change/done/"))
    context.close()


@pytest.fixture
def at_desk(page: Page, town: Town, staff: dict[str, str], cookies: dict[str, Any]) -> Callable[[str], Page]:
    """Return a way to sign in as the person of a role."""

    def sign_in(role: str) -> Page:
        return _at_desk(page, town, cookies, staff[role])

    return sign_in
