"""A build killed at any step leaves the old region or the new one, whole."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from terrain.region.build import build_region
from terrain.region.manage import check_region
from terrain.region.region import open_region
from tests.region.osm_xml import OsmXml, crossing

_KILLS = 50
_SMALL, _LARGE = 3, 4  # ways in the two maps that take turns

# The child forks once per build, so that each kill costs no start of Python. A build kills itself
# at the step it is told, counted in what it does to files of the home, or finishes and tells how
# many steps it took.
_CHILD = """
import os, signal, sys
from pathlib import Path
from terrain.region.build import build_region
home = Path(sys.argv[1])
os.fsync = lambda fd: None  # a kill takes nothing from what the system holds
steps, last = 0, 0
def count(event, args):
    global steps
    if event == "open" or event.startswith("os."):
        if any(str(arg).startswith(str(home)) for arg in args):
            steps += 1
            if steps == last:
                os.kill(os.getpid(), signal.SIGKILL)
def build(osm):
    build_region("here", (Path(osm),), replace=True, home=home)
build(sys.argv[2])  # loads everything that a build needs
for line in sys.stdin:
    osm, last = line.split()
    last = int(last)
    pid = os.fork()
    if pid == 0:
        sys.addaudithook(count)
        build(osm)
        print(steps, flush=True)
        os._exit(0)
    _, status = os.waitpid(pid, 0)
    if os.WIFSIGNALED(status):
        print("killed", flush=True)
"""


def more_roads() -> OsmXml:
    osm = crossing()
    osm.node(70, 10.1, 45.0)
    osm.way(70, [5, 70], {"highway": "residential"})
    return osm


@pytest.mark.skipif(sys.platform == "win32", reason="needs fork and SIGKILL")
def test_fifty_kills_each_leave_a_usable_region(tmp_path: Path) -> None:
    home = tmp_path / "home"
    maps = [crossing().write(tmp_path / "a.osm"), more_roads().write(tmp_path / "b.osm")]
    seen: list[int] = []
    n_killed = 0
    with subprocess.Popen(
        [sys.executable, "-c", _CHILD, str(home), str(maps[0])],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as child:
        assert child.stdin is not None
        assert child.stdout is not None

        def build(last: int) -> str:
            """Build the other map than the region holds."""
            assert child.stdin is not None and child.stdout is not None
            other = maps[1] if seen[-1:] == [_SMALL] else maps[0]
            child.stdin.write(f"{other} {last}\n")
            child.stdin.flush()
            told = child.stdout.readline().strip()
            region = open_region("here", home)
            check_region(region.folder)
            assert len(region.roads.ways) in (_SMALL, _LARGE)
            seen.append(len(region.roads.ways))
            return told

        steps = int(build(0))
        assert steps > 100
        for i in range(_KILLS):
            n_killed += build(1 + i * (steps - 1) // (_KILLS - 1)) == "killed"
        child.stdin.close()
    assert n_killed >= _KILLS - 3  # clearing up after a kill takes a step more or less
    assert set(seen) == {_SMALL, _LARGE}
    build_region("here", (maps[0],), replace=True, home=home)
    assert len(list((home / "regions" / "here").glob("pack-*"))) == 1
