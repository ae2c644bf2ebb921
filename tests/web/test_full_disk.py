"""A disk without room: writes are refused plainly, nothing stored is lost, all goes on after."""

from __future__ import annotations

import errno
import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain.web import schema, worker
from terrain.web.answers import ask_rider
from terrain.web.bookings import by_ref
from terrain.web.people import new_reset_link
from terrain.web.worker import Worker
from tests.web.conftest import PASSWORD, Office, Visitor, on_both, replace, sign_in
from tests.web.standin import GPX, quick_make
from tests.web.test_access import WANTED

_ROOT = Path(__file__).resolve().parents[2]
FORMS: dict[str, dict[str, str]] = {
    "/ride": {"rider": "steady"},
    "/t/{link}": {"rider": "steady"},
    "/t/{link}/draw": {"points": "2,1;2.1,1.1", "send": "1"},
    "/t/{link}/delete": {"sure": "yes"},
    "/t/{link}/answers": {"rider": "steady"},
    "/desk/b/{ref}/answers": {"rider": "expert"},
    "/desk/b/{ref}/reminded": {},
    "/desk/again": {},
    "/desk/b/{ref}/riders": {"customer.0": "Ben", "rider.0": "novice", "luggage.0": "boxes"},
    "/desk/deleted/{gone_id}": {},
    "/desk/views": {"name": "spring"},
    "/desk/bikes": {"do": "add", "name": "Nine", "bike": "light-trail"},
    "/desk/b/{ref}/incidents": {"bike": "light-trail", "well": "yes"},
    "/desk/letters": {"kind": "answer", "lang": "en", "ours": "1"},
    "/desk/b/{ref}/again/{route_id}": {},
    "/desk/people/{user_id}/role": {"role": "guide"},
    "/desk/people/{user_id}/reset": {},
    "/new-password/{secret}": {"new": PASSWORD},
    "/sign-in": {},
    "/sign-out": {},
    "/account": {"old": PASSWORD, "new": "six new odd words now"},
    "/account/language": {"lang": "es"},
    "/desk/new": {"ref": "N1"},
    "/desk/b/{ref}": {"state": "settled"},
    "/desk/b/{ref}/link": {},
    "/desk/b/{ref}/routes": {},
    "/desk/b/{ref}/ruling/{route_id}": {"setup": "road", "reason": "why"},
    "/desk/b/{ref}/delete": {"sure": "yes"},
    "/desk/notes": {"points": "2,1", "ground": "track"},
    "/desk/notes/{note_id}/delete": {},
    "/desk/helpers": {"points": "2,1", "kind": "mechanic", "name": "Old mill"},
    "/desk/helpers/{helper_id}/delete": {},
    "/desk/import": {},
    "/desk/import/{number}": {},
    "/desk/import/{number}/back": {},
    "/desk/people": {"name": "kit", "role": "staff", "password": PASSWORD},
    "/desk/people/{user_id}": {"active": "no"},
    "/desk/tokens": {"name": "x"},
    "/desk/tokens/{token_id}/delete": {},
    "/guide/{route_id}": {"start": "08:00"},
}
_FILES = {"/ride", "/t/{link}", "/desk/b/{ref}/routes", "/desk/import"}


class Disk:
    """While `full`, the database answers each write as it does when the disk has no room."""

    def __init__(self, office: Office) -> None:
        self.full = False
        self.refused = 0
        self.engine = office.db.engine
        self.is_sqlite = office.db.is_sqlite
        sa.event.listen(self.engine, "do_execute", self._look)

    def _look(self, _cursor: Any, statement: str, *_: Any) -> None:
        if self.full and statement.split(None, 1)[0] in ("INSERT", "UPDATE", "DELETE"):
            self.refused += 1
            if self.is_sqlite:
                raise sqlite3.OperationalError("database or disk is full")
            import psycopg

            raise psycopg.errors.DiskFull("could not extend file: No space left on device")


@pytest.fixture
def disk(office: Office) -> Iterator[Disk]:
    here = Disk(office)
    yield here
    sa.event.remove(here.engine, "do_execute", here._look)


