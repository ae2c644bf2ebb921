"""Reports on the sample routes of the invented island, made once for all tests of the writers."""

from __future__ import annotations

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
