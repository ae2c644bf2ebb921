"""Every format gives the route that GPX gives; what holds none is refused with place and fix."""

from __future__ import annotations

import gzip
import json
import re
import sqlite3
from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.errors import RouteError
from terrain.inputs.lines import GpxLimits, LineRule, parse_route, parse_routes, read_route
from terrain.inputs.lines.wkb import DamagedError, from_wkb
from terrain.values.route import Route

from . import drawn

A, B = drawn.north(), drawn.north(lat=42.511)


def same(got: Route, wanted: Route) -> None:
    assert np.array_equal(got.lon, wanted.lon) and np.array_equal(got.lat, wanted.lat)
    assert np.array_equal(got.ele_m, wanted.ele_m, equal_nan=True)
    assert np.array_equal(got.piece, wanted.piece)
    assert got.kind == wanted.kind
    # A table names its lines by day, which the other formats do not.
    told = [re.sub(r" \(day \d\)", "", p.what) for p in got.problems]
    assert told == [p.what for p in wanted.problems]


@pytest.mark.parametrize("name", drawn.WRITERS)
@pytest.mark.parametrize("n_lines", [1, 2])
def test_a_line_is_the_same_as_in_gpx(name: str, n_lines: int) -> None:
    lines = [A, B][:n_lines]
    write = drawn.flat_gpx if name in drawn.NO_HEIGHTS else drawn.gpx
    same(drawn.read(drawn.WRITERS[name](*lines), name), drawn.read(write(*lines), "plan.gpx"))


@pytest.mark.parametrize("name", sorted(drawn.WRITERS.keys() - {"plan.kmz"}))
def test_gzipped_too(name: str) -> None:
    data = drawn.WRITERS[name](A)
    same(drawn.read(gzip.compress(data, mtime=0), name), drawn.read(data, name))


def test_geopackage_is_the_same_as_gpx(tmp_path: Path) -> None:
    data = drawn.geopackage(A, B, folder=tmp_path)
    same(drawn.read(data, "plan.gpkg"), drawn.read(drawn.gpx(A, B), "plan.gpx"))


def test_geopackage_in_metres_lies_where_it_should(tmp_path: Path) -> None:
    data = drawn.geopackage(A, epsg=25831, folder=tmp_path)
    got = drawn.read(data, "plan.gpkg")
    assert np.allclose(got.lon, [p[0] for p in A], atol=1e-9)
    assert np.allclose(got.lat, [p[1] for p in A], atol=1e-9)


def test_names_come_from_the_format(tmp_path: Path) -> None:
    for data in (
        drawn.gpx(A, names=["Río"]),
        drawn.kml(A, names=["Río"]),
        drawn.geojson(A, names=["Río"]),
        drawn.geopackage(A, names=["Río"], folder=tmp_path),
        "lon,lat,name\n1.5,42.5,Río\n1.5,42.51,\n".encode(),
    ):
        assert drawn.read(data).name == "Río"
    assert drawn.read(drawn.polyline(A), "two days.polyline").name == "two days"


def test_polyline_as_published() -> None:
    """The worked example that every description of the format gives, from memory."""
    got = drawn.read(b"_p~iF~ps|U_ulLnnqC_mqNvxq`@\n", "a.txt")
    assert list(zip(got.lat.tolist(), got.lon.tolist(), strict=True)) == [
        (38.5, -120.2), (40.7, -120.95), (43.252, -126.453)
    ]  # fmt: skip


def test_polyline_of_six_decimals() -> None:
    six = drawn.polyline(A, decimals=6)
    told = drawn.read(six, "a.polyline")
    assert drawn.codes(told) == ["precision-6"]
    assert np.allclose(told.lat, [p[1] for p in A])
    # Near the equator six decimals read as five are a possible place: only the name can tell.
    near = drawn.north(lat=0.5)
    named = drawn.read(drawn.polyline(near, decimals=6), "a.polyline6")
    assert np.allclose(named.lat, [p[1] for p in near])


def test_shapes_from_another_library() -> None:
    """WKB in both byte orders, with and without height and measure, as GEOS writes it."""
    import shapely

    shapes = [
        shapely.LineString(A),
        shapely.LineString([p[:2] for p in A]),
        shapely.MultiLineString([A, B]),
        shapely.Point(A[0]),
    ]
    for shape in shapes:
        for order in (0, 1):
            for flavor in ("iso", "extended"):
                got = from_wkb(shapely.to_wkb(shape, byte_order=order, flavor=flavor))
                assert got is not None
                rows = np.concatenate(got.parts)
                wanted = shapely.get_coordinates(shape, include_z=True)
                assert np.array_equal(rows, wanted, equal_nan=True)
    assert from_wkb(shapely.to_wkb(shapely.Point(1, 2).buffer(1))) is None
    whole = shapely.to_wkb(shapes[2])
    for cut in range(0, len(whole), 7):
        with pytest.raises(DamagedError):
            from_wkb(whole[:cut])


