"""Advice on guessed routes against the same routes ridden as known.

    python -m tests.bench.advice_guessed

For routes of known ways (`match-truth` of the shared data): does the interval of off-road riding
time of the route through points 2 or 5 km apart hold that of the full line, and how far is
p_off_road from that of the full line. Builds two regions in a folder of its own.
"""

from __future__ import annotations

import os
import tarfile
import tempfile
from pathlib import Path

import numpy as np

import terrain
from terrain.cli import main

SHARED = Path(__file__).resolve().parents[2] / "../shared/data/match-truth"
AREAS = {"andorra": "andorra2023.osm.pbf", "liechtenstein": "liechtenstein2021.osm.pbf"}
SLACK = 0.005  # of the riding time


def run() -> None:
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        os.environ["TERRAIN_HOME"] = folder
        with tarfile.open(SHARED / "gpx.tar.gz") as packed:
            packed.extractall(home, filter="data")
        regions = {}
        for area, extract in AREAS.items():
            main(["region", "build", area, "--osm", str(SHARED / extract)])
            regions[area] = terrain.open_region(area, home)
        print("variant  routes  interval holds  width  mean |p - p of the full line|")
        for variant in ("via2000", "via5000"):
            rows: list[tuple[tuple[float, ...], tuple[float, ...]]] = []
            for path in sorted((home / "gpx").glob("*.clean10.gpx")):
                region = regions[path.name.split("-")[0]]
                guessed = path.with_name(path.name.replace("clean10", variant))
                rows.append((_setup(path, region), _setup(guessed, region)))
            _print(variant, rows)


def _setup(path: Path, region: object) -> tuple[float, float, float, float]:
    setup = terrain.assess(terrain.read_route(path), region).advice.setup  # type: ignore[arg-type, union-attr]
    best, low, high = (value / setup.ride_s for value in setup.off_road_s)
    return best, low, high, float(setup.p_off_road or 0.0)


def _print(variant: str, rows: list[tuple[tuple[float, ...], tuple[float, ...]]]) -> None:
    full = np.array([a for a, _ in rows])
    guess = np.array([b for _, b in rows])
    held = (full[:, 0] >= guess[:, 1] - SLACK) & (full[:, 0] <= guess[:, 2] + SLACK)
    width = (guess[:, 2] - guess[:, 1]).mean()
    apart = np.abs(full[:, 3] - guess[:, 3]).mean()
    print(f"{variant}  {len(rows):6}  {held.mean():14.3f}  {width:5.3f}  {apart:.3f}")


if __name__ == "__main__":
    run()
