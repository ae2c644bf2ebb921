"""Settings, health, figures, backup, webhook, and the commands."""

from __future__ import annotations

import gc
import json
import os
import shutil
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
from terrain.web.health import health_of
from terrain.web.jobs import take_job
from terrain.web.log import say
from terrain.web.settings import WebSettings, read_web_settings
from terrain.web.summary import Told
from terrain.web.supervisor import Supervisor
from terrain.web.webhook import send_webhook, signature
from terrain.web.worker import Worker
from tests.web.conftest import Office, on_both, replace
from tests.web.standin import quick_make


def test_no_page_waits_for_garbage_looked_for_in_all_that_is_loaded(settings: WebSettings) -> None:
    """Else one page in twenty or so took three times as long as the others."""
    app = create_app(settings)
    before = len(gc.get_objects())
    with TestClient(app):
        assert len(gc.get_objects()) < before / 4
    assert gc.get_freeze_count() == 0


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
        ({"TERRAIN_WEB_DATABASE": "desk"}, "no address of a database"),
    ],
)
def test_wrong_settings_are_refused_with_the_right_one(
    tmp_path: Path, environ: dict[str, str], words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        create_app(read_web_settings(tmp_path, environ))


@on_both
def test_health_and_figures(office: Office) -> None:
    office.send(office.booking())
    assert office.client.get("/health").json() == {"status": "ok"}
    text = office.client.get("/metrics", headers=office.token()).text
    assert 'terrain_jobs{state="waiting"} 1' in text and "terrain_bookings 1" in text
    assert office.client.get("/robots.txt").text.endswith("Disallow: /\n")


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


def test_data_of_another_version_are_not_touched(office: Office) -> None:
    from terrain.web import schema

    with office.db.write() as conn:
        conn.execute(schema.meta.update().values(value="99"))
    with pytest.raises(UsageError, match="99"):
        create_app(office.settings)


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


@on_both
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
        assert not send_webhook(told, 1, "K1", 1, Told())
        thread.join()


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


def test_health_says_what_hinders_the_desk(office: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    """A watcher looks at the status alone: 503 where work does not get done."""
    import sqlalchemy as sa

    desk, now = office.desk, time.time()
    link = office.booking()
    assert health_of(desk.db, office.settings, None).status == "ok"
    # A write that failed is tried again, until there is room.
    sa.event.listen(desk.db.engine, "do_execute", _refuse_writes)
    assert office.send(link).status_code == 503
    got = office.client.get("/health")
    assert (got.status_code, got.json()["status"]) == (503, "busy")
    assert "disk is full" in got.json()["reason"]
    sa.event.remove(desk.db.engine, "do_execute", _refuse_writes)
    assert office.client.get("/health").json() == {"status": "ok"}
    # A route that nobody takes, one whose worker is gone, and workers that do not live.
    office.send(link)
    assert health_of(desk.db, office.settings, None, now + 400).status == "late"
    with desk.db.write() as conn:
        take_job(conn, "w", now, lease_s=60, most_tries=3)
    assert health_of(desk.db, office.settings, None, now + 100).status == "ok"
    assert health_of(desk.db, office.settings, None, now + 400).status == "late"
    supervisor = Supervisor(desk.db, office.settings)
    assert health_of(desk.db, office.settings, supervisor).status == "ok"
    supervisor._failed = 3
    assert health_of(desk.db, office.settings, supervisor).status == "no worker"
    # Little room on the disk is told before it is used up.
    usage = shutil.disk_usage(office.settings.data)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=30_000_000))
    got = office.client.get("/health")
    assert (got.status_code, got.json()) == (
        503, {"status": "no room", "reason": "30 MB are left on the disk."},
    )  # fmt: skip


def _refuse_writes(_cursor: object, statement: str, *_: object) -> None:
    if statement.split(None, 1)[0] in ("INSERT", "UPDATE", "DELETE"):
        raise sqlite3.OperationalError("database or disk is full")


def test_damaged_data_are_told_as_such(office: Office) -> None:
    """Not as a desk that is busy: nobody has to wait for what will not come right."""
    file = office.settings.data / "desk.sqlite"
    office.db.close()
    for extra in file.parent.glob("desk.sqlite-*"):
        extra.unlink()
    file.write_bytes(b"no database at all" * 1000)
    got = office.client.get("/health")
    assert (got.status_code, got.json()["status"]) == (503, "damaged")
    assert "the desk's data are damaged" in got.json()["reason"]
    page = office.client.get("/sign-in")
    assert page.status_code == 503 and "put the last backup in their place" in page.text
    assert "try again in a minute" not in page.text


def test_guesses_of_links_are_limited_and_take_nothing_from_who_has_one(office: Office) -> None:
    link = office.booking()
    object.__setattr__(office.settings, "guesses_per_minute", 5)
    object.__setattr__(office.settings, "uploads_per_minute", 1)
    codes = [office.send(f"/t/{n:043d}").status_code for n in range(7)]
    assert codes == [404] * 5 + [429] * 2
    assert office.client.get(link).status_code == 200
    assert [office.send(link).status_code for _ in range(2)] == [303, 429]


def test_a_line_of_the_log_is_written_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Several processes write to one file; a line in two parts could be torn."""
    parts: list[str] = []
    stderr = type("", (), {"write": lambda _, text: parts.append(text), "flush": lambda _: None})
    monkeypatch.setattr("sys.stderr", stderr())
    say("request", ms=3)
    (line,) = parts
    assert line.endswith("\n") and json.loads(line)["ms"] == 3


@pytest.mark.parametrize("place", ["/proc/terrain", "/proc/self"])
@pytest.mark.skipif(not Path("/proc/self").exists(), reason="no folder that nobody may write to")
@pytest.mark.parametrize("command", [["serve", "--port", "0"], ["serve", "admin", "robin"]])
def test_a_home_that_cannot_be_written_is_one_clear_error(place: str, command: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "terrain", command[0], "--data", place, *command[1:]],
        capture_output=True, text=True, timeout=60, input="",
        env={**os.environ, "TERRAIN_HOME": place},
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert "the desk cannot keep its data here" in done.stderr
    assert "foresee" not in done.stderr and len(done.stderr.splitlines()) == 1


def test_the_api_takes_what_its_description_says(office: Office) -> None:
    """JSON Schema 2020-12: 0 is no boolean; a pattern that refuses is in the description."""
    head = office.token()
    for given in ({"guided": 0}, {"pillion": 1}, {"email": "x" * 254}):
        got = office.client.post("/api/v1/bookings", json=given, headers=head)
        assert got.status_code == 422, given
    told = office.client.get("/api/v1/openapi.json").json()["components"]["schemas"]["BookingIn"]
    assert any("pattern" in option for option in told["properties"]["email"]["anyOf"])
