"""A region's zones are those of the map of the world, which need not be opened for them."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.calc.daylight import zone_at
from terrain.region.zones import zone_grid


@pytest.mark.parametrize(
    ("bbox", "several"),
    [
        ((1.3, 42.3, 1.9, 42.8), True),  # where three countries meet
        ((9.0, 46.8, 10.2, 47.6), True),
        ((-7.7, 61.3, -6.2, 62.5), True),  # islands in the open sea, which has zones of its own
        ((179.2, -18.3, 180.9, -16.4), False),  # across the date line
        ((14.3, 35.9, 14.301, 35.9005), False),  # less than a cell
    ],
)
def test_the_grid_says_what_the_map_says(
    bbox: tuple[float, float, float, float], several: bool
) -> None:
    """Reference: tzfpy, asked for each of 3,000 places."""
    grid = zone_grid(bbox)
    rng = np.random.default_rng(4)
    told = 0
    for x, y in zip(rng.uniform(*bbox[::2], 3000), rng.uniform(*bbox[1::2], 3000), strict=True):
        name = grid.name_at(x, y)
        told += name is not None
        assert name in (None, zone_at(x, y).key)
    assert told > 0 and (told < 3000) is several
    assert grid.name_at(bbox[0] - 0.2, bbox[1]) is None


def test_a_report_does_not_open_the_map_of_the_world(island_home: Path, tmp_path: Path) -> None:
    """Some regions were built before zones were kept: those still ask it, and say the same."""
    route = next((island_home / "demo" / "routes").glob("coast*.gpx"))
    old = tmp_path / "old"
    shutil.copytree(island_home / "regions" / "island", old)
    for zones in old.glob("pack-*/zones"):
        shutil.rmtree(zones)
        manifest = zones.parent / "manifest.json"
        kept = json.loads(manifest.read_bytes())
        kept["files"] = {k: v for k, v in kept["files"].items() if not k.startswith("zones")}
        manifest.write_text(json.dumps(kept))
    code = (
        "import sys, datetime, terrain\n"
        "route = terrain.read_route(sys.argv[1])\n"
        "trip = terrain.Trip(depart=datetime.datetime(2027, 4, 14, 7, 30))\n"
        "for region in sys.argv[2:]:\n"
        "    report = terrain.assess(route, terrain.open_region(region), trip)\n"
        "    print(report.assessed.heat.zone.key, 'tzfpy' in sys.modules)\n"
    )
    regions = (island_home / "regions" / "island", old)
    done = subprocess.run(
        [sys.executable, "-c", code, route, *regions], capture_output=True, text=True, check=True
    )
    zone = zone_at(*terrain.read_route(route).lon[:1], *terrain.read_route(route).lat[:1]).key
    assert done.stdout.splitlines() == [f"{zone} False", f"{zone} True"]
