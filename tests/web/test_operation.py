"""Settings, health, figures, backup, webhook, and the commands."""

from __future__ import annotations

import json
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from terrain.cli import program
from terrain.errors import UsageError
from terrain.web.app import create_app
from terrain.web.backup import back_up
from terrain.web.settings import WebSettings, read_web_settings
from terrain.web.supervisor import Supervisor
from terrain.web.webhook import send_webhook, signature
from terrain.web.worker import Worker
from tests.web.conftest import Office, replace
from tests.web.standin import quick_make

only_sqlite = pytest.mark.parametrize("settings", ["sqlite"], indirect=True)


def test_settings_from_file_and_environment(tmp_path: Path) -> None:
    file = tmp_path / "web.toml"
    file.write_text("[web]\nworkers = 3\nopen_upload = true\nkeep_days = 90\n")
    told = read_web_settings(tmp_path, {"TERRAIN_WEB_WORKERS": "2", "OTHER": "x"})
    assert (told.workers, told.open_upload, told.keep_days) == (2, True, 90)
    assert told.data == tmp_path / "web"
    assert WebSettings.from_json(told.to_json()) == told


@pytest.mark.parametrize(
    ("environ", "words"),
    [
        ({"TERRAIN_WEB_WORKRES": "2"}, "workers"),
        ({"TERRAIN_WEB_WORKERS": "many"}, "int"),
        ({"TERRAIN_WEB_OPEN_UPLOAD": "perhaps"}, "bool"),
        ({"TERRAIN_WEB_LANG": "xx"}, "en, es, fr"),
        ({"TERRAIN_WEB_PUBLIC_URL": "ftp://x"}, "https"),
        ({"TERRAIN_WEB_WEBHOOK_URL": "https://x.example"}, "secret"),
        ({"TERRAIN_WEB_DATABASE": "mysql://x"}, "Postgres"),
    ],
)
def test_wrong_settings_are_refused_with_the_right_one(
    tmp_path: Path, environ: dict[str, str], words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        create_app(read_web_settings(tmp_path, environ))


def test_health_and_figures(office: Office) -> None:
    office.send(office.booking())
    assert office.client.get("/health").json() == {"status": "ok"}
    text = office.client.get("/metrics", headers=office.token()).text
    assert 'terrain_jobs{state="waiting"} 1' in text and "terrain_bookings 1" in text
    assert office.client.get("/robots.txt").text.endswith("Disallow: /\n")


@only_sqlite
def test_a_backup_of_a_desk_at_work_is_whole(office: Office, tmp_path: Path) -> None:
    office.send(office.booking("K1", customer="Ada Rill"))
    copy = tmp_path / "copy.sqlite"
    # A folder may have any name; in an address, ? and # have a meaning.
    data = tmp_path / "desk #2, which?"
    office.settings.data.rename(data)
    assert back_up(replace(office.settings, data=data), copy) > 0
    db = sqlite3.connect(copy)
    assert db.execute("select customer from bookings").fetchall() == [("Ada Rill",)]
    assert db.execute("select count(*) from routes").fetchone() == (1,)
    db.close()
    assert copy.stat().st_mode & 0o077 == 0
    # The copy is a desk again.
    again = replace(office.settings, database=f"sqlite:///{copy}")
    with TestClient(create_app(again)) as client:
        assert client.get("/health").status_code == 200


@only_sqlite
def test_data_of_another_version_are_not_touched(office: Office) -> None:
    from terrain.web import schema

    with office.db.write() as conn:
        conn.execute(schema.meta.update().values(value="99"))
    with pytest.raises(UsageError, match="99"):
        create_app(office.settings)


@only_sqlite
def test_a_full_disk_is_said_and_loses_nothing(office: Office) -> None:
    """A page limit stands in for the disk: SQLite answers SQLITE_FULL as on ENOSPC."""
    link = office.booking()
    big = b"<gpx/>" + b" " * 3_000_000

    import sqlalchemy as sa

    limit = int(office.settings.data.joinpath("desk.sqlite").stat().st_size / 4096) + 40

    def bound(connection: sqlite3.Connection, *_: object) -> None:
        connection.execute(f"PRAGMA max_page_count={limit}").close()

    sa.event.listen(office.db.engine, "checkout", bound)
    got = office.send(link, big)
    sa.event.remove(office.db.engine, "checkout", bound)
    assert got.status_code == 503 and int(got.headers["retry-after"]) > 0
    assert "cannot write now" in got.text
    assert office.client.get(link + "/state").json() == {"working": False, "routes": []}


@only_sqlite
def test_behind_a_proxy_under_a_path(office: Office) -> None:
    """With or without the path that the proxy may strip."""
    under = replace(office.settings, public_url="http://rides.example/desk-of-ours")
    with TestClient(create_app(under), follow_redirects=False) as client:
        for path in ("/ride", "/desk-of-ours/ride"):
            page = client.get(path)
            assert page.status_code == 200
            assert 'action="/desk-of-ours/ride"' in page.text
            assert 'href="/desk-of-ours/static/web.css"' in page.text
        assert client.get("/desk-of-ours/static/web.css").status_code == 200
        assert client.get("/desk").headers["location"] == "/desk-of-ours/sign-in?to=/desk"


@contextmanager
def _listener(answers: list[int]) -> Iterator[tuple[str, list[tuple[dict[str, str], bytes]]]]:
    """A server on loopback that answers with the given codes, one after the other."""
    got: list[tuple[dict[str, str], bytes]] = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            got.append(({k.lower(): v for k, v in self.headers.items()}, body))
            self.send_response(answers.pop(0))
            self.send_header("location", "/elsewhere")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/hook", got
    server.shutdown()
    thread.join()
    server.server_close()


def test_the_webhook_tells_once_and_again_after_a_refusal(office: Office) -> None:
    with _listener([500, 302, 200]) as (url, got):
        told = replace(office.settings, webhook_url=url, webhook_secret="s")
        worker = Worker(office.db, told, quick_make)
        office.send(office.booking("K1", customer="Ada Rill"))
        for _ in range(3):
            while worker.once():
                pass
            _make_due(office)
        assert not worker.once()
    assert len(got) == 3
    assert len({head["idempotency-key"] for head, _ in got}) == 1
    head, body = got[-1]
    assert head["x-terrain-signature"] == signature("s", body)
    message = json.loads(body)
    assert message["event"] == "report.ready" and message["ref"] == "K1"
    assert b"Ada" not in body


def test_a_webhook_that_answers_nonsense_is_tried_again_later(office: Office) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]

        def answer() -> None:
            peer, _ = server.accept()
            with peer:
                peer.recv(65536)
                peer.sendall(b"this is no HTTP\r\n\r\n")

        thread = threading.Thread(target=answer)
        thread.start()
        told = replace(office.settings, webhook_url=f"http://127.0.0.1:{port}/", webhook_secret="s")
        assert not send_webhook(told, 1, "K1", 1, {})
        thread.join()