def test_several_files_in_a_zip_are_ridden_in_the_order_of_their_numbers() -> None:
    lines = {f"day {i}.{kind}": data for i, kind, data in (
        (10, "csv", drawn.csv(drawn.north(lat=42.533))),
        (2, "geojson", drawn.geojson(drawn.north(lat=42.522))),
        (1, "gpx", drawn.gpx(A)),
    )}  # fmt: skip
    data = drawn.zipped({**lines, "README.txt": b"Hello", "photo.jpg": b"\xff\xd8\xff\xe0"})
    got = drawn.read(data, "trip.zip")
    assert got.lat.tolist()[::12] == [42.5, 42.522, 42.533]
    assert drawn.codes(got)[0] == "several-lines"
    assert got.n_points == 36


def test_a_fault_in_a_zip_is_told_with_the_file_in_it() -> None:
    bad = drawn.csv(A).replace(b"42.503", b"north")
    with pytest.raises(RouteError) as caught:
        drawn.read(drawn.zipped({"a.gpx": drawn.gpx(A), "x/b.csv": bad}), "trip.zip")
    assert caught.value.where == "trip.zip: b.csv, line 5"


def test_lines_that_follow_are_days_and_a_way_round_is_an_alternative() -> None:
    line = drawn.north(60)
    bend = [line[5], (1.53, 42.52, 0.0), (1.53, 42.54, 0.0), line[50]]
    route = parse_route(drawn.geojson(line, bend, names=["Plan", "Pass"]), "a.geojson")
    assert route.n_points == 60 and drawn.codes(route) == ["alternative"]
    assert "say that the lines are alternatives" in route.problems[0].action
    days = parse_route(drawn.geojson(line, bend), "a.geojson", lines=LineRule.DAYS)
    assert days.n_points == 64
    both = parse_routes(
        drawn.geojson(line, bend, names=["Plan", "Pass"]), "a.geojson", lines=LineRule.ALTERNATIVES
    )
    assert [(r.name, r.n_points) for r in both] == [("Plan", 60), ("Pass", 4)]
    assert all("one-of-several" in drawn.codes(r) for r in both)
    one = parse_routes(drawn.gpx(line), "a.gpx", lines=LineRule.ALTERNATIVES)
    assert len(one) == 1 and drawn.codes(one[0]) == []


def test_the_rule_for_several_lines_is_part_of_the_public_interface() -> None:
    assert terrain.LineRule is LineRule and terrain.read_routes is not None


# -- KML ------------------------------------------------------------------------------------------


def _kml(body: str) -> bytes:
    return f"{drawn.KML_ROOT}<Document>{body}</Document></kml>".encode()


def test_parts_of_a_placemark_are_segments_and_points_are_places() -> None:
    text = " ".join(f"{lon},{lat}" for lon, lat, _ in A)
    more = " ".join(f"{lon},{lat}" for lon, lat, _ in B)
    got = drawn.read(
        _kml(
            f"<Placemark><name>Trip &amp; more</name><MultiGeometry><LineString><coordinates>{text}"
            f"</coordinates></LineString><LineString><coordinates>{more}</coordinates></LineString>"
            "</MultiGeometry></Placemark><Placemark><name>Inn</name><Point><coordinates>1.5,42.5,0"
            "</coordinates></Point></Placemark><Placemark><Polygon><outerBoundaryIs><LinearRing>"
            "<coordinates>1,2 3,4 5,6 1,2</coordinates></LinearRing></outerBoundaryIs></Polygon>"
            "</Placemark>"
        )
    )
    assert got.name == "Trip & more" and got.n_points == 24
    assert [(w.name, w.ele_m) for w in got.waypoints] == [("Inn", None)]
    assert drawn.codes(got) == ["area"]


def test_blanks_after_commas_and_missing_heights_are_read() -> None:
    got = drawn.read(
        _kml(
            "<Placemark><LineString><coordinates>1.5, 42.5, 7\n1.5 ,42.51 1.5,42.52,x"
            "</coordinates></LineString></Placemark>"
        )
    )
    assert got.lat.tolist() == [42.5, 42.51, 42.52]
    assert got.ele_m[0] == 7 and np.isnan(got.ele_m[1:]).all()