def _stored(office: Office) -> dict[str, list[str]]:
    with office.db.read() as conn:
        return {
            table.name: sorted(str(row) for row in conn.execute(table.select()))
            for table in schema.metadata.sorted_tables
        }


@on_both
def test_every_write_is_refused_plainly_and_works_again(
    office: Office, disk: Disk, admin_with_password: str
) -> None:
    link = office.booking("K1")
    office.send(link)
    office.work()
    head = office.token()
    sign_in(office.client, admin_with_password, PASSWORD)
    admin = office.as_role("admin")
    admin.post("/desk/notes", FORMS["/desk/notes"])
    admin.post("/desk/helpers", FORMS["/desk/helpers"])
    admin.post("/desk/notes", FORMS["/desk/notes"])
    admin.post("/desk/notes/2/delete")
    office.send(office.booking("K9"), b"no route", "a.txt")
    office.work()
    with office.db.write() as conn:
        _, reset = new_reset_link(conn, 1, time.time()) or ("", "")
        ask_rider(conn, by_ref(conn, "K1").id, "robin", time.time())
    marks = [_imported(admin, ref) for ref in ("A2", "A3")]
    admin.post("/desk/import/1", {"seen": marks[0]})
    route = office.client.get("/api/v1/bookings/K1", headers=head).json()["routes"][0]["id"]
    fill = {"/t/{link}": link, "{ref}": "K1", "{route_id}": str(route), "{note_id}": "1",
            "{helper_id}": "1", "{user_id}": "1", "{token_id}": "1", "{gone_id}": "1",
            "{secret}": reset,
            "/import/{number}/back": "/import/1/back", "{number}": "2"}  # fmt: skip

    def ask(method: str, pattern: str) -> Any:
        path = pattern
        for key, value in fill.items():
            path = path.replace(key, value)
        if pattern == "/sign-in":
            return sign_in(office.client, admin_with_password, PASSWORD)
        if pattern == "/account":
            return _change_password(office, admin_with_password)
        if pattern.startswith("/api"):
            given = {"content": GPX, "headers": {**head, "content-type": "application/gpx+xml"}}
            if not pattern.endswith("/routes"):
                given = {"headers": head}
                if method in ("POST", "PATCH"):
                    given["json"] = {"remark": "x"}
            return office.client.request(method, path, **given)
        table = ("t.csv", b"ref\nA1\n") if pattern == "/desk/import" else ("a.gpx", GPX)
        more = {"files": {"files": table}} if pattern in _FILES else {}
        if WANTED[method, pattern] in ("open", "link"):
            return office.client.post(path, data=FORMS[pattern], **more)
        seen = {"seen": marks[1]} if pattern == "/desk/import/{number}" else {}
        return admin.post(path, {**FORMS[pattern], **seen}, **more)

    writes = [key for key in WANTED if key[0] != "GET"]
    # Sending writes after the mail server took it; here none is set up.
    writes.remove(("POST", "/desk/b/{ref}/send/{route_id}"))
    # Writes where an update of a map changed a booking's road, which it is tried with.
    writes.remove(("POST", "/desk/again/changed"))
    writes.remove(("POST", "/t/{link}/ride"))  # takes a recording, tried with the rides
    assert {path for _, path in writes if not path.startswith("/api")} == FORMS.keys()
    before = _stored(office)
    disk.full = True
    for key in writes:
        got = ask(*key)
        assert got.status_code == 503 and int(got.headers["retry-after"]) > 0, key
        assert "cannot write now" in got.text and "Nothing was lost" in got.text, key
    assert disk.refused >= len(writes)
    # Whoever only reads is not held up.
    for path in ("/desk", "/desk/b/K1", f"/guide/{route}"):
        assert admin.get(path).status_code == 200
    assert office.client.get(link).status_code == 200
    disk.full = False
    assert _stored(office) == before
    # Deleting comes last, or there is nothing left to write to.
    for key in sorted(writes, key=lambda key: ("delete" in key[1], key[0] == "DELETE")):
        if key[1] != "/sign-out":
            assert ask(*key).status_code < 500, key
    assert ask("POST", "/sign-out").status_code == 303


