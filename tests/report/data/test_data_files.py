"""GeoJSON and CSV: read back by other libraries."""

from __future__ import annotations

import csv
import io
import itertools
import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely.geometry

from terrain.report.data.csvfile import render_csv
from terrain.report.data.geojson import _cut, render_geojson
from terrain.values.report import Report
from tests.report.sample import SampleReport


@pytest.fixture(scope="module")
def report(sample_report: Callable[[str], Report]) -> Report:
    return sample_report("coast-road")


def test_geojson_reads_back(report: Report) -> None:
    made = json.loads(render_geojson(report))
    facts = report.to_dict()
    lines = [f for f in made["features"] if f["geometry"]["type"] == "LineString"]
    points = [f for f in made["features"] if f["geometry"]["type"] == "Point"]
    assert len(lines) == len(facts["stretches"])
    assert len(points) == len(facts["stops"])
    assert made["attribution"] == facts["region"]["attribution"]
    # RFC 7946 section 5: west, south, east, north round everything that is a line.
    west, south, east, north = made["bbox"]
    for feature in lines:
        shape = shapely.geometry.shape(feature["geometry"])
        assert shape.is_valid
        a, b, c, d = shape.bounds
        assert west - 1e-6 <= a <= c <= east + 1e-6
        assert south - 1e-6 <= b <= d <= north + 1e-6
    # Section 4: no coordinate reference system may be named.
    assert "crs" not in made
    # Each line starts where the last one ended.
    for one, two in itertools.pairwise(lines):
        assert one["geometry"]["coordinates"][-1] == two["geometry"]["coordinates"][0]


@pytest.mark.parametrize(
    "lon", [[179.0, 181.0], [-179.5, -180.5, -181.0], [179.9, 180.0, 180.1], [539.0, 541.0]]
)
def test_lines_are_cut_at_the_antimeridian(lon: list[float]) -> None:
    """RFC 7946 section 3.1.9."""
    coords = np.column_stack([lon, np.linspace(10.0, 11.0, len(lon))])
    parts = _cut(coords)
    assert len(parts) == 2
    for part in parts:
        assert np.abs(part[:, 0]).max() <= 180.0 + 1e-9
        assert len(part) >= 2
    assert parts[0][-1, 1] == pytest.approx(parts[1][0, 1])
    assert abs(parts[0][-1, 0]) == pytest.approx(180.0)
    assert parts[0][-1, 0] == pytest.approx(-parts[1][0, 0])


def test_csv_reads_back(report: Report) -> None:
    text = render_csv(report).decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    stretches = report.to_dict()["stretches"]
    assert len(rows) == len(stretches)
    for row, stretch in zip(rows, stretches, strict=True):
        assert float(row["from_m"]) == stretch["from_m"]
        assert row["ground"] == stretch["ground"]
        assert (row["p_paved"] == "") == (stretch["p"] is None)
    assert rows[0]["attribution"]
    assert {row["attribution"] for row in rows[1:]} == {""}


def test_what_is_closed_of_each_stretch_is_in_every_table() -> None:
    """Two tags close km 0.5 to 2.5 one after the other; by shapely."""
    sample: Any = SampleReport()
    shut = shapely.union_all([shapely.LineString([(p.from_m, 0), (p.to_m, 0)])
                              for p in sample.closed])  # fmt: skip
    wanted = [
        shut.intersection(shapely.LineString([(row["from_m"], 0), (row["to_m"], 0)])).length
        for row in sample.told["stretches"]
    ]
    assert sum(wanted) == pytest.approx(2000.0) and 0.0 in wanted
    rows = csv.DictReader(io.StringIO(render_csv(sample).decode("utf-8-sig"), newline=""))
    assert [float(row["closed_m"]) for row in rows] == pytest.approx(wanted, abs=0.05)
    told = json.loads(render_geojson(sample))
    lines = [f["properties"] for f in told["features"] if "closed_m" in f["properties"]]
    assert [row["closed_m"] for row in lines] == pytest.approx(wanted, abs=0.05)
    assert told["verdict"] == "Road setup." and told["forbidden"] == []


def test_missing_is_an_empty_cell() -> None:
    sample = SampleReport()
    sample.told["stretches"][0]["grade_pct"] = None
    rows = list(
        csv.DictReader(io.StringIO(render_csv(sample).decode("utf-8-sig"), newline=""))  # type: ignore[arg-type]
    )
    assert rows[0]["grade_pct"] == ""