def test_a_network_link_is_never_followed() -> None:
    link = "<NetworkLink><Link><href>http://127.0.0.1:1/a.kml</href></Link></NetworkLink>"
    with pytest.raises(RouteError, match="NetworkLink") as caught:
        drawn.read(_kml(f"\n{link}"))
    assert caught.value.where == "plan.kml, line 3" and "export the route" in caught.value.fix
    beside = drawn.kml(A).replace(b"<Folder>", b"<Folder>" + link.encode())
    assert drawn.codes(drawn.read(beside)) == ["network-link"]


# -- what is refused ------------------------------------------------------------------------------

_LINE = '{"type":"LineString","coordinates":[[1.5,42.5],[1.5,%s]]}'
_OTHER_CRS = (
    b'{"type":"LineString","coordinates":[[1,2],[3,4]],'
    b'"crs":{"properties":{"name":"urn:ogc:def:crs:EPSG::25831"}}}'
)


@pytest.mark.parametrize(
    ("data", "where", "what"),
    [
        (b"https://maps.example/dir/a/b", "", "a link to a page"),
        (b"[InternetShortcut]\nURL=https://maps.example/x", "", "a link to a page"),
        (_kml("\n<Placemark><LineString><coordinates>1,2\n1,95</coordinates></LineString>"
              "</Placemark>"), ", line 4", "latitude 95 is outside"),
        (_kml("<Placemark><LineString><coordinates>1,2 3</coordinates></LineString></Placemark>"),
         ", line 2", "no latitude"),
        (b"<!DOCTYPE kml [<!ENTITY a 'b'>]><kml>&a;</kml>", ", line 1", "DOCTYPE"),
        (b"<kml>" + b"<Folder>" * 70, ", line 1", "nested more than"),
        (drawn.kml(A)[:-40], ", line 16", "ends in the middle"),
        ((_LINE % 95).encode(), ", point 2", "latitude 95 is outside"),
        ((_LINE % '"x"').encode(), ", point 2", "latitude 'x' is not a number"),
        ((_LINE % '"42"').encode(), ", point 2", "latitude '42' is not a number"),
        ((_LINE % "true").encode(), ", point 2", "latitude 'True' is not a number"),
        (_OTHER_CRS, "", "not longitude and latitude"),
        (b'{"type":"LineString","coordinates":[[1,2],[1', ", line 1", "ends in the middle"),
        (b'{"type":"Point","coordinates":[1.5,42.5]}', "", "one waypoint but no route"),
        (b'{"type":"Topology","arcs":[]}', "", "not GeoJSON"),
        (b'{"type":"Feature"}\n{"type":}\n', ", line 2", "not JSON"),
        (b"[" * 5_000, ", line 1", "JSON"),
        (b"lon,lat\n1.5,42.5\n1.5,north\n", ", line 3", "latitude 'north' is not a number"),
        (b"lon,lat\n1.5,42.5\n1.5\n", ", line 3", "a point has no latitude"),
        (b"lon,lat\n1.5,42.5\n1.5,95\n", ", line 3", "latitude 95 is outside"),
        (b"name,speed\na,2\n", "", "a table without columns lon and lat"),
        (b"SQLite format 3\0" + bytes(100), "", "a database file"),
        (b"SQLite format 3\0" + b"gpkg_geometry_columns" * 9, "", "GeoPackage is damaged"),
        (drawn.polyline(A)[:-3] + b"\n", ", line 1", "damaged"),
        (b"hello", "", "plain text"),
    ],
)  # fmt: skip
def test_refused_with_place_and_fix(data: bytes, where: str, what: str) -> None:
    name = "plan.polyline" if what == "damaged" else "plan.kml"
    with pytest.raises(RouteError) as caught:
        parse_route(data, name)
    assert caught.value.where == f"{name}{where}"
    assert what in caught.value.what and caught.value.fix


def test_a_link_in_place_of_a_file() -> None:
    with pytest.raises(RouteError, match="a link to a page"):
        read_route("https://maps.example/dir/a/b")


def test_bombs_are_refused_before_they_are_read() -> None:
    limits = GpxLimits(max_points=1_000)
    many = drawn.north(600)
    for data in (
        b"[" + b"[]," * 3_000 + b"1]",
        drawn.geojson(many, many),
        drawn.kml(many, many),
        drawn.kml_track(many, many),
        drawn.csv(many + many),
        drawn.polyline(many, many),
        drawn.zipped({"a.csv": drawn.csv(many), "b.csv": drawn.csv(drawn.north(600, lat=43))}),
    ):
        with pytest.raises(RouteError, match="more than 1,000 points"):
            parse_route(data, "plan.x", limits)


