"""Fixtures shared by all tests."""

from __future__ import annotations

import gc
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import suppress
from importlib import import_module
from pathlib import Path

import pytest
from filelock import FileLock
from hypothesis import HealthCheck, settings

# The same examples at each run, so that a red run tells of the change before it, and no clock
# that a busy machine could miss; new ones are drawn by hand with --hypothesis-profile anew.
_unhurried = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("anew", _unhurried)
settings.register_profile("same", _unhurried, derandomize=True)
settings.load_profile("same")

# A run starts several workers and many servers, each of which would compile all sources again.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

_SHARED = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.hookimpl(wrapper=True)
def pytest_collection(session: pytest.Session) -> Iterator[None]:
    """Workers load the files of tests from different ends, then each collects all.

    On a fresh checkout what one has compiled the others find compiled: the work is shared, and
    none waits. Thousands of tests and all modules stay to the end of the run: the collector of
    garbage need not walk them again and again. What only one file needs and takes a second to
    import is imported where it is used: all workers collect all files.
    """
    told = getattr(session.config, "workerinput", None)
    if told is None:  # no worker: it collects alone, or leaves it to them
        return (yield)
    gc.disable()
    gc.set_threshold(20_000, 20, 20)  # common practice, no source: a report makes many small things
    try:
        if session.config.args_source is pytest.Config.ArgsSource.TESTPATHS:
            _load_all(int(told["workerid"].removeprefix("gw")), told["workercount"])
        return (yield)
    finally:
        gc.collect()
        gc.freeze()
        gc.enable()


def _load_all(worker: int, workers: int) -> None:
    """Import all files of tests, beginning with a worker's share of them.

    What fails is told when it is collected.
    """
    root = Path(__file__).parents[1]
    names = [
        ".".join(path.relative_to(root).with_suffix("").parts)
        for path in sorted(root.glob("tests/**/test_*.py"))
    ]
    begin = len(names) * worker // workers
    for name in names[begin:] + names[:begin]:
        with suppress(Exception, pytest.skip.Exception):
            import_module(name)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """One file that needs the island, then those that do not, then the others; the desk's first.

    On a fresh checkout a worker builds the island's region and compiles what it is read by for half
    a minute. The others begin with what needs neither: the desk, and formulas last, for they would
    compile the same once more. Files of many seconds come before the last.
    """
    needs = {item.path for item in items if "island_home" in getattr(item, "fixturenames", ())}
    first = min(needs, default=None)
    place = {path: n for n, path in enumerate(dict.fromkeys(item.path for item in items))}

    def turn(item: pytest.Item) -> tuple[int, int]:
        group = 1 if item.path not in needs else 0 if item.path == first else 2
        return group, -place[item.path]

    items.sort(key=turn)


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """The folder of real open data laid beside the checkout; tests that need it skip without."""
    if not _SHARED.is_dir():
        pytest.skip("real open data is not laid beside this checkout (../shared/data)")
    return _SHARED


@pytest.fixture(scope="session")
def island_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home folder with the demo's region `island` built, without the network; routes lie in
    demo/routes.
    """
    from terrain.demo.region import ensure_demo_region

    def refuse(*_: object) -> None:
        raise AssertionError("the demo must not use the network")

    built = of_all_workers(tmp_path_factory) / "island"
    with FileLock(built.with_suffix(".lock")), pytest.MonkeyPatch.context() as patch:
        patch.setattr("socket.socket.connect", refuse)
        if ensure_demo_region(built).built:
            _compile(built)
    home = tmp_path_factory.mktemp("home")
    shutil.copytree(built, home, dirs_exist_ok=True)
    return home


def _compile(home: Path) -> None:
    """Have the kernels compiled and kept on disk, once for all workers: it takes most of a minute
    on a fresh checkout.
    """
    import terrain

    route = terrain.read_route(home / "demo" / "routes" / "few-points.gpx")
    terrain.assess(route, terrain.open_region("island", home), terrain.Trip())


def of_all_workers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that all workers of a run share."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
