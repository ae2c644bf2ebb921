"""The same line in every format gives the same report but for the file's name."""

from __future__ import annotations

import csv
import gzip
import json
import tarfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import terrain
from terrain.inputs.lines import parse_route, read_route
from terrain.values.route import Route

from . import drawn

_STAMP = datetime(2027, 2, 1, 9, 0, tzinfo=UTC)


def _lines(route: Route, decimals: int | None = None) -> list[list[drawn.Point]]:
    """The pieces of a route as lists of points."""
    pieces = []
    for number in np.unique(route.piece):
        rows = route.piece == number
        xy = (route.lon[rows].tolist(), route.lat[rows].tolist(), route.ele_m[rows].tolist())
        points = list(zip(*xy, strict=True))
        if decimals is not None:
            points = [(round(a, decimals), round(b, decimals), z) for a, b, z in points]
        pieces.append(points)
    return pieces


@pytest.fixture(scope="module")
def region(island_home: Path) -> terrain.Region:
    return terrain.open_region("island", island_home)


@pytest.fixture(scope="module")
def line(island_home: Path) -> list[drawn.Point]:
    (points,) = _lines(read_route(island_home / "demo" / "routes" / "coast-road.gpx"), decimals=5)
    return [(lon, lat, 100.0 if z != z else z) for lon, lat, z in points]


def _facts(route: Route, region: terrain.Region) -> dict[str, Any]:
    trip = terrain.Trip(depart=datetime(2027, 7, 14, 7, 30))
    facts = terrain.assess(route, region, trip, made_at=_STAMP).to_dict()
    assert facts["route"].pop("name") == "plan"
    return json.loads(json.dumps(facts))  # type: ignore[no-any-return]


def test_reports_are_the_same(
    line: list[drawn.Point], region: terrain.Region, tmp_path: Path
) -> None:
    wanted = _facts(parse_route(drawn.gpx(line), "plan.gpx"), region)
    made = {
        name: write(line)
        for name, write in drawn.WRITERS.items()
        if name not in drawn.NO_HEIGHTS and name != "plan-track.kml"
    }
    made["plan.gpkg"] = drawn.geopackage(line, folder=tmp_path)
    made["plan.csv.gz"] = gzip.compress(made.pop("plan.csv"), mtime=0)
    for name, data in made.items():
        got = parse_route(data, name)
        assert _facts(_named(got), region) == wanted, name
    flat = _facts(parse_route(drawn.flat_gpx(line), "plan.gpx"), region)
    assert _facts(parse_route(drawn.polyline(line), "plan.polyline"), region) == flat


def _named(route: Route) -> Route:
    """With the name of a plain file where the end of the name is packed twice."""
    from dataclasses import replace

    return replace(route, name="plan")


def _planner_lines(shared_data: Path) -> list[tuple[str, bytes]]:
    path = shared_data / "planner-lines" / "gpx.tar.gz"
    if not path.exists():
        pytest.skip("no planner lines beside the project")
    with tarfile.open(path) as archive:
        members = [m for m in archive.getmembers() if m.name.endswith(".gpx")]
        chosen = members[:: max(1, len(members) // 40)]
        return [(m.name, archive.extractfile(m).read()) for m in chosen]  # type: ignore[union-attr]


def test_lines_of_a_planner_read_alike_in_all_formats(shared_data: Path, tmp_path: Path) -> None:
    found = _planner_lines(shared_data)
    assert len(found) >= 20
    for name, data in found:
        lines = _lines(parse_route(data, name))
        wanted = parse_route(drawn.flat_gpx(*lines), "plan.gpx")
        flat = {
            "plan.geojson": json.dumps(_flat(lines)).encode(),
            "plan.csv": _flat_csv(lines, tmp_path),
            "plan.gpkg": drawn.geopackage(*[[p[:2] for p in x] for x in lines], folder=tmp_path),  # type: ignore[misc]
        }
        for kind, other in flat.items():
            got = parse_route(other, kind)
            assert np.array_equal(got.lon, wanted.lon) and np.array_equal(got.lat, wanted.lat)
            assert np.array_equal(got.piece, wanted.piece), (name, kind)


def _flat(lines: list[list[drawn.Point]]) -> dict[str, Any]:
    features = [drawn.feature([p[:2] for p in line]) for line in lines]  # type: ignore[misc]
    return {"type": "FeatureCollection", "features": features}


def _flat_csv(lines: list[list[drawn.Point]], folder: Path) -> bytes:
    path = folder / "flat.csv"
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["longitude", "latitude", "part"])
        writer.writerows((a, b, n) for n, line in enumerate(lines) for a, b, _ in line)
    return path.read_bytes()
