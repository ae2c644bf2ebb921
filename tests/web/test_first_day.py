"""From nothing to a mail draft: an empty home, one command, a browser."""

from __future__ import annotations

import re
import shutil
from email import message_from_bytes
from email.policy import default
from pathlib import Path

import pytest

from tests.terminal import Terminal
from tests.web.conftest import PASSWORD

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
_CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="Chromium is not installed here")
_MOST_S = 120.0  # what hangs fails after this; it is no measure of speed


def test_from_an_empty_home_to_a_mail_draft(tmp_path: Path) -> None:
    """What is asked and shown leads on, step by step, to a mail with the report."""
    shown = Terminal(["serve", "--port", "0"], tmp_path)
    try:
        url, routes = _set_up(shown)
        with playwright.sync_playwright() as p:
            browser = p.chromium.launch(
                executable_path=_CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
            )
            draft = _answer_a_booking(browser, url, routes / "coast-road.gpx")
            browser.close()
    finally:
        shown.end()
    mail = message_from_bytes(draft, policy=default)
    assert mail["To"] == "ada@rill.example"
    assert "Road setup" in mail["Subject"]
    sent = {part.get_content_type() for part in mail.iter_attachments()}
    assert "application/pdf" in sent


def _set_up(shown: Terminal) -> tuple[str, Path]:
    """Answer what the command asks; the desk's page and the routes it then tells of."""
    shown.wait_for("Name:")
    shown.answer("robin")
    shown.wait_for("Password:")
    shown.answer(PASSWORD)
    shown.wait_for("Repeat")
    shown.answer(PASSWORD)
    shown.wait_for("invented island to try the desk with?")
    shown.answer("")
    shown.wait_for("Stop with Ctrl-C", longest_s=_MOST_S)
    shown.read_on()
    page = re.search(r"Open (http://\S+/desk) and sign in", shown.text)
    routes = re.search(r"Routes to try it with: (\S+)", shown.text)
    assert page is not None and routes is not None, shown.text
    return page[1], Path(routes[1])


def _answer_a_booking(browser, url: str, route: Path) -> bytes:  # type: ignore[no-untyped-def]
    """Sign in, make a booking, send the route as its rider, take the draft."""
    page = browser.new_page(viewport={"width": 1200, "height": 860})
    page.set_default_timeout(60_000)
    page.goto(url)
    page.fill("[name=name]", "robin")
    page.fill("[name=password]", PASSWORD)
    page.click("main button")
    page.click("text=New booking")
    page.fill("[name=email]", "ada@rill.example")
    page.click("main form button")
    link = page.input_value("#the-link")
    page.reload()  # asks for the booking's own page, and makes no second one
    assert page.locator("#the-link").count() == 0
    page.goto(url)
    assert page.locator("table.list tbody tr").count() == 1

    rider = browser.new_page(viewport={"width": 360, "height": 740})
    rider.goto(link)
    rider.set_input_files("#files", route)
    rider.select_option("[name=rider]", "steady")
    rider.click("main form button >> nth=0")
    rider.wait_for_selector(".desk-bar, .fault", timeout=_MOST_S * 1000)
    assert rider.locator(".fault").count() == 0, rider.text_content("main")

    page.click("table.list tbody a >> nth=0")
    page.click("text=The whole text")
    with page.expect_download() as draft:
        page.click("text=Download the draft")
    return Path(draft.value.path()).read_bytes()
