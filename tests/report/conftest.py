"""Reports on the sample routes of the invented island, made once for all tests of the writers."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest

import terrain
from terrain.values.report import Report

STAMP = datetime(2027, 2, 1, 9, 0, tzinfo=UTC)
DEPART = datetime(2027, 3, 14, 7, 30)
SAMPLES = ("coast-road", "few-points", "high-tracks", "over-the-strait", "valleys-and-passes")


@pytest.fixture(scope="session")
def sample_report(island_home: Path) -> Callable[[str], Report]:
    """The report on a sample route by its name, for a steady rider who asked for a road tourer."""
    region = terrain.open_region("island", island_home)

    @cache
    def report(name: str) -> Report:
        route = terrain.read_route(island_home / "demo" / "routes" / f"{name}.gpx")
        trip = terrain.Trip(depart=DEPART, wanted_class="road-tourer")
        return terrain.assess(route, region, trip, made_at=STAMP)

    return report


@pytest.fixture(scope="session")
def sample_reports(sample_report: Callable[[str], Report]) -> list[Report]:
    return [sample_report(name) for name in SAMPLES]


@pytest.fixture(scope="session")
def long_report(island_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Report:
    """Two sample rides in one: about 300 km, with gravel and track."""
    folder = island_home / "demo" / "routes"
    points = ""
    for name, share in (("coast-road", 1.0), ("valleys-and-passes", 0.7)):
        all_points = re.findall(r"<trkpt[^>]*/>", (folder / f"{name}.gpx").read_text("utf-8"))
        points += "".join(all_points[: int(share * len(all_points))])
    plan = tmp_path_factory.mktemp("long") / "long.gpx"
    plan.write_text(f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>', "utf-8")
    route = terrain.read_route(plan)
    trip = terrain.Trip(depart=DEPART)
    report = terrain.assess(route, terrain.open_region("island", island_home), trip, made_at=STAMP)
    assert 290_000 < report.assessed.match.length_m < 320_000
    return report
