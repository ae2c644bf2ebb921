"""The same island, byte for byte, in another process with another hash seed."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import numpy as np

from terrain.demo import GENERATOR_VERSION, IslandFiles
from terrain.demo.island import Island

# Version of the generator and the fingerprint of what it draws; both change together, or users
# keep a demo region of an older island.
_DRAWN = (2, "be77901985ef14b0")


def _digests(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != "generator.txt"  # the stamp of the one who built
    }


def test_two_processes_write_the_same_bytes(files: IslandFiles, tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONHASHSEED": "77", "OMP_NUM_THREADS": "1"}
    subprocess.run(
        [sys.executable, "-m", "terrain.demo", str(tmp_path)],
        check=True, env=env, capture_output=True, timeout=300,
    )  # fmt: skip
    ours = _digests(files.osm.parent)
    assert len(ours) == 10
    assert _digests(tmp_path) == ours


def test_a_changed_island_has_a_new_version(island: Island) -> None:
    digest = hashlib.sha256()
    for line, tags in zip(island.drawing.lines, island.drawing.way_tags, strict=True):
        digest.update(np.round(line * 100).astype("<i8").tobytes())
        digest.update(repr(sorted(tags.items())).encode())
    for xy, tags in zip(island.drawing.spots, island.drawing.spot_tags, strict=True):
        digest.update(np.round(xy * 100).astype("<i8").tobytes())
        digest.update(repr(sorted(tags.items())).encode())
    digest.update(np.round(island.land.ele_m * 16).astype("<i4").tobytes())
    assert (GENERATOR_VERSION, digest.hexdigest()[:16]) == _DRAWN
