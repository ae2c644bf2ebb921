"""A build killed at any moment leaves the old region or the new one, whole."""

from __future__ import annotations

import random
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

# The child forks once per build, so that each kill costs no start of Python. A share of "-" lets
# the build finish; the shortest of those tells how long a build takes.
_CHILD = """
import os, sys, time
from pathlib import Path
from terrain.region.build import build_region
home = Path(sys.argv[1])
def build(osm):
    build_region("here", (Path(osm),), replace=True, home=home)
build(sys.argv[2])  # loads everything that a build needs
typical = 1e9
for line in sys.stdin:
    osm, share = line.split()
    started = time.monotonic()
    pid = os.fork()
    if pid == 0:
        try:
            build(osm)
        finally:
            os._exit(0)
    if share != "-":
        time.sleep(float(share) * typical)
        os.kill(pid, 9)
    _, status = os.waitpid(pid, 0)
    if share == "-":
        typical = min(typical, time.monotonic() - started)
    print("killed" if os.WIFSIGNALED(status) else "done", flush=True)
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
    chance, seen, n_killed = random.Random(11), set(), 0
    with subprocess.Popen(
        [sys.executable, "-c", _CHILD, str(home), str(maps[0])],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as child:
        assert child.stdin is not None
        assert child.stdout is not None
        shares = [str(round(chance.uniform(0, 1.1), 4)) for _ in range(_KILLS)]
        # The first two builds, and some in between, may finish: old and new take turns.
        for i, share in enumerate(["-", "-", *shares[:25], "-", *shares[25:], "-"]):
            child.stdin.write(f"{maps[i % 2]} {share}\n")
            child.stdin.flush()
            n_killed += child.stdout.readline().strip() == "killed"
            region = open_region("here", home)
            check_region(region.folder)
            n_ways = len(region.roads.ways)
            assert n_ways in (_SMALL, _LARGE)
            seen.add(n_ways)
        child.stdin.close()
    assert n_killed >= 10  # in the middle of their work
    assert seen == {_SMALL, _LARGE}
    build_region("here", (maps[0],), replace=True, home=home)
    assert len(list((home / "regions" / "here").glob("pack-*"))) == 1
