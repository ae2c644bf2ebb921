"""What a build that fails or is told to end leaves behind: nothing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from terrain.errors import MapDataError
from terrain.region.build import build_region
from tests.region.osm_xml import crossing

_ROOT = Path(__file__).resolve().parents[2]
_SURROUNDINGS = {**os.environ, "PYTHONPATH": str(_ROOT)}

_BUILDS_LONG = """
import sys, time
from terrain.cli import main
from terrain.region import build
def fill(*_):
    print("half", flush=True)
    time.sleep(600)
build._fill_pack = fill
sys.exit(main(["region", "build", "here", "--osm", sys.argv[1]]))
"""


def test_a_first_build_that_fails_leaves_no_folder(tmp_path: Path) -> None:
    bad = tmp_path / "bad.osm"
    bad.write_text("no map")
    with pytest.raises(MapDataError):
        build_region("here", (bad,), home=tmp_path / "home")
    assert list((tmp_path / "home" / "regions").iterdir()) == []
    good = crossing().write(tmp_path / "a.osm")
    folder = build_region("here", (good,), home=tmp_path / "home")
    before = sorted(folder.rglob("*"))
    with pytest.raises(MapDataError):
        build_region("here", (bad,), replace=True, home=tmp_path / "home")
    assert sorted(folder.rglob("*")) == before


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_a_build_that_is_told_to_end_clears_up(tmp_path: Path) -> None:
    good = crossing().write(tmp_path / "a.osm")
    home = {**_SURROUNDINGS, "TERRAIN_HOME": str(tmp_path / "home")}
    with subprocess.Popen(
        [sys.executable, "-c", _BUILDS_LONG, str(good)], env=home, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True,
    ) as build:  # fmt: skip
        assert build.stdout is not None
        assert build.stdout.readline() == "half\n"
        assert list((tmp_path / "home" / "regions").glob("*/pack-*"))
        build.send_signal(signal.SIGTERM)
        _, said = build.communicate(timeout=30)
    assert (build.returncode, said.strip()) == (130, "Stopped.")
    assert list((tmp_path / "home" / "regions").iterdir()) == []