def _imported(admin: Visitor, ref: str) -> str:
    """Show a table with one new booking; returns the mark of what was shown."""
    made = admin.post("/desk/import", files={"file": ("t.csv", b"ref\n" + ref.encode())})
    return admin.get(made.headers["location"]).text.partition('name="seen" value="')[2][:16]


def _change_password(office: Office, name: str) -> Any:
    page = office.client.get("/account").text
    csrf = page.partition('name="csrf" value="')[2].partition('"')[0]
    return office.client.post("/account", data={"csrf": csrf, **FORMS["/account"]})


def _maker(act: Callable[[], None]) -> Callable[..., Any]:
    def make(*args: Any) -> Any:
        made = quick_make(*args)
        act()
        return made

    return make


@on_both
def test_a_report_waits_for_room_and_is_stored_once(
    office: Office, disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    office.send(office.booking("K1"))

    class Stop:
        """Each wait of the worker; the third time there is room again."""

        waits = 0

        def wait(self, _: float) -> bool:
            self.waits += 1
            disk.full = self.waits < 3
            return False

    def fill() -> None:
        disk.full = True

    here = Worker(office.db, office.settings, _maker(fill))
    here._stop = Stop()  # type: ignore[assignment]
    assert here.once()
    with office.db.read() as conn:
        (job,) = conn.execute(sa.select(schema.jobs)).all()
        assert (job.state, job.tries) == ("done", 1)
        assert len(conn.execute(sa.select(schema.reports.c.id)).all()) == 1
    assert disk.refused == 3


@on_both
def test_a_full_disk_does_not_count_against_the_route(office: Office, disk: Disk) -> None:
    office.send(office.booking("K1"))
    told = replace(office.settings, job_s=0.0)
    for _ in range(told.tries + 2):
        here = Worker(office.db, told, quick_make)
        here._stop.set()

        def no_room_for_reports(*_: Any) -> None:
            raise worker.BusyError("the desk cannot write now", "", "")

        here._keep = no_room_for_reports  # type: ignore[method-assign, assignment]
        with pytest.raises(worker.BusyError):
            here.once()
        with office.db.write() as conn:
            (job,) = conn.execute(sa.select(schema.jobs)).all()
            assert (job.state, job.tries) == ("waiting", 0)
            conn.execute(schema.jobs.update().values(due_at=0))
    assert office.work() == 1


def test_an_upload_that_fills_the_temporary_folder_is_refused_plainly(
    office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = office.booking()

    def full(_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(tempfile.SpooledTemporaryFile, "rollover", full)
    with TestClient(office.client.app, follow_redirects=False) as client:
        got = client.post(link, data={"rider": "steady"}, files={"files": ("a", b" " * 3_000_000)})
    assert got.status_code == 503 and int(got.headers["retry-after"]) > 0
    assert "no room" in got.text
    monkeypatch.undo()
    assert office.send(link).status_code == 303


@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX")
def test_a_backup_without_room_leaves_nothing_half(office: Office, tmp_path: Path) -> None:
    """A limit on the size of files stands in for the disk (RLIMIT_FSIZE, POSIX)."""
    office.send(office.booking(), b"<gpx/>" + b" " * 400_000)
    target = tmp_path / "copy" / "b.sqlite"
    target.parent.mkdir()
    code = (
        "import resource; from pathlib import Path; from terrain.errors import TerrainError\n"
        "from terrain.web.backup import back_up; from terrain.web.settings import WebSettings\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))\n"
        f"data = Path({str(office.settings.data)!r})\n"
        "try: back_up(WebSettings(home=data, data=data), Path(%r))\n"
        "except TerrainError as exc: print(exc)" % str(target)
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=_ROOT, timeout=60
    )
    assert "the backup cannot be written" in done.stdout, done.stderr
    assert list(target.parent.iterdir()) == []


def test_the_log_on_a_full_disk_stops_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    from terrain.web.log import say

    class Full:
        def write(self, _: str) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        def flush(self) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(sys, "stderr", Full())
    say("still here")
