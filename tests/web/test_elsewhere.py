"""A desk beyond one machine: servers that share people and limits, workers in other homes."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import httpx2
import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain import read_route
from terrain.cli import main
from terrain.region.pack import MANIFEST, current_pack
from terrain.values.route import Route
from terrain.web import jobs, schema
from terrain.web.access import SESSION_COOKIE
from terrain.web.app import create_app
from terrain.web.bookings import add_booking
from terrain.web.database import Database
from terrain.web.details import Details
from terrain.web.settings import WebSettings
from terrain.web.stock import ElsewhereError, Item, own_stock, region_for, tell_stock, told_stock
from terrain.web.worker import Worker
from tests.web.conftest import PASSWORD, Office, on_both, sign_in
from tests.web.postgres import Postgres
from tests.web.standin import GPX, make_or_leave
from tests.web.test_server import Server

_ROOT = Path(__file__).resolve().parents[2]


# -- several servers -----------------------------------------------------------------------------


@on_both
def test_servers_share_sessions_and_limits(office: Office, admin_with_password: str) -> None:
    """Both stand behind one proxy: who signs in at the one is known to the other."""
    settings = replace(office.settings, sign_ins_per_minute=2)
    with (
        TestClient(create_app(settings), follow_redirects=False) as one,
        TestClient(create_app(settings), follow_redirects=False) as other,
    ):
        assert sign_in(one, admin_with_password, PASSWORD).status_code == 303
        secret = one.cookies[SESSION_COOKIE]
        other.cookies.set(SESSION_COOKIE, secret)
        assert other.get("/desk").status_code == 200
        other.cookies.clear()
        assert sign_in(other, admin_with_password, "wrong words here").status_code == 401
        third = sign_in(one, admin_with_password, PASSWORD)
        assert third.status_code == 429 and int(third.headers["retry-after"]) > 0


@on_both
def test_an_address_is_kept_for_a_minute_and_as_a_hash_only(office: Office) -> None:
    limits = office.desk.limits
    assert limits.wait_s("upload", "192.0.2.7", 1) == 0
    assert limits.wait_s("upload", "192.0.2.7", 1) > 0
    assert limits.wait_s("upload", "192.0.2.8", 1) == 0
    with office.db.read() as conn:
        rows = conn.execute(sa.select(schema.asked)).all()
    assert len(rows) == 2 and not any("192.0.2" in str(row) for row in rows)
    limits.forget_old(time.time() + 61)
    with office.db.read() as conn:
        assert conn.execute(sa.select(schema.asked)).all() == []


# -- which region --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def home(island_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home of its own with the island's region, as copied to another machine."""
    other = tmp_path_factory.mktemp("other")
    shutil.copytree(island_home / "regions", other / "regions")
    return other


@pytest.fixture
def told(island_home: Path, tmp_path: Path) -> tuple[Item, ...]:
    """What the desk on the first machine tells of itself, once through the database."""
    db = Database(f"sqlite:///{tmp_path / 'd.sqlite'}")
    db.create()
    tell_stock(db, own_stock(WebSettings(home=island_home, data=tmp_path)))
    with db.read() as conn:
        items = told_stock(conn)
    db.close()
    return items


@pytest.fixture
def route(island_home: Path) -> Route:
    return read_route(island_home / "demo" / "routes" / "coast-road.gpx")


def test_a_copy_of_the_region_is_the_same(home: Path, told: tuple[Item, ...], route: Route) -> None:
    assert region_for(route, WebSettings(home=home, data=home), told).info.name == "island"


def test_a_region_that_is_missing_is_for_others_and_named(
    told: tuple[Item, ...], route: Route, tmp_path: Path
) -> None:
    with pytest.raises(ElsewhereError, match="'island' of the desk is not on this machine"):
        region_for(route, WebSettings(home=tmp_path, data=tmp_path), told)


def test_a_region_with_another_sum_is_for_others(
    home: Path, told: tuple[Item, ...], route: Route, tmp_path: Path
) -> None:
    shutil.copytree(home / "regions", tmp_path / "regions")
    manifest = current_pack(tmp_path / "regions" / "island") / MANIFEST
    text = manifest.read_text()
    at = text.index('"roads/')
    digest = text.index(",", at) + 1
    quote = text.index('"', digest)
    manifest.write_text(f"{text[: quote + 1]}{'0' * 64}{text[quote + 65 :]}")
    with pytest.raises(ElsewhereError, match="'island' differs"):
        region_for(route, WebSettings(home=tmp_path, data=tmp_path), told)


def test_another_fleet_is_for_others(
    home: Path, told: tuple[Item, ...], route: Route, tmp_path: Path
) -> None:
    fleet = tmp_path / "fleet.toml"
    fleet.write_text("", encoding="utf-8")
    with pytest.raises(ElsewhereError, match="fleet file differs"):
        region_for(route, WebSettings(home=home, data=home, fleet=str(fleet)), told)


def test_a_missing_region_elsewhere_does_not_matter(
    home: Path, told: tuple[Item, ...], route: Route
) -> None:
    """Only a region that may hold the route counts."""
    far = Item(kind="region", name="far", sum="1", bbox=(100.0, 50.0, 101.0, 51.0))
    settings = WebSettings(home=home, data=home)
    assert region_for(route, settings, (*told, far)).info.name == "island"
    island = next(item.bbox for item in told if item.kind == "region")
    with pytest.raises(ElsewhereError, match="'far'"):
        region_for(route, settings, (*told, replace(far, bbox=island)))


