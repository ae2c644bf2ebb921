"""The operator's ground notes from CSV and GeoJSON, good and bad."""

from __future__ import annotations

import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.errors import NotesError
from terrain.inputs.notes import check_notes, parse_notes
from terrain.values.ground import GroundKind, Severity

_CSV = (
    "way_id,ground,severity,date,who,remark\n"
    "101,track,4,2026-03-31,Ana,washed out at the bend\n"
    "way/102,sealed,,,,new asphalt\n"
    ",gravel,rough,2026-01-02,,\n"
)


def _geojson(*features: dict[str, object]) -> bytes:
    return json.dumps({"type": "FeatureCollection", "features": list(features)}, indent=1).encode()


def _feature(geometry: object, **properties: object) -> dict[str, object]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def test_csv_of_way_ids() -> None:
    notes = parse_notes("\n".join(_CSV.splitlines()[:3]).encode(), "n.csv")
    assert [n.way_id for n in notes] == [101, 102]
    assert notes[0].ground is GroundKind.TRACK and notes[0].severity is Severity.HARD
    assert notes[0].noted == date(2026, 3, 31) and notes[0].who == "Ana"
    assert notes[1].ground is GroundKind.PAVED and notes[1].noted is None
    assert notes[0].source == "n.csv, line 2"


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_other_delimiters_and_bom(delimiter: str) -> None:
    text = "\ufeff" + _CSV.replace(",", delimiter)
    notes, faults = check_notes(text.encode(), "n.csv")
    assert len(notes) == 2 and len(faults) == 1


def test_all_faults_at_once_with_line_and_fix() -> None:
    bad = "way_id,ground,severity,date\n101,unpaved,9,31.3.2026\n12a,gravel,,\n7,,,\n"
    with pytest.raises(NotesError) as caught:
        parse_notes(bad.encode(), "n.csv")
    text = str(caught.value)
    for part in (
        "5 faults", "line 2: ground 'unpaved'", "severity '9'", "date '31.3.2026'",
        "line 3: way_id '12a'", "line 4: it says neither", "Write paved, gravel or track",
    ):  # fmt: skip
        assert part in text
    assert caught.value.exit_code == 3


def test_geojson_lines_and_points() -> None:
    data = _geojson(
        _feature(
            {"type": "LineString", "coordinates": [[1.5, 42.5], [1.6, 42.6]]},
            ground="gravel", date="2026-05-01",
        ),
        _feature({"type": "Point", "coordinates": [1.5, 42.5, 900]}, severity=5),
        _feature(
            {"type": "MultiLineString", "coordinates": [[[1, 2], [1, 3]], [[2, 2], [2, 3]]]},
            ground="track",
        ),
        _feature(None, way_id=77, ground="paved"),
    )  # fmt: skip
    notes = parse_notes(data, "n.geojson")
    assert [len(n.line) for n in notes] == [2, 1, 2, 2, 0]
    assert notes[1].severity is Severity.EXTREME and notes[-1].way_id == 77


def test_geojson_faults_name_feature_and_line() -> None:
    data = _geojson(
        _feature({"type": "Point", "coordinates": [1.5, 42.5]}, ground="gravel"),
        _feature({"type": "Point", "coordinates": [142.5, 191.5]}, ground="gravel"),
        _feature({"type": "Polygon", "coordinates": []}, ground="gravel"),
    )
    notes, faults = check_notes(data, "n.geojson")
    assert len(notes) == 1 and len(faults) == 2
    line = data.decode().splitlines().index('   "type": "Feature",', 8) + 1
    assert faults[0].where == f"feature 2, line {line - 1}"
    assert "lat 191.5" in faults[0].what


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"a,b\n1,2\n", "columns"),
        (b'{"type": "FeatureCollection"}', "collection"),
        (b'{"type": ', "not JSON"),
        (b"way_id,ground\n", "no note"),
        (b"x" * 8_000_001, "8 MB"),
    ],
)
def test_files_that_are_no_notes(data: bytes, says: str) -> None:
    with pytest.raises(NotesError, match=says):
        parse_notes(data, "n")


@given(st.binary(max_size=300) | st.text(max_size=300).map(lambda t: t.encode("utf-8", "replace")))
def test_any_bytes_give_notes_or_a_message(data: bytes) -> None:
    try:
        assert parse_notes(data, "n")
    except NotesError as exc:
        assert exc.what


_value = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)


@given(st.lists(st.fixed_dictionaries({
    "geometry": st.fixed_dictionaries({
        "type": st.sampled_from(["Point", "LineString", "MultiLineString", "x"]),
        "coordinates": _value,
    }),
    "properties": st.dictionaries(st.sampled_from(["ground", "severity", "date", "id"]), _value),
}), max_size=4))  # fmt: skip
def test_any_features_give_notes_or_faults(features: list[object]) -> None:
    data = json.dumps({"features": features}).encode()
    try:
        notes, faults = check_notes(data, "n")
        assert notes or faults
    except NotesError as exc:
        assert exc.what
