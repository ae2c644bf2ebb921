"""The operator's partners from CSV, GPX and GeoJSON, good and bad."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.errors import HelpersError
from terrain.inputs.helpers import parse_helpers, read_helpers
from terrain.values.help import Helper, HelperKind

CSV = """name,lon,lat,kind,repairs,phone,opening_hours,note
Mill Garage,0.25,-0.5,mechanic,dual-sport; enduro,+999 12 34,Mo-Sa 08:00-17:00,asks for Ana
Fuel drum,0.5,-0.25,fuel,,,,behind the school
"""


def test_csv_with_every_column() -> None:
    first, second = parse_helpers(CSV.encode(), "partners.csv")
    assert first == Helper(
        name="Mill Garage", lon=0.25, lat=-0.5, kind=HelperKind.MECHANIC,
        repairs=("dual-sport", "enduro"), phone="+999 12 34",
        opening_hours="Mo-Sa 08:00-17:00", note="asks for Ana", where="partners.csv, line 2",
    )  # fmt: skip
    assert (second.kind, second.repairs, second.phone) == (HelperKind.FUEL, (), None)


def test_csv_of_a_spreadsheet_with_semicolons_commas_and_a_mark() -> None:
    text = "﻿Name;Longitude;Latitude;Type;Tel\r\nMill Garage;0,25;-0,5;Workshop;+999\r\n"
    (helper,) = parse_helpers(text.encode(), "p.csv")
    assert (helper.lon, helper.lat, helper.phone) == (0.25, -0.5, "+999")
    assert helper.kind is HelperKind.MECHANIC


GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">
  <wpt lat="-0.5" lon="0.25"><ele>3</ele><name>Mill Garage</name>
    <desc>Asks for Ana
repairs: enduro
phone: +999 12</desc><sym>Car Repair</sym></wpt>
  <wpt lat="0.1" lon="0.2"><name>Inn</name><type>Lodging</type></wpt>
  <wpt lat="0.3" lon="0.2"><name>Plain</name><sym>Flag, Blue</sym></wpt>
  <rte><rtept lat="1" lon="1"><name>not a partner</name></rtept></rte>
</gpx>"""


def test_gpx_waypoints() -> None:
    mill, inn, plain = parse_helpers(GPX.encode(), "p.gpx")
    assert (mill.name, mill.lon, mill.lat) == ("Mill Garage", 0.25, -0.5)
    assert (mill.repairs, mill.phone, mill.note) == (("enduro",), "+999 12", "Asks for Ana")
    assert mill.where == "p.gpx, line 3"
    assert inn.kind is HelperKind.LODGING
    assert plain.kind is HelperKind.MECHANIC


def test_geojson_points() -> None:
    data = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": {"type": "Point", "coordinates": [0.25, -0.5, 12]},
                "properties": {
                    "name": "Mill Garage",
                    "repairs": ["enduro", "light-trail"],
                    "phone": "+999",
                    "rank": None,
                },
            }
        ],
    }
    (helper,) = parse_helpers(json.dumps(data).encode(), "p.geojson")
    assert helper.repairs == ("enduro", "light-trail")
    assert (helper.lon, helper.lat, helper.phone) == (0.25, -0.5, "+999")


@pytest.mark.parametrize(
    ("data", "parts"),
    [
        (b"", ["line 1", "name, lon, lat"]),
        (b"name,lat\nX,1\n", ["lacks the column lon", "line 1"]),
        (b"name,lon,lat\nX,1,95\n,2,2\nY,a,2\nZ,1,2,\n",
         ["line 2: lat 95 is not between -90", "line 3: it has no name", "lon 'a' is not a"]),
        (b"name,lon,lat,kind\nX,1,2,wizard\n", ["kind 'wizard' is none of mechanic, fuel"]),
        (b"name,lon,lat\n", ["names no place"]),
        (b"name,lon,lat\nX,nan,1\n", ["not between"]),
        (b"\xff\xfen\x00", ["not UTF-8"]),
        (b"{}", ["not GeoJSON"]),
        (b'{"type": ', ["not JSON", "line 1"]),
        (b'{"type":"FeatureCollection","features":[{"geometry":{"type":"Polygon",'
         b'"coordinates":[[]]},"properties":{"name":"A"}}]}', ["feature 1: it has no lon"]),
        (b"<gpx><wpt lat='1' lon='2'>", ["not well-formed XML", "line 1"]),
        (b"<!DOCTYPE gpx [<!ENTITY a 'b'>]><gpx/>", ["document type declaration"]),
        (b"<gpx>" + b"<a>" * 100, ["nested more than 64 deep"]),
        (b"x" * 5_000_000, ["larger than 4 MB"]),
    ],
    ids=["empty", "column", "rows", "kind", "none", "nan", "utf16", "not geojson", "cut json",
         "polygon", "cut xml", "entities", "deep", "big"],
)  # fmt: skip
def test_fault_is_named_with_its_place(data, parts) -> None:
    with pytest.raises(HelpersError) as caught:
        parse_helpers(data, "partners")
    for part in parts:
        assert part in str(caught.value)
    assert "partners" in str(caught.value)


def test_many_faults_are_cut_short() -> None:
    rows = "\n".join(f"X,1,{99 + i}" for i in range(30))
    with pytest.raises(HelpersError, match="and 18 more"):
        parse_helpers(f"name,lon,lat\n{rows}\n".encode(), "p.csv")


def test_hostile_names_become_one_plain_line() -> None:
    (helper,) = parse_helpers(b'name,lon,lat\n"a\x00b\nc\t=1+1",1,2\n', "p.csv")
    assert helper.name == "a b c =1+1"
    (helper,) = parse_helpers(("name,lon,lat\n" + "x" * 5000 + ",1,2\n").encode(), "p.csv")
    assert len(helper.name) == 300


def test_missing_file_and_folder_are_told(tmp_path: Path) -> None:
    with pytest.raises(HelpersError, match="no such file"):
        read_helpers(tmp_path / "none.csv")
    with pytest.raises(HelpersError, match="this is a folder"):
        read_helpers(tmp_path)
    path = tmp_path / "partners.csv"
    path.write_text(CSV)
    assert len(read_helpers(path)) == 2


@settings(max_examples=120, deadline=None)
@given(st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode),
                 st.sampled_from([CSV, GPX]).flatmap(
                     lambda text: st.builds(
                         lambda i, junk: (text[:i] + junk + text[i:]).encode(),
                         st.integers(0, len(text)), st.text(max_size=5)))))  # fmt: skip
def test_any_bytes_give_partners_or_one_error(data) -> None:
    try:
        helpers = parse_helpers(data, "p")
    except HelpersError as exc:
        assert str(exc)
    else:
        assert helpers
        assert all(-180 <= h.lon <= 180 and -90 <= h.lat <= 90 and h.name for h in helpers)