@on_both
def test_a_job_for_other_machines_is_left_at_once_and_costs_no_try(
    office: Office, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    office.send(office.booking())
    (tmp_path / "elsewhere").touch()
    here = Worker(office.db, replace(office.settings, home=tmp_path), make_or_leave)
    assert here.once() and not here.once()
    assert "job left to other machines" in capfd.readouterr().err
    with office.db.read() as conn:
        row = conn.execute(sa.select(schema.jobs)).one()
    assert (row.state, row.tries) == (jobs.WAITING, 0)
    assert office.work() == 1


# -- other machines ------------------------------------------------------------------------------


def test_work_needs_a_desk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    url = f"sqlite:///{tmp_path / 'none.sqlite'}"
    assert main(["serve", "--data", str(tmp_path), "work", "--database", url]) == 2
    assert "no data of a desk" in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_the_command_makes_a_report_and_ends_quietly(
    island_home: Path, home: Path, tmp_path: Path
) -> None:
    url = f"sqlite:///{tmp_path / 'desk.sqlite'}"
    db = Database(url)
    db.create()
    tell_stock(db, own_stock(WebSettings(home=island_home, data=tmp_path)))
    with db.write() as conn:
        booking, _, _ = add_booking(conn, Details(), time.time(), lang="en", units="metric")
        content = (island_home / "demo" / "routes" / "over-the-strait.gpx").read_bytes()
        conn.execute(
            schema.routes.insert().values(
                booking_id=booking, name="a.gpx", content=content, created_at=time.time()
            )
        )
        jobs.add_job(conn, "report", time.time(), route_id=1)
    env = {**os.environ, "PYTHONPATH": str(_ROOT), "TERRAIN_HOME": str(home)}
    process = subprocess.Popen(
        [sys.executable, "-m", "terrain", "serve", "work", "--database", url], env=env
    )
    until = time.monotonic() + 180
    made = None
    while made is None and time.monotonic() < until:
        time.sleep(0.2)
        with db.read() as conn:
            made = conn.execute(sa.select(schema.reports.c.summary)).scalar()
    process.send_signal(signal.SIGTERM)
    assert process.wait(60) == 0
    db.close()
    assert made is not None


class Outpost(Server):
    """A home with workers alone."""

    def start(self) -> None:
        command = [sys.executable, "-m", "tests.web.standin", "work", str(self.data), self.database]
        env = self.environment()
        with (self.data / "log").open("ab") as log:
            self.process = subprocess.Popen(
                command, cwd=_ROOT, env=env, stdout=log, stderr=log, start_new_session=True
            )

    def stop(self) -> None:
        self.kill_all()
        self.db.close()


@pytest.fixture
def homes(
    request: pytest.FixtureRequest, postgres: Postgres, tmp_path: Path
) -> Iterator[list[Server]]:
    """Two servers with workers, a home with workers alone; a fourth has another region.
    Takes how many workers each has.
    """
    url = postgres.fresh()
    found: list[Server] = []
    for name, kind in (("a", Server), ("b", Server), ("c", Outpost), ("d", Outpost)):
        (tmp_path / name).mkdir()
        found.append(kind(tmp_path / name, url))
        found[-1].workers = request.param
        if name == "d":
            (tmp_path / name / "elsewhere").touch()
        found[-1].start()
    yield found
    for here in found:
        here.stop()


def _spread(homes: list[Server], kills: int, seed: int) -> None:
    """Uploads go to both servers while homes and workers die; what was acknowledged is there."""
    rng = random.Random(seed)
    acknowledged: list[str] = []
    for n in range(kills):
        paths = [link.removeprefix(homes[0].url) for link in homes[0].links(6)]
        with httpx2.Client(timeout=20) as client:

            def send(path: str, client: httpx2.Client = client) -> str | None:
                server = homes[hash(path) % 2]
                try:
                    got = client.post(
                        server.url + path, data={"rider": "steady", "once": "1"},
                        files={"files": ("a.gpx", GPX)},
                    )  # fmt: skip
                except httpx2.TransportError:
                    return None
                return path if got.status_code == 303 else None

            with ThreadPoolExecutor(6) as pool:
                sent = [pool.submit(send, path) for path in paths]
                time.sleep(rng.uniform(0.0, 0.15))
                hit = homes[rng.randrange(len(homes))] if n >= 3 else homes[n]
                whole = rng.random() < 0.5
                if whole or not hit.kill_a_worker():
                    hit.kill_all()
                    whole = True
                acknowledged += [path for job in sent if (path := job.result())]
        if whole:
            hit.start()
    assert homes[0].drained(180)
    for path in acknowledged:
        told = httpx2.get(homes[0].url + path + "/state", timeout=20).json()
        assert told["working"] is False and len(told["routes"]) == 1
        assert told["routes"][0]["text"] == "ready"
    with homes[0].db.read() as conn:
        routes = conn.execute(sa.select(schema.routes.c.booking_id)).scalars().all()
        reports = conn.execute(sa.select(schema.reports.c.route_id)).scalars().all()
        failed = conn.execute(
            sa.select(sa.func.count()).where(schema.jobs.c.state == jobs.FAILED)
        ).scalar()
    assert len(acknowledged) > 0 and failed == 0
    assert len(routes) == len(set(routes)) == len(reports) == len(set(reports))


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("homes", [1], indirect=True)
def test_three_homes_lose_and_double_nothing(homes: list[Server]) -> None:
    """Each of the three dies once."""
    _spread(homes, 3, seed=3)


@pytest.mark.bench
@pytest.mark.parametrize("homes", [2], indirect=True)
def test_three_homes_killed_a_hundred_times(homes: list[Server]) -> None:
    _spread(homes, 100, seed=4)
