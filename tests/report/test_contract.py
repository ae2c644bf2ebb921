"""The report of the invented island as JSON: the contract, key by key."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import terrain
from terrain.report.data.jsonfile import render_json, report_schema
from terrain.values.report import Report
from terrain.values.rounding import rounded
from tests.report.conftest import DEPART, STAMP


def _routes(home: Path) -> list[Path]:
    return sorted((home / "demo" / "routes").glob("*.gpx"))


def _assess(home: Path, path: Path, depart: datetime | None, made_at: datetime) -> Report:
    region = terrain.open_region("island", home)
    trip = terrain.Trip(depart=depart, wanted_class="road-tourer")
    return terrain.assess(terrain.read_route(path), region, trip, made_at=made_at)


@pytest.fixture(scope="module")
def reports(sample_reports: list[Report]) -> list[Report]:
    return sample_reports


@pytest.fixture(scope="module")
def all_facts(reports: list[Report]) -> list[dict[str, Any]]:
    return [report.to_dict() for report in reports]


def test_schema_itself_is_valid() -> None:
    Draft202012Validator.check_schema(report_schema())


def test_every_report_validates(all_facts: list[dict[str, Any]], island_home: Path) -> None:
    validator = Draft202012Validator(report_schema())
    without_date = _assess(island_home, _routes(island_home)[0], None, STAMP).to_dict()
    for facts in [*all_facts, without_date]:
        assert [error.message for error in validator.iter_errors(facts)] == []


def test_schema_refuses_what_it_should() -> None:
    validator = Draft202012Validator(report_schema())
    assert not validator.is_valid({"schema": "terrain-report/1"})


def test_stretches_are_gapless_and_cover_the_ride(all_facts: list[dict[str, Any]]) -> None:
    for facts in all_facts:
        stretches = facts["stretches"]
        assert stretches[0]["from_m"] == 0
        assert stretches[-1]["to_m"] == facts["route"]["length_m"]
        for a, b in itertools.pairwise(stretches):
            assert a["to_m"] == b["from_m"]
            assert b["to_m"] >= b["from_m"]


def test_shares_sum_to_one_and_keep_their_interval(all_facts: list[dict[str, Any]]) -> None:
    for facts in all_facts:
        shares = facts["ground"]["shares"].values()
        assert round(sum(share["best"] for share in shares), 6) == 1
        assert all(0 <= s["low"] <= s["best"] <= s["high"] <= 1 for s in shares)
        assert round(sum(facts["ground"]["basis"].values()), 6) == 1
        for stretch in facts["stretches"]:
            if stretch["p"] is not None:
                assert round(sum(stretch["p"].values()), 6) == 1


def test_lengths_of_the_match_add_up(all_facts: list[dict[str, Any]]) -> None:
    for facts in all_facts:
        match = facts["match"]
        parts = match["matched_m"] + match["unmapped_m"] + match["ferry_m"]
        assert parts == pytest.approx(facts["route"]["length_m"], abs=0.5)


def test_profile_and_stops_lie_on_the_ride(all_facts: list[dict[str, Any]]) -> None:
    for facts in all_facts:
        length = facts["route"]["length_m"]
        at_m = facts["relief"]["profile"]["at_m"]
        assert len(at_m) == len(facts["relief"]["profile"]["ele_m"]) > 10
        assert at_m == sorted(at_m)
        assert all(0 <= stop["at_m"] <= length for stop in facts["stops"])
        assert facts["days"][0]["from_m"] == 0
        assert facts["days"][-1]["to_m"] == pytest.approx(length, abs=0.2)


def test_attribution_names_every_source(all_facts: list[dict[str, Any]]) -> None:
    for facts in all_facts:
        text = " ".join(facts["region"]["attribution"])
        assert "ITU-R" in text
        assert facts["region"]["map_date"]


def test_same_input_gives_the_same_bytes(island_home: Path, reports: list[Report]) -> None:
    again = _assess(island_home, _routes(island_home)[0], DEPART, STAMP)
    assert render_json(again) == render_json(reports[0])


def test_only_the_stamp_differs_later(island_home: Path, reports: list[Report]) -> None:
    stamp = datetime(2028, 1, 1, tzinfo=UTC)
    later = _assess(island_home, _routes(island_home)[0], DEPART, stamp).to_dict()
    first = reports[0].to_dict()
    assert {key for key in first if first[key] != later[key]} == {"made_at"}


def test_json_is_plain_and_rounded(reports: list[Report]) -> None:
    for report in reports:
        facts = json.loads(render_json(report))
        assert facts == report.to_dict()
        for path, number in _floats(facts):
            assert len(repr(number).split(".")[-1]) <= 6, path


def _floats(value: Any, path: str = "") -> Iterator[tuple[str, float]]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _floats(item, f"{path}.{key}")
    elif isinstance(value, list):
        for item in value:
            yield from _floats(item, path)
    elif isinstance(value, float):
        yield path, value


def test_geodataframe_has_a_line_per_stretch(reports: list[Report]) -> None:
    for report in reports:
        frame = report.to_geodataframe()
        facts = report.to_dict()
        assert frame.crs.to_epsg() == 4326
        assert len(frame) == len(facts["stretches"])
        assert set(frame.geom_type) == {"LineString"}
        assert {"ground", "p_paved", "p_gravel", "p_track", "from_m", "to_m"} <= set(frame.columns)
        # pyproj.Geod measures each line as long as its stretch says (0.5 % and 1 m).
        geod = frame.crs.get_geod()
        for line, a, b in zip(frame.geometry, frame["from_m"], frame["to_m"], strict=True):
            assert geod.geometry_length(line) == pytest.approx(b - a, rel=0.005, abs=1.0)


@pytest.mark.parametrize(
    ("name", "value", "shown"),
    [
        ("from_m", 12.345, 12.3),
        ("lon", -19.12345678, -19.123457),
        ("best", 0.123456, 0.1235),
        ("ele_m", float("nan"), None),
        ("x_s", 61.7, 62.0),
        ("l_per_km", 0.0333333, 0.0333),
        ("temp_c", -0.04, 0.0),
    ],
)
def test_rounding_follows_the_unit(name: str, value: float, shown: float | None) -> None:
    made = rounded({name: value})[name]
    assert made == shown
    assert str(made) != "-0.0"


def test_rounding_refuses_what_json_cannot_hold() -> None:
    with pytest.raises(TypeError, match="made_at"):
        rounded({"made_at": STAMP})
