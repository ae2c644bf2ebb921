"""A desk for each test, with people who are signed in."""

from __future__ import annotations

import re
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from httpx2 import Response
from starlette.testclient import TestClient

from terrain.web import schema
from terrain.web.access import SESSION_COOKIE
from terrain.web.app import create_app, inner
from terrain.web.database import Database
from terrain.web.desk import Desk
from terrain.web.people import Role, add_token, add_user, open_session
from terrain.web.settings import WebSettings
from terrain.web.worker import Worker
from tests.web.postgres import Postgres, programs
from tests.web.standin import GPX, quick_make

PASSWORD = "four odd words here"


@pytest.fixture(scope="session", autouse=True)
def _memory_is_kept() -> Iterator[None]:
    """A worker lets the code of libraries go after each job; here all would be read in again and
    again. That it does so is tested in `test_memory.py`.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("terrain.web.worker.give_memory_back", lambda: None)
        yield


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    where = programs()
    if where is None:
        pytest.skip("Postgres is not installed here (Debian's package postgresql)")
    server = Postgres(where)
    yield server
    server.stop()


@pytest.fixture(scope="session")
def empty_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with its tables and nothing in them, to be copied."""
    path = tmp_path_factory.mktemp("empty") / "desk.sqlite"
    db = Database(f"sqlite:///{path}")
    db.create()
    db.close()
    return path


@pytest.fixture(scope="session")
def one_postgres(postgres: Postgres) -> Iterator[Database]:
    """A database on the server with its tables."""
    db = Database(postgres.fresh())
    db.create()
    yield db
    db.close()


def _emptied(db: Database) -> str:
    """The URL of a database whose tables are as new; much quicker than to make them."""
    names = ", ".join(t.name for t in schema.metadata.sorted_tables if t is not schema.meta)
    with db.write() as conn:
        conn.exec_driver_sql(f"TRUNCATE {names} RESTART IDENTITY CASCADE")
        conn.execute(schema.meta.update().values(value=str(schema.VERSION)))
    return db.url.render_as_string(hide_password=False)


#: On Postgres too: what two do at once, what is kept and taken back, and a test for each other
#: statement. What a page says of it is the same on both.
on_both = pytest.mark.parametrize("settings", ["sqlite", "postgres"], indirect=True)


@pytest.fixture
def settings(request: pytest.FixtureRequest, tmp_path: Path) -> WebSettings:
    """Settings on a database of its own: SQLite, or what `on_both` says."""
    url = ""
    if getattr(request, "param", "sqlite") == "postgres":
        url = _emptied(request.getfixturevalue("one_postgres"))
    else:
        (tmp_path / "data").mkdir(mode=0o700)
        empty = request.getfixturevalue("empty_sqlite")
        shutil.copyfile(empty, tmp_path / "data" / "desk.sqlite")
    return WebSettings(
        home=tmp_path / "home", data=tmp_path / "data", database=url, workers=0,
        open_upload=True, uploads_per_minute=100_000, sign_ins_per_minute=100_000,
        api_per_minute=100_000,
    )  # fmt: skip


@dataclass
class Office:
    """A desk under test. client : not signed in"""

    settings: WebSettings
    client: TestClient

    @property
    def desk(self) -> Desk:
        desk = inner(self.client.app).state.desk  # type: ignore[arg-type]
        assert isinstance(desk, Desk)
        return desk

    @property
    def db(self) -> Database:
        return self.desk.db

    def as_role(self, role: str) -> Visitor:
        """A browser in which someone of the role is signed in."""
        with self.db.write() as conn:
            found = conn.execute(sa.select(schema.users.c.id).where(schema.users.c.name == role))
            user_id = found.scalar()
            if user_id is None:
                conn.execute(
                    schema.users.insert().values(
                        name=role, role=role, password="-", active=True, created_at=0.0
                    )
                )
                user_id = conn.execute(
                    sa.select(schema.users.c.id).where(schema.users.c.name == role)
                ).scalar()
            secret = open_session(conn, user_id, time.time())
            csrf = conn.execute(
                sa.select(schema.sessions.c.csrf).order_by(schema.sessions.c.created_at.desc())
            ).scalar()
        browser = TestClient(self.client.app, follow_redirects=False)
        # One loop for all who visit the desk; else each request would start one of its own.
        browser.portal = self.client.portal
        browser.cookies.set(SESSION_COOKIE, secret)
        return Visitor(browser, str(csrf))

    def token(self) -> dict[str, str]:
        with self.db.write() as conn:
            return {"authorization": f"Bearer {add_token(conn, 'test', time.time())}"}

    def booking(self, ref: str = "K1", **told: str) -> str:
        """A booking; returns the path of its link."""
        made = self.client.post("/api/v1/bookings", json={"ref": ref, **told}, headers=self.token())
        assert made.status_code == 201, made.text
        return "/t/" + made.json()["link"].rpartition("/t/")[2]

    def send(self, link: str, content: bytes = GPX, name: str = "a.gpx") -> Response:
        return self.client.post(link, data={"rider": "steady"}, files={"files": (name, content)})

    def work(self) -> int:
        """Do all jobs that wait; returns how many."""
        worker = Worker(self.db, self.settings, quick_make)
        done = 0
        while worker.once():
            done += 1
        return done


@dataclass
class Visitor:
    """A browser with a session."""

    client: TestClient
    csrf: str

    def get(self, path: str) -> Response:
        return self.client.get(path)

    def post(self, path: str, data: dict[str, str] | None = None, **more: object) -> Response:
        return self.client.post(path, data={"csrf": self.csrf, **(data or {})}, **more)  # type: ignore[arg-type]


@pytest.fixture
def office(settings: WebSettings) -> Iterator[Office]:
    with TestClient(create_app(settings), follow_redirects=False) as client:
        yield Office(settings, client)


@pytest.fixture
def admin_with_password(office: Office) -> str:
    """The name of an admin whose password is PASSWORD."""
    with office.db.write() as conn:
        add_user(conn, "robin", Role.ADMIN, PASSWORD, time.time())
    return "robin"


def sign_in(client: TestClient, name: str, password: str) -> Response:
    """Through the form, as a browser does."""
    form = client.get("/sign-in")
    visit = re.search(r'name="visit" value="([^"]+)"', form.text)
    assert visit
    told = {"visit": visit[1], "name": name, "password": password, "to": "/desk"}
    return client.post("/sign-in", data=told)


__all__ = ["PASSWORD", "Office", "Visitor", "on_both", "replace", "sign_in"]
