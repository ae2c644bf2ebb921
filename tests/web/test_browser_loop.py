"""The whole loop in Chromium: a rider uploads, is asked by mail, answers on a phone; it settles."""

from __future__ import annotations

import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from terrain.web.settings import WebSettings
from tests.web.conftest import PASSWORD
from tests.web.live import live_desk
from tests.web.mailserver import SECRET, USER, MailServer, mail_server

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
_CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="Chromium is not installed here")


@pytest.fixture
def post(tmp_path: Path) -> Iterator[MailServer]:
    with mail_server(tmp_path) as server:
        yield server


@pytest.fixture
def url(post: MailServer, island_home: Path, tmp_path: Path) -> Iterator[str]:
    """A desk on loopback with the real judging and a mail server."""
    settings = WebSettings(
        home=island_home, data=tmp_path / "desk", region="island", workers=0,
        mail_host="localhost", mail_port=post.port, mail_ca=str(post.ca), mail_user=USER,
        mail_password=SECRET, mail_from="desk@rides.example",
    )  # fmt: skip
    with live_desk(settings) as url:
        yield url


def test_asked_by_mail_answered_on_a_phone_and_settled(
    url: str, post: MailServer, island_home: Path
) -> None:
    with playwright.sync_playwright() as p:
        browser = p.chromium.launch(executable_path=_CHROMIUM, args=["--no-sandbox"])
        desk = browser.new_page(viewport={"width": 1200, "height": 860})
        desk.goto(f"{url}/sign-in")
        desk.fill("[name=name]", "robin")
        desk.fill("[name=password]", PASSWORD)
        desk.click("main button")
        desk.goto(f"{url}/desk/new")
        desk.fill("[name=ref]", "B-1")
        desk.fill("[name=customer]", "Annelies Vroman")
        desk.fill("[name=email]", "annelies@rides.example")
        desk.click("main button")
        link = desk.input_value("#the-link")
        # The rider's phone runs no script: every step works without.
        phone = browser.new_context(
            viewport={"width": 360, "height": 740}, java_script_enabled=False
        ).new_page()
        phone.goto(link)
        phone.set_input_files("#files", island_home / "demo" / "routes" / "high-tracks.gpx")
        phone.select_option("[name=rider]", "steady")
        phone.click("main button:not(.link)")
        _until(lambda: phone.goto(link) and phone.query_selector(".ask-part") is not None)
        desk.goto(f"{url}/desk/b/B-1")
        desk.click("text=Send the question")
        _until(lambda: bool(post.mails))
        told = post.mails[0].get_body(("plain",))
        assert told is not None
        text = told.get_content()
        assert "Dear Annelies Vroman," in text and "Do you mean to ride the 52" in text
        mailed = re.search(r"http://127\.0\.0\.1:\d+/t/\S+", text)
        assert mailed is not None and mailed[0] != link
        desk.goto(f"{url}/desk/questions")
        assert desk.query_selector("text=B-1") is not None
        # By the link in the mail: both tracks there and back are left out.
        phone.goto(mailed[0])
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360
        for part in phone.query_selector_all(".ask-part"):
            asked = part.inner_text()
            part.query_selector(
                f"input[value={'leave' if 'there and back' in asked else 'keep'}]"
            ).check()
        phone.click("text=Send the answers")
        _until(lambda: phone.goto(link) and "Left out as asked" in phone.content())
        assert "Road setup" in phone.inner_text("h1")
        desk.goto(f"{url}/desk/b/B-1")
        shown = desk.inner_text("main")
        for words in ("answered by the rider", "Verdict before", "Off-road setup", "Verdict after",
                      "Road setup"):  # fmt: skip
            assert words in shown, words
        desk.goto(f"{url}/desk/questions")
        none = "text=No question that was sent waits for an answer."
        assert desk.query_selector(none) is not None
        browser.close()


def _until(done: object, wait_s: float = 90.0) -> None:
    """Look again until it is so."""
    for _ in range(int(wait_s / 0.5)):
        if done():  # type: ignore[operator]
            return
        time.sleep(0.5)
    raise AssertionError("it did not come")
