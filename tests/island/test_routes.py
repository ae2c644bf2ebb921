"""The sample routes are fit to plan with."""

from __future__ import annotations

import gpxpy
import numpy as np
import pytest
import shapely

from terrain.inputs.lines import read_route
from terrain.values.route import Route, RouteKind
from tests.island import DATA, IslandFiles
from tests.island.frame import CENTRE_LAT, CENTRE_LON, M_PER_DEG_LAT, M_PER_DEG_LON
from tests.island.island import Island
from tests.island.routes import PLANS
from tests.reference.gpx_schema import gpx_schema

_NAMES = [plan.file for plan in PLANS]


def _xy(route: Route) -> np.ndarray:
    return np.column_stack(
        ((route.lon - CENTRE_LON) * M_PER_DEG_LON, (route.lat - CENTRE_LAT) * M_PER_DEG_LAT)
    )


def _km(route: Route) -> float:
    return float(np.hypot(*np.diff(_xy(route), axis=0).T).sum()) / 1000


@pytest.fixture(scope="module")
def plans(files: IslandFiles) -> dict[str, Route]:
    return {path.name: read_route(path) for path in files.routes}


@pytest.mark.parametrize("name", _NAMES)
def test_routes_are_valid_gpx(name: str) -> None:
    """GPX 1.1 schema, topografix.com/GPX/1/1/gpx.xsd."""
    gpx_schema("1.1").validate(str(DATA / name))


@pytest.mark.parametrize("name", _NAMES)
def test_routes_read_without_oddities(plans: dict[str, Route], name: str) -> None:
    assert plans[name].problems == ()
    assert len(plans[name].waypoints) >= 2
    sparse = name == "few-points.gpx"
    assert plans[name].kind is (RouteKind.ROUTE if sparse else RouteKind.TRACK)


def test_lengths_are_those_of_day_rides_and_tours(plans: dict[str, Route]) -> None:
    km = {name: _km(route) for name, route in plans.items()}
    assert 150 < km["coast-road.gpx"] < 250
    assert 120 < km["valleys-and-passes.gpx"] < 200
    assert 100 < km["high-tracks.gpx"] < 180
    assert 40 < km["over-the-strait.gpx"] < 120
    assert 15 <= plans["few-points.gpx"].n_points <= 25
    assert 100 < km["few-points.gpx"] < 170


def test_lines_lie_beside_the_roads_as_planners_draw_them(
    plans: dict[str, Route], island: Island
) -> None:
    roads = shapely.STRtree([shapely.LineString(w.xy) for w in island.ways])
    for name, route in plans.items():
        points = shapely.points(_xy(route))
        _, off = roads.query_nearest(points, all_matches=False, return_distance=True)
        assert len(off) == route.n_points
        assert np.percentile(off, 95) < 15
        if name != "few-points.gpx":
            assert np.median(off) > 0.8, "a line on the very road would test nothing"


def test_gpxpy_reads_the_same_points(files: IslandFiles, plans: dict[str, Route]) -> None:
    for path in files.routes:
        text = gpxpy.parse(path.read_text(encoding="utf-8"))
        points = [p for t in text.tracks for s in t.segments for p in s.points]
        points += [p for r in text.routes for p in r.points]
        assert [(p.longitude, p.latitude) for p in points] == list(
            zip(plans[path.name].lon.tolist(), plans[path.name].lat.tolist(), strict=True)
        )