@only_sqlite
def test_the_supervisor_goes_on_after_an_error(
    office: Office, capfd: pytest.CaptureFixture[str]
) -> None:
    """A program that cannot be started now may be there a moment later."""
    told = replace(office.settings, workers=1)
    supervisor = Supervisor(office.db, told, ("/no/such/program",))
    supervisor.start()
    until = time.monotonic() + 20
    while not (err := capfd.readouterr().err) and time.monotonic() < until:
        time.sleep(0.05)
    assert "supervisor failed" in err
    supervisor.command = (sys.executable, "-c", "import sys; sys.stdin.read()")
    while not supervisor._workers and time.monotonic() < until:
        time.sleep(0.05)
    running = list(supervisor._workers)
    supervisor.stop()
    assert len(running) == 1 and running[0].returncode == 0


@only_sqlite
def test_a_worker_that_fails_by_itself_is_not_started_twice_a_second(office: Office) -> None:
    supervisor = Supervisor(
        office.db,
        replace(office.settings, workers=1),
        (sys.executable, "-c", "raise SystemExit(1)"),
    )
    starts = 0
    start_one = supervisor._start_one

    def counted() -> subprocess.Popen[bytes]:
        nonlocal starts
        starts += 1
        return start_one()

    supervisor._start_one = counted  # type: ignore[method-assign]
    for _ in range(3):
        supervisor._fill_up()
        for worker in supervisor._workers:
            worker.wait()
    assert starts == 1
    supervisor._not_before = 0.0  # the pause is over
    supervisor._fill_up()
    assert starts == 2
    supervisor.stop()


def _make_due(office: Office) -> None:
    from terrain.web import schema

    with office.db.write() as conn:
        conn.execute(schema.jobs.update().where(schema.jobs.c.state == "waiting").values(due_at=0))


def test_first_admin_and_backup_by_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path))
    run = CliRunner()
    made = run.invoke(
        program, ["serve", "admin", "robin", "--password-stdin"], input="four odd words here\n"
    )
    assert made.exit_code == 0 and "robin may sign in" in made.output
    weak = run.invoke(program, ["serve", "admin", "kit", "--password-stdin"], input="short\n")
    assert weak.exit_code != 0
    copied = run.invoke(program, ["serve", "backup", str(tmp_path / "b.sqlite")])
    assert copied.exit_code == 0 and (tmp_path / "b.sqlite").stat().st_size > 0
    for words in (["serve"], ["serve", "admin"], ["serve", "backup"]):
        assert "Example:" in run.invoke(program, [*words, "--help"]).output
