"""Files for analysts, read back by other means than those that wrote them."""

from __future__ import annotations

import io
import json
import sqlite3
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas
import pyarrow.parquet
import pyogrio
import pytest
import shapely
from pyproj import CRS, Geod

from terrain.errors import UsageError
from terrain.report.data.tables import render_gpkg, render_parquet
from terrain.text.plain import plain_line
from terrain.values.match import ride_coords
from terrain.values.report import Report
from tests.report.hostile import NAMES
from tests.report.sample import SampleReport, facts


@pytest.fixture(scope="module")
def report(sample_report: Callable[[str], Report]) -> Report:
    # The one with a ferry: its stretches have no ground, severity or shares.
    return sample_report("over-the-strait")


@pytest.fixture(scope="module")
def told(report: Report) -> dict[str, Any]:
    return report.to_dict()


@pytest.fixture(scope="module")
def package(report: Report, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("gpkg") / "report.gpkg"
    path.write_bytes(render_gpkg(report))
    return path


def test_geopackage_by_the_standard(package: Path, told: dict[str, Any]) -> None:
    """OGC 12-128r19 GeoPackage 1.4, requirements 1-2, 6-7, 10-14, by the sqlite3 module alone."""
    raw = package.read_bytes()
    assert raw[:16] == b"SQLite format 3\x00"
    assert raw[68:72] == b"GPKG"
    db = sqlite3.connect(package)
    try:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        rows = db.execute("SELECT table_name, data_type, srs_id, description FROM gpkg_contents")
        contents = {name: rest for name, *rest in rows}
        assert {n: c[0] for n, c in contents.items()} == {
            "stretches": "features",
            "stops": "features",
            "about": "attributes",
        }
        system = "SELECT organization, organization_coordsys_id FROM gpkg_spatial_ref_sys"
        for layer in ("stretches", "stops"):
            assert contents[layer][2] == " ".join(told["region"]["attribution"])
            found = db.execute(f"{system} WHERE srs_id = ?", (contents[layer][1],)).fetchall()
            assert found == [("EPSG", 4326)]
        changed = {row[0] for row in db.execute("SELECT last_change FROM gpkg_contents")}
        assert changed == {"2027-02-01T09:00:00.000Z"}
    finally:
        db.close()


def test_geopackage_holds_the_report(package: Path, told: dict[str, Any]) -> None:
    frame = geopandas.read_file(package, layer="stretches")
    assert frame.crs == CRS("EPSG:4326")
    assert len(frame) == len(told["stretches"])
    for row, stretch in zip(frame.to_dict("records"), told["stretches"], strict=True):
        assert row["route"] == told["route"]["name"]
        for key in ("from_m", "to_m", "ground", "basis", "highway", "surface", "name", "way_id",
                    "season_risk", "severity", "grade_pct", "speed_kph"):  # fmt: skip
            assert _known(row[key]) == stretch[key], key
        for kind in ("paved", "gravel", "track"):
            assert _known(row[f"p_{kind}"]) == (stretch["p"] or {}).get(kind)
    stops = geopandas.read_file(package, layer="stops")
    assert [(s.x, s.y) for s in stops.geometry] == [(s["lon"], s["lat"]) for s in told["stops"]]
    assert [_known(x) for x in stops["van_access"]] == [s["van_access"] for s in told["stops"]]
    assert len(stops) > 0
    about = geopandas.read_file(package, layer="about").iloc[0]
    assert about["attribution"] == " ".join(told["region"]["attribution"])
    assert about["map_date"] == told["region"]["map_date"]
    assert about["verdict"] == told["verdict"]["headline"]
    meta = pyogrio.read_info(package, layer="stretches")["dataset_metadata"]
    assert meta["attribution"] == about["attribution"]


def test_lines_are_as_long_as_the_ride(package: Path, told: dict[str, Any]) -> None:
    """Lengths by pyproj.Geod, WGS 84; coordinates are rounded to a tenth of a metre."""
    frame = geopandas.read_file(package, layer="stretches")
    geod = Geod(ellps="WGS84")
    lengths = [geod.geometry_length(line) for line in frame.geometry]
    assert sum(lengths) == pytest.approx(told["route"]["length_m"], rel=2e-4)
    wanted = (frame["to_m"] - frame["from_m"]).tolist()
    assert lengths == pytest.approx(wanted, rel=2e-3, abs=2.0)
    # The parts join: each begins where the last one ended.
    ends = [(line.coords[0], line.coords[-1]) for line in frame.geometry]
    assert [end for _, end in ends[:-1]] == [start for start, _ in ends[1:]]


def test_geoparquet_by_the_standard(report: Report, told: dict[str, Any]) -> None:
    """GeoParquet 1.1.0, file and column metadata, by pyarrow and shapely alone."""
    table = pyarrow.parquet.read_table(io.BytesIO(render_parquet(report)))
    meta = table.schema.metadata
    geo = json.loads(meta[b"geo"])
    assert geo["version"] == "1.1.0"
    column = geo["columns"][geo["primary_column"]]
    assert column["encoding"] == "WKB"
    assert set(column["geometry_types"]) <= {"LineString", "MultiLineString"}
    assert CRS.from_json_dict(column["crs"]) == CRS("EPSG:4326")
    west, south, east, north = column["bbox"]
    lines = shapely.from_wkb(table[geo["primary_column"]].to_pylist())
    assert shapely.total_bounds(lines).tolist() == [west, south, east, north]
    assert 80 < west < east < 100 and 10 < south < north < 20  # lon before lat
    assert meta[b"attribution"].decode() == " ".join(told["region"]["attribution"])
    assert meta[b"region"] == b"island"
    assert meta[b"made_at"] == b"2027-02-01T09:00:00+00:00"
    for key in ("from_m", "way_id", "surface", "severity", "grade_pct"):
        assert table[key].to_pylist() == [row[key] for row in told["stretches"]], key
    # Not known is null, never zero: the ferry has no shares.
    ferry = [row["ground"] == "ferry" for row in told["stretches"]]
    assert any(ferry)
    assert [p is None for p in table["p_paved"].to_pylist()] == ferry


def test_both_read_back_the_same(report: Report, package: Path) -> None:
    ours = geopandas.read_parquet(io.BytesIO(render_parquet(report)))
    theirs = geopandas.read_file(package, layer="stretches")
    assert ours.columns.tolist() == theirs.columns.tolist()
    assert shapely.equals_exact(ours.geometry.to_numpy(), theirs.geometry.to_numpy()).all()
    assert ours["surface"].isna().tolist() == theirs["surface"].isna().tolist()


def test_same_report_same_bytes(report: Report, package: Path) -> None:
    assert render_gpkg(report) == package.read_bytes()
    assert render_parquet(report) == render_parquet(report)


def test_columns_do_not_depend_on_what_is_known(tmp_path: Path) -> None:
    bare = facts()
    for row in bare["stretches"]:
        row |= {"surface": None, "name": None, "way_id": None, "severity": None, "p": None}
    full = render_parquet(SampleReport(), facts())  # type: ignore[arg-type]
    empty = render_parquet(SampleReport(), bare)  # type: ignore[arg-type]
    types = [pyarrow.parquet.read_schema(io.BytesIO(data)).types for data in (full, empty)]
    assert types[0] == types[1]
    path = tmp_path / "bare.gpkg"
    path.write_bytes(render_gpkg(SampleReport(), bare))  # type: ignore[arg-type]
    assert geopandas.read_file(path, layer="stretches")["way_id"].isna().all()
    # No stops: the layer is there and empty, so that a script need not ask.
    assert len(geopandas.read_file(path, layer="stops")) == 0


def test_hostile_names_stay_text(tmp_path: Path) -> None:
    path = tmp_path / "hostile.gpkg"
    told = facts()
    told["stretches"] = told["stretches"][: len(NAMES)]
    for row, name in zip(told["stretches"], NAMES, strict=False):
        row["name"] = name
    told["route"]["name"] = told["region"]["name"] = "'); DROP TABLE stretches; --<&\"]]>"
    told["region"]["attribution"] = ["<script>'); DROP TABLE about; --"]
    path.write_bytes(render_gpkg(SampleReport(), told))  # type: ignore[arg-type]
    frame = geopandas.read_file(path, layer="stretches")
    wanted = [None if row["name"] is None else plain_line(row["name"]) for row in told["stretches"]]
    assert len(wanted) > 40
    assert [_known(name) for name in frame["name"]] == wanted
    assert geopandas.read_file(path, layer="about")["region"][0] == told["region"]["name"]
    meta = pyogrio.read_info(path, layer="stretches")["layer_metadata"]
    assert meta["attribution"] == told["region"]["attribution"][0]
    ours = geopandas.read_parquet(io.BytesIO(render_parquet(SampleReport(), told)))  # type: ignore[arg-type]
    assert [_known(name) for name in ours["name"]] == wanted


def test_date_line_is_cut() -> None:
    """RFC 7946, 3.1.9, which the other formats follow: no line runs round the world."""
    told = facts()
    report = SampleReport()
    match = replace(report.assessed.match, lon=report.assessed.match.lon + 199.1)
    report.match = match
    rides = [ride_coords(match, row["from_m"], row["to_m"]) for row in told["stretches"]]
    astride = [bool(lon.min() < 180.0 < lon.max()) for lon, _ in (ride.T for ride in rides)]
    assert 0 < sum(astride) < len(astride)
    frame = geopandas.read_parquet(io.BytesIO(render_parquet(report, told)))  # type: ignore[arg-type]
    west, _, east, _ = frame.total_bounds
    assert west >= -180.0
    assert east <= 180.0
    parts = frame.geometry.explode()
    widths = parts.bounds["maxx"] - parts.bounds["minx"]
    assert widths.max() < 1.0
    assert (frame.geometry.geom_type == "MultiLineString").tolist() == astride


def test_without_pyarrow_the_extra_is_named(
    report: Report, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(UsageError, match=r"terrain\[analysis\]"):
        render_parquet(report)
    from terrain.cli import main

    # Said before the work: there is no such route.
    assert main(["report", "none.gpx", "--write", "parquet"]) == 2
    assert "pip install 'terrain[analysis]'" in capsys.readouterr().err


def test_command_writes_both(
    island_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from terrain.cli import main

    monkeypatch.setenv("TERRAIN_HOME", str(island_home))
    route = island_home / "demo" / "routes" / "few-points.gpx"
    args = [str(route), "--write", "gpkg,parquet", "--out", str(tmp_path)]
    assert main(["report", *args]) == 0
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["few-points-report.gpkg", "few-points-report.parquet"]
    assert len(geopandas.read_parquet(tmp_path / names[1])) > 0


def _known(value: Any) -> Any:
    """A cell as JSON has it: None where there is nothing."""
    return None if value is None or (value is not None and value != value) else value