def _tampered(data: bytes, script: str) -> bytes:
    db = sqlite3.connect(":memory:")
    db.deserialize(data)
    db.executescript(script)
    return db.serialize()


def test_a_geopackage_whose_view_has_no_end_is_stopped(tmp_path: Path) -> None:
    view = "DROP TABLE route; CREATE VIEW route AS "
    numbers = "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c) SELECT x AS geom "
    many = ", ".join(f"gpkg_spatial_ref_sys t{i}" for i in range(30))
    joined = f"SELECT t0.srs_name AS geom FROM {many} WHERE t1.srs_id + t29.srs_id = 7.5"
    data = drawn.geopackage(A, folder=tmp_path)
    for query, what in ((f"{numbers} FROM c", "not authorized"), (joined, "too long to read")):
        with pytest.raises(RouteError, match=what):
            drawn.read(_tampered(data, view + query), "plan.gpkg")


def test_two_layers_of_lines_are_refused(tmp_path: Path) -> None:
    import geopandas
    import shapely

    frame = geopandas.GeoDataFrame(geometry=[shapely.LineString(A)], crs=4326)
    for layer in ("a", "b"):
        frame.to_file(tmp_path / "x.gpkg", driver="GPKG", layer=layer)
    with pytest.raises(RouteError, match=r"2 layers of lines \(a, b\)"):
        read_route(tmp_path / "x.gpkg")


# -- CSV as people keep it ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("lon,lat\n1.5,42.5\n1.5,42.51\n", []),
        ("Latitude;Longitude;Name\r\n42.5;1.5;a\r\n\r\n42.51;1.5;b\r\n", []),
        ("lat;lon\n42,5;1,5\n42,51;1,5\n", ["decimal-comma"]),
        ("x\ty\n1.5\t42.5\n1.5\t42.51", []),
        ('"lon","lat"\n"1.5","42.5"\n"1.5","42.51"\n', []),
        ("1.5,42.5\n1.5,42.51\n", ["no-header"]),
        ("lat_deg,lon_deg,height (m)\n42.5,1.5,\n42.51,1.5,\n", []),
        ("\ufefflon,lat\n1.5,42.5\n1.5,42.51\n", []),
    ],
)
def test_tables_as_people_keep_them(text: str, code: list[str]) -> None:
    got = drawn.read(text.encode(), "plan.csv")
    assert got.lon.tolist() == [1.5, 1.5] and got.lat.tolist() == [42.5, 42.51]
    assert drawn.codes(got) == [*code, "sparse-track"]


def test_a_table_is_the_same_in_any_coding() -> None:
    text = "lon,lat,größe\n" + "".join(f"{lon},{lat},7\n" for lon, lat, *_ in A)
    wanted = drawn.read(text.replace("größe", "x1").encode(), "plan.csv")
    for data in (text.encode(), text.encode("cp1252"), text.encode("utf-16")):
        same(drawn.read(data, "plan.csv"), wanted)


def test_plain_and_quoted_tables_are_read_alike() -> None:
    """The fast reader and the careful one agree to the last bit."""
    rng = np.random.default_rng(7)
    rows = np.round(rng.uniform((1, 42, 0), (2, 43, 3000), (500, 3)), 7).tolist()
    plain = "lon,lat,ele\n" + "".join(f"{a},{b},{c}\n" for a, b, c in rows)
    quoted = "lon,lat,ele\n" + "".join(f'"{a}",{b},{c}\n' for a, b, c in rows)
    same(drawn.read(plain.encode(), "a.csv"), drawn.read(quoted.encode(), "a.csv"))
    assert drawn.read(plain.encode(), "a.csv").lon.tolist() == [row[0] for row in rows]


def test_geojson_by_shape() -> None:
    line = [list(p) for p in A]
    multi = {"type": "MultiLineString", "coordinates": [line, [list(p) for p in B]]}
    nested = {"type": "GeometryCollection", "geometries": [multi, {"type": "Point",
              "coordinates": [1.5, 42.5]}]}  # fmt: skip
    for text in (multi, nested, {"type": "Feature", "geometry": nested, "properties": None}):
        got = drawn.read(json.dumps(text).encode(), "a.json")
        assert got.n_points == 24 and got.piece.max() == 0
    ragged = {"type": "LineString", "coordinates": [[1.5, 42.5], [1.5, 42.51, 9], [1.5, 42.52]]}
    assert np.isnan(drawn.read(json.dumps(ragged).encode()).ele_m).tolist() == [True, False, True]
