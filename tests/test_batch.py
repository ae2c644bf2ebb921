"""Many routes at once: a dead worker or a lost scheduler costs one row, not the batch."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Generator, Iterator
from concurrent.futures import CancelledError
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from terrain import batch
from terrain.batch import Job, Order, Outcome, _region, find_routes, judge, run_batch
from terrain.errors import RouteError, UsageError
from terrain.region.pack import current_pack
from terrain.values.trip import Trip

_STAMP = datetime(2027, 2, 1, 9, 0, tzinfo=UTC)


@pytest.fixture
def order(island_home: Path) -> Order:
    folder = island_home / "regions" / "island"
    return Order(region=folder, trip=Trip(), formats=("csv",), made_at=_STAMP)


@pytest.fixture
def routes(island_home: Path) -> list[tuple[Path, str]]:
    return find_routes([island_home / "demo" / "routes"])[:3]


def test_each_route_has_one_outcome(routes: list[tuple[Path, str]], order: Order) -> None:
    outcomes = list(run_batch(routes, order))
    assert sorted(o.name for o in outcomes) == sorted(name for _, name in routes)
    assert all(o.error == "" and o.row is not None for o in outcomes)
    assert all(len(o.files) == 1 for o in outcomes)


def test_a_route_is_read_when_its_turn_comes(
    routes: list[tuple[Path, str]], order: Order, tmp_path: Path
) -> None:
    """Ten thousand routes are not held at once: the third is read after the first is done."""
    copies = []
    for n, (path, _) in enumerate(routes):
        copy = tmp_path / f"r{n}.gpx"
        copy.write_bytes(path.read_bytes())
        copies.append((copy, copy.name))
    outcomes = run_batch(copies, order)
    assert next(outcomes).error == ""
    copies[2][0].unlink()
    assert [o.name for o in outcomes if "cannot be read" in o.error] == ["r2.gpx"]


def test_a_region_built_anew_meanwhile_is_never_mixed_in(
    routes: list[tuple[Path, str]], order: Order, tmp_path: Path
) -> None:
    """Routes begun after the change go on with the old map, or say that it is gone."""
    folder = tmp_path / "island"
    shutil.copytree(order.region, folder)
    old = current_pack(folder)
    outcomes = run_batch(routes, replace(order, region=folder))
    assert next(outcomes).error == ""
    new = folder / "pack-00000000000000aa"
    old.rename(new)
    (folder / "CURRENT").write_text(new.name)
    assert [o.error for o in outcomes] == ["", ""]  # this process holds the old pack
    _region.cache_clear()  # as a worker that starts now
    late = judge(Job(name="late", stem="late", path=routes[0][0]),
                 replace(order, region=folder, pack=old))  # fmt: skip
    assert late.exit_code == 4
    assert "built anew while work on it was under way" in late.error
    assert "Start again" in late.error


def _judge_or_die(job: Job, order: Order) -> Outcome:
    """Stands in for `judge`: one route kills its process, as a crash in a library would."""
    if job.path.read_bytes() == b"deadly":
        os.kill(os.getpid(), signal.SIGKILL)
    return Outcome(name=job.name)


@pytest.mark.skipif(os.name == "nt", reason="no SIGKILL on this system")
def test_a_killed_worker_costs_one_row(
    tmp_path: Path, order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "judge", _judge_or_die)
    for n in range(6):
        (tmp_path / f"r{n}.gpx").write_bytes(b"deadly" if n == 3 else b"fine")
    outcomes = {o.name: o for o in run_batch(find_routes([tmp_path]), order, workers=2)}
    assert len(outcomes) == 6
    assert [name for name, o in outcomes.items() if o.error] == ["r3.gpx"]
    assert "died" in outcomes["r3.gpx"].error


def _judge_slowly(job: Job, order: Order) -> Outcome:
    """Stands in for `judge`: leaves a mark for each route begun."""
    (order.region / job.name).touch()
    time.sleep(0.2)
    return Outcome(name=job.name)


def test_a_stopped_batch_begins_no_more_routes(
    tmp_path: Path, order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch, "judge", _judge_slowly)
    for folder in ("routes", "marks"):
        (tmp_path / folder).mkdir()
    for n in range(40):
        (tmp_path / "routes" / f"r{n}.gpx").write_bytes(b"x")
    marked = replace(order, region=tmp_path / "marks", pack=tmp_path)
    outcomes = run_batch(find_routes([tmp_path / "routes"]), marked, workers=2)
    assert isinstance(outcomes, Generator)
    next(outcomes)
    outcomes.close()  # as Ctrl-C or a full disk in the caller does
    assert len(list((tmp_path / "marks").iterdir())) < 20


def test_an_unforeseen_error_is_a_row(order: Order, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> Outcome:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(batch, "_judge", broken)
    outcome = batch.judge(Job(name="a.gpx", stem="a", path=Path("a.gpx"), data=b""), order)
    assert outcome.exit_code == 1
    assert "ZeroDivisionError" in outcome.error
    assert "\n" not in outcome.error


def test_unreadable_file_is_a_row(tmp_path: Path, order: Order) -> None:
    path = tmp_path / "gone.gpx"
    (outcome,) = run_batch([(path, "gone.gpx")], order)
    assert outcome.exit_code == 3
    assert "gone.gpx" in outcome.error


def test_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(RouteError, match="no such file or folder"):
        find_routes([tmp_path / "nowhere"])


def test_scheduler_out_of_reach_is_told(
    routes: list[tuple[Path, str]], order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("distributed", reason="the dask extra is not installed")
    monkeypatch.setattr(batch, "_CONNECT_S", 1.0)
    with pytest.raises(UsageError, match="cannot be reached"):
        list(run_batch(routes, order, scheduler="tcp://127.0.0.1:1"))


class Cluster:
    """A scheduler and workers in processes of their own, each to be killed."""

    def __init__(self, n_workers: int) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
        port = self.address.rpartition(":")[2]
        self.scheduler = self._start(
            "scheduler", "--host", "127.0.0.1", "--port", port, "--no-dashboard", "--no-show"
        )
        self.workers = [
            self._start("worker", self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard")
            for _ in range(n_workers)
        ]

    def _start(self, what: str, *options: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.dask_{what}", *options]
        env = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[1])}
        return subprocess.Popen(
            command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def stop(self) -> None:
        for process in (self.scheduler, *self.workers):
            process.kill()
            process.wait()


@pytest.fixture
def cluster(monkeypatch: pytest.MonkeyPatch) -> Iterator[Cluster]:
    pytest.importorskip("distributed", reason="the dask extra is not installed")
    monkeypatch.setattr(batch, "_CONNECT_S", 60.0)
    here = Cluster(2)
    yield here
    here.stop()


class _Told:
    """A cluster's answer to one route: it says it is done, and bringing it may fail."""

    status = "finished"

    def __init__(self, key: str, brings: Outcome | Exception) -> None:
        self.key, self.brings = key, brings

    def result(self, timeout: float) -> Outcome:
        if isinstance(self.brings, Exception):
            raise self.brings
        return self.brings


