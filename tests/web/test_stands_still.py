"""A page with a form stands still while a route is read: nothing typed on it is lost."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from terrain.web.app import create_app
from terrain.web.bookings import Sent, add_booking, add_routes, ask_again, by_ref
from terrain.web.database import Database
from terrain.web.details import Details
from terrain.web.people import Role, add_user
from terrain.web.settings import WebSettings
from terrain.web.work import Made, Material
from terrain.web.worker import Worker
from tests.web.conftest import PASSWORD, Office
from tests.web.standin import GPX, quick_make

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
_CHROMIUM = shutil.which("chromium")


def test_no_page_with_a_form_loads_itself_again(office: Office) -> None:
    """Without script too: what looks again by itself loses what is typed."""
    office.send(office.booking())
    staff = office.as_role("staff")
    route = office.client.get("/api/v1/bookings/K1", headers=office.token()).json()["routes"][0]
    for path in ("/desk/b/K1", f"/guide/{route['id']}"):
        text = staff.get(path).text
        assert 'http-equiv="refresh"' not in text, path
        assert f'<a href="{path}">Look again</a></p></noscript>' in text, path
        assert staff.get(f"{path}/state").json() == {
            "working": True, "routes": [{"id": route["id"], "text": "waiting"}],
        }  # fmt: skip
    office.work()
    assert "Look again" not in staff.get("/desk/b/K1").text
    assert staff.get("/desk/b/K1/state").json()["working"] is False


class _Desk:
    """A desk on loopback whose worker waits until it is let go."""

    def __init__(self, data: Path) -> None:
        self.settings = WebSettings(home=data, data=data, workers=0)
        self.app = create_app(self.settings)
        self.db = Database(self.settings.database_url)
        self.go, self.stop = threading.Event(), threading.Event()
        with self.db.write() as conn:
            add_user(conn, "robin", Role.STAFF, PASSWORD, time.time())
            booking_id, _, _ = add_booking(
                conn, Details(ref="K1"), time.time(), lang="en", units="metric"
            )
            add_routes(conn, booking_id, [Sent(name="a.gpx", content=GPX)], time.time())

    def make(self, material: Material, settings: WebSettings, step: Callable[[str], None]) -> Made:
        while not self.go.wait(0.05) and not self.stop.is_set():
            pass
        return quick_make(material, settings, step)

    def again(self) -> None:
        self.go.clear()
        with self.db.write() as conn:
            ask_again(conn, by_ref(conn, "K1").id, time.time())


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[_Desk, str]]:
    import uvicorn

    here = _Desk(tmp_path)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(here.app, port=port, log_level="warning"))
    worker = Worker(here.db, here.settings, here.make)
    threads = [threading.Thread(target=server.run),
               threading.Thread(target=worker.run, args=(here.stop,))]  # fmt: skip
    for thread in threads:
        thread.start()
    while not server.started:
        time.sleep(0.05)
    yield here, f"http://127.0.0.1:{port}"
    here.stop.set()
    server.should_exit = True
    for thread in threads:
        thread.join()
    here.db.close()


@pytest.mark.skipif(_CHROMIUM is None, reason="Chromium is not installed here")
def test_what_is_typed_and_a_link_shown_once_outlast_the_reading(desk: Any) -> None:
    here, url = desk
    with playwright.sync_playwright() as p:
        browser = p.chromium.launch(executable_path=_CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page()
        page.goto(url + "/desk/b/K1")
        page.fill("[name=name]", "robin")
        page.fill("[name=password]", PASSWORD)
        page.click("main button")
        page.wait_for_selector("[data-watch]")
        page.click("summary:has-text('Files and link')")
        page.click("text=Make a new link")
        link = page.input_value("#the-link")
        page.click("summary:has-text('Details')")
        page.fill("[name=remark]", "half a sentence")
        here.go.set()
        page.wait_for_selector("text=Road setup, likely right.")
        assert page.input_value("[name=remark]") == "half a sentence"
        assert page.input_value("#the-link") == link
        assert page.input_value("select[name=state]") == "analysed"
        assert page.locator("[data-watch]").count() == 0

        # What is typed in a part that would be put in place stays, and the news are told.
        here.again()
        page.goto(url + "/desk/b/K1")
        page.click("summary:has-text('Decide otherwise')")
        page.fill("[name=reason]", "Wet clay")
        page.click("h1")
        here.go.set()
        page.wait_for_selector("text=It has been read anew")
        assert page.input_value("[name=reason]") == "Wet clay"
        browser.close()
