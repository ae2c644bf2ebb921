"""A server process with its workers: load, large bodies, and death at any moment."""

from __future__ import annotations

import os
import random
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx2
import pytest
import sqlalchemy as sa

from terrain.web import schema
from terrain.web.bookings import add_booking
from terrain.web.database import Database
from terrain.web.details import Details
from tests.web.standin import GPX

_ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


class Server:
    """A stand-in desk in processes of its own, which can be killed and started again."""

    make_s = 0.01  # what a report takes
    workers = 2  # each takes a second of processor time to start

    def __init__(self, data: Path, database: str = "") -> None:
        self.data, self.database = data, database
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None
        self.db = Database(database or f"sqlite:///{data / 'desk.sqlite'}")
        self.db.create()

    def start(self) -> None:
        command = [sys.executable, "-m", "tests.web.standin", "serve", str(self.data),
                   str(self.port), self.database]  # fmt: skip
        env = self.environment()
        with (self.data / "log").open("ab") as log:
            self.process = subprocess.Popen(
                command, cwd=_ROOT, env=env, stdout=log, stderr=log, start_new_session=True
            )
        until = time.monotonic() + 60
        while time.monotonic() < until:
            try:
                if httpx2.get(self.url + "/health", timeout=2).status_code == 200:
                    return
            except httpx2.TransportError:
                time.sleep(0.05)
        raise AssertionError((self.data / "log").read_text()[-2000:])

    def environment(self) -> dict[str, str]:
        told = {"STANDIN_SLEEP_S": str(self.make_s), "STANDIN_WORKERS": str(self.workers)}
        return {**os.environ, "PYTHONPATH": str(_ROOT), **told}

    def kill_all(self) -> None:
        """kill -9 of the server and its workers at once."""
        assert self.process is not None
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def kill_a_worker(self) -> bool:
        """kill -9 of one worker, found as a child of the server."""
        assert self.process is not None
        children = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(self.process.pid)], capture_output=True, text=True
        ).stdout.split()
        if not children:
            return False
        os.kill(int(random.choice(children)), signal.SIGKILL)
        return True

    def stop(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()
            self.process.wait(30)
        self.db.close()

    def memory_mb(self) -> float:
        assert self.process is not None
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(status.partition("VmHWM:")[2].split()[0]) / 1024

    def cpu_s(self) -> float:
        """Processor time of the server process alone, without its workers."""
        assert self.process is not None
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def links(self, n: int) -> list[str]:
        with self.db.write() as conn:
            made = [
                add_booking(conn, Details(), time.time(), lang="en", units="metric")
                for _ in range(n)
            ]
        return [f"{self.url}/t/{link}" for _, _, link in made]

    def drained(self, seconds: float = 90) -> bool:
        """Wait until no job is open."""
        open_ = sa.select(sa.func.count()).where(schema.jobs.c.state.in_(("waiting", "running")))
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            with self.db.read() as conn:
                if conn.execute(open_).scalar() == 0:
                    return True
            time.sleep(0.1)
        return False


def _database(request: pytest.FixtureRequest) -> str:
    """A database of its own: of SQLite, or on the Postgres that the tests start."""
    if request.param == "sqlite":
        return ""
    return str(request.getfixturevalue("postgres").fresh())


@pytest.fixture(params=["sqlite", "postgres"])
def server(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Server]:
    here = Server(tmp_path, _database(request))
    here.start()
    yield here
    here.stop()


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def shared(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Server]:
    """One server for tests that leave it standing."""
    here = Server(tmp_path_factory.mktemp("server"), _database(request))
    here.start()
    yield here
    here.stop()


class _Watcher:
    """Asks for a status page all the time, in a process of its own: only the server is timed."""

    def __init__(self, link: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", _WATCH, link], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )

    def __enter__(self) -> _Watcher:
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.communicate()

    def end(self) -> list[float]:
        told, _ = self.process.communicate(b"\n", timeout=120)
        looks = [float(word) for word in told.split()]
        assert looks and min(looks) > 0, "a status page failed"
        return sorted(looks)


_WATCH = """
import http.client, select, sys, time, urllib.parse
url = urllib.parse.urlsplit(sys.argv[1])
conn = http.client.HTTPConnection(url.hostname, url.port, timeout=60)
ends = False  # looks once at least, however soon all is sent
while not ends:
    ends = bool(select.select([sys.stdin], [], [], 0.05)[0])
    started = time.perf_counter()
    conn.request("GET", url.path + "/state")
    answer = conn.getresponse()
    answer.read()
    print(time.perf_counter() - started if answer.status == 200 else -1)
"""


def _load(server: Server, n: int, at_once: int, size: int) -> tuple[list[int], list[float]]:
    """Upload n files; their answers, and how long the status page took meanwhile."""
    links = server.links(n)
    body = GPX + b" " * size
    client = httpx2.Client(timeout=120, limits=httpx2.Limits(max_connections=at_once + 1))

    def send(link: str) -> int:
        for _ in range(30):
            got = client.post(
                link, data={"rider": "steady", "once": "1"}, files={"files": ("a.gpx", body)},
            )  # fmt: skip
            if got.status_code != 503:
                return int(got.status_code)
            assert "retry-after" in got.headers
            time.sleep(0.5)
        return 503

    with _Watcher(links[0]) as watcher, ThreadPoolExecutor(at_once) as pool:
        answers = list(pool.map(send, links))
        looks = watcher.end()
    client.close()
    return answers, looks


def _nothing_lost(server: Server, n: int, seconds: float = 90) -> None:
    assert server.drained(seconds)
    with server.db.read() as conn:
        routes = conn.execute(sa.select(schema.routes.c.booking_id)).scalars().all()
        reports = conn.execute(sa.select(schema.reports.c.booking_id)).scalars().all()
    assert len(routes) == len(set(routes)) == n
    assert sorted(reports) == sorted(routes)


def test_many_uploads_at_once(shared: Server) -> None:
    server = shared
    answers, _ = _load(server, 40, 40, 200_000)
    assert set(answers) == {303}
    _nothing_lost(server, 40)
    assert server.memory_mb() < 300


@pytest.mark.bench
def test_a_thousand_uploads_a_hundred_at_once(server: Server) -> None:
    started, cpu_s = time.monotonic(), server.cpu_s()
    answers, looks = _load(server, 1000, 100, 1_000_000)
    took, cpu_s = time.monotonic() - started, server.cpu_s() - cpu_s
    _nothing_lost(server, 1000, 600)
    print(
        f"\n1,000 uploads of 1 MB: {took:.1f} s, server {server.memory_mb():.0f} MB and "
        f"{cpu_s:.1f} s of processor, {len(looks)} looks at the status page: median "
        f"{1000 * looks[len(looks) // 2]:.0f} ms, 95 % {1000 * looks[-len(looks) // 20]:.0f} ms"
    )
    assert looks[-len(looks) // 20] < 0.2
    assert set(answers) == {303}
    assert server.memory_mb() < 300


def _rounds(server: Server, rounds: int, seed: int) -> int:
    """Uploads go on while server and workers are killed; what was acknowledged is there.

    Returns how many times it was killed, one worker or all at once.
    """
    rng, kills = random.Random(seed), 0
    acknowledged: list[str] = []
    for n in range(rounds):
        links = server.links(12)

        client = httpx2.Client(timeout=20)

        def send(link: str, client: httpx2.Client = client) -> str | None:
            try:
                got = client.post(
                    link, data={"rider": "steady", "once": "1"}, files={"files": ("a.gpx", GPX)}
                )
            except httpx2.TransportError:
                return None
            return link if got.status_code == 303 else None

        with ThreadPoolExecutor(6) as pool:
            sent = [pool.submit(send, link) for link in links]
            enough = rng.randint(1, 11)
            while sum(job.done() for job in sent) < enough:
                time.sleep(0.005)
            time.sleep(rng.uniform(0.0, 0.05))
            if n % 2 == 0 and server.kill_a_worker():
                kills += 1
                time.sleep(rng.uniform(0.0, 0.3))
            server.kill_all()
            kills += 1
            acknowledged += [link for job in sent if (link := job.result())]
        client.close()
        server.start()
    assert server.drained()
    for link in acknowledged:
        told = httpx2.get(link + "/state", timeout=20).json()
        assert told["working"] is False and len(told["routes"]) == 1
        assert told["routes"][0]["text"] == "ready"
    with server.db.read() as conn:
        by_route = conn.execute(sa.select(schema.reports.c.route_id)).scalars().all()
        once = conn.execute(sa.select(schema.routes.c.booking_id)).scalars().all()
        whole = "ok"
        if server.db.is_sqlite:
            (whole,) = conn.exec_driver_sql("PRAGMA integrity_check").one()
    assert len(by_route) == len(set(by_route)) and len(once) == len(set(once))
    assert whole == "ok"
    assert len(acknowledged) > 0
    print(f"\n{kills} kills, {len(acknowledged)} routes acknowledged, {len(once)} there, each once")
    return kills


def test_killed_at_any_moment_nothing_acknowledged_is_lost_or_doubled(server: Server) -> None:
    """A worker dies, then all at once; two hundred kills by hand, below."""
    _rounds(server, 1, seed=1)
    _workers_end(server)


@pytest.mark.bench
def test_killed_a_hundred_times(server: Server) -> None:
    """On each database."""
    assert _rounds(server, 67, seed=2) >= 100


def _workers_end(server: Server) -> None:
    """Workers end with their server."""
    assert server.process is not None
    pid = server.process.pid
    os.kill(pid, signal.SIGKILL)
    server.process.wait()
    until = time.monotonic() + 20
    while time.monotonic() < until:
        left = subprocess.run(["ps", "-o", "pid=", "-g", str(pid)], capture_output=True, text=True)
        if not left.stdout.split():
            return
        time.sleep(0.2)
    raise AssertionError("workers outlived their server")


@pytest.mark.parametrize("path", ["/ride", "/api/v1/bookings/K1/routes"])
@pytest.mark.parametrize("chunked", [False, True])
def test_21_mb_are_refused_and_not_kept(shared: Server, path: str, chunked: bool) -> None:
    """OWASP ASVS 5.0, 5.2.1: declared or in chunks, the answer is 413."""
    server = shared
    with server.db.read() as conn:
        before = len(conn.execute(sa.select(schema.routes.c.id)).all())
    start = b'--b\r\nContent-Disposition: form-data; name="files"; filename="a.gpx"\r\n\r\n'
    pieces = [start, *[b"x" * 1_000_000] * 21, b"\r\n--b--\r\n"]
    head = {"content-type": "multipart/form-data; boundary=b"}
    content = iter(pieces) if chunked else b"".join(pieces)
    got = httpx2.post(server.url + path, content=content, headers=head, timeout=60)
    assert got.status_code == 413
    assert "more than" in got.text
    with server.db.read() as conn:
        assert len(conn.execute(sa.select(schema.routes.c.id)).all()) == before


def test_small_forms_take_no_large_body(shared: Server) -> None:
    got = httpx2.post(shared.url + "/sign-in", content=b"x" * 400_000, timeout=60)
    assert got.status_code == 413