class _Failing:
    """Stands in for the library and its client: what each route brings, in order; a route that
    brings nothing cannot be sent."""

    status = "running"

    def __init__(self, *brings: Outcome | Exception | None) -> None:
        self.brings = list(brings)
        self.told: list[_Told] = []

    def __enter__(self) -> _Failing:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def as_completed(self) -> _Failing:
        return self

    def add(self, future: _Told) -> None:
        self.told.append(future)

    def __iter__(self) -> Iterator[_Told]:
        return iter(self.told)

    def submit(self, *_: object, pure: bool) -> _Told:
        brings = self.brings.pop(0)
        if brings is None:
            self.status = "closed"
            raise RuntimeError("the client is closed")
        return _Told(str(len(self.told)), brings)


@pytest.mark.parametrize("lost", [CancelledError("scheduler-connection-lost"), OSError(), None])
def test_a_scheduler_lost_while_a_route_is_brought_or_sent_costs_nothing(
    tmp_path: Path, order: Order, monkeypatch: pytest.MonkeyPatch, lost: Exception | None
) -> None:
    paths = [tmp_path / f"{n}.gpx" for n in range(3)]
    for path in paths:
        path.write_bytes(b"x")
    fine = Outcome(name="0.gpx")
    cluster = _Failing(fine, lost, fine)
    monkeypatch.setattr(batch, "_connected", lambda _: (cluster, cluster))
    monkeypatch.setattr(batch, "judge", lambda job, _: Outcome(name=job.name))
    said: list[str] = []
    outcomes = run_batch(find_routes(paths), order, scheduler="tcp://there", say=said.append)
    assert sorted(o.name for o in outcomes) == ["0.gpx", "1.gpx", "2.gpx"]
    assert len(said) == 1 and "is lost" in said[0]


def test_a_worker_that_dies_while_its_route_is_brought_is_a_row(
    tmp_path: Path, order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "0.gpx"
    path.write_bytes(b"x")
    cluster = _Failing(ValueError("gone"))
    monkeypatch.setattr(batch, "_connected", lambda _: (cluster, cluster))
    (outcome,) = run_batch(find_routes([path]), order, scheduler="tcp://there")
    assert outcome.exit_code == 1 and "lost on the cluster (ValueError)" in outcome.error


_QUIET = pytest.mark.filterwarnings("ignore")  # the cluster's own sockets close late


@_QUIET
def test_a_cluster_gives_the_same_bytes_and_loses_nothing_with_worker_or_scheduler(
    routes: list[tuple[Path, str]], order: Order, cluster: Cluster
) -> None:
    """First a worker is killed, then the scheduler: the rest is judged here, and told once."""
    order = replace(order, formats=("html", "json"))
    many = [(path, f"{n}-{name}") for n in range(2) for path, name in routes]
    found: dict[str, Outcome] = {}
    for outcome in run_batch(many, order, scheduler=cluster.address):
        assert outcome.error == ""
        found[outcome.name] = outcome
        if len(found) == 2:
            cluster.workers[0].send_signal(signal.SIGKILL)
    assert sorted(found) == sorted(name for _, name in many)
    for alone in run_batch(many[: len(routes)], order):
        assert found[alone.name].files == alone.files
    said: list[str] = []
    names = []
    order = replace(order, formats=("csv",))
    for outcome in run_batch(many, order, scheduler=cluster.address, say=said.append):
        assert outcome.error == ""
        names.append(outcome.name)
        if len(names) == 2:
            cluster.scheduler.send_signal(signal.SIGKILL)
            cluster.scheduler.wait()
    assert sorted(names) == sorted(name for _, name in many)
    assert len(said) == 1 and "is lost" in said[0] and cluster.address in said[0]
