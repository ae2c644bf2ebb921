"""A ride where the sun does not rise, or does not set."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pandas as pd
import pytest

import terrain
from terrain.calc.daylight import sun_day, zone_at
from terrain.region.build import build_region
from terrain.values.clock import SunKind
from terrain.values.verdict import Rank
from tests.region.osm_xml import OsmXml


def _height_deg(times: pd.DatetimeIndex, lat: float) -> pd.Series[float]:
    """Of the sun at 25 degrees east, by the NREL solar position algorithm of pvlib."""
    pvlib = pytest.importorskip("pvlib")
    height: pd.Series[float] = pvlib.solarposition.get_solarposition(times, lat, 25.0)["elevation"]
    return height


def _report(tmp_path: Path, lat: float, depart: str) -> terrain.Report:
    osm = OsmXml()
    lons = [25.0 + 0.005 * i for i in range(33)]
    for ref, lon in enumerate(lons, start=1):
        osm.node(ref, lon, lat)
    osm.way(10, list(range(1, 34)), {"highway": "tertiary", "surface": "asphalt"})
    build_region("far", (osm.write(tmp_path / "map.osm"),), home=tmp_path / "home")
    points = "".join(f'<trkpt lat="{lat}" lon="{lon:.6f}"/>' for lon in lons)
    plan = tmp_path / "plan.gpx"
    plan.write_text(
        '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{points}</trkseg></trk></gpx>"
    )
    return terrain.assess(
        terrain.read_route(plan),
        terrain.open_region("far", tmp_path / "home"),
        trip=terrain.Trip(depart=datetime.fromisoformat(depart)),
    )


@pytest.mark.parametrize(
    ("lat", "depart"),
    [
        (69.5, "2027-12-20T10:00"),
        (69.5, "2027-06-20T10:00"),
        (66.0, "2027-12-20T10:00"),
        (60.0, "2027-12-20T10:00"),
        (70.0, "2027-03-20T10:00"),
    ],
)
def test_polar_night_and_day_are_told_as_pvlib_has_them(
    tmp_path: Path, lat: float, depart: str
) -> None:
    """By the sun's height over that day."""
    times = pd.date_range(depart[:10], periods=24 * 12, freq="5min", tz="Europe/Helsinki")
    height = _height_deg(times, lat)
    never_up, never_down = bool(height.max() < -0.833), bool(height.min() > -0.833)
    plan = _report(tmp_path, lat, depart).assessed.plan
    assert plan is not None
    night = [p for p in plan.problems if "does not rise" in p.text]
    day = [text for text in plan.words if "does not set" in text]
    assert (bool(night), bool(day)) == (never_up, never_down)


def test_polar_night_is_among_the_dangers(tmp_path: Path) -> None:
    verdict = _report(tmp_path, 69.5, "2027-12-20T10:00").verdict
    assert "The sun does not rise." in [item.what for item in verdict.of(Rank.DANGER)]


@pytest.mark.parametrize(
    ("lat", "depart"), [(69.5, "2027-11-25T10:00"), (69.5, "2027-04-28T10:00")]
)
def test_the_last_days_before_polar_night_and_white_nights_keep_their_light(
    tmp_path: Path, lat: float, depart: str
) -> None:
    """The sun stands on the horizon at our sunrise, by pvlib; a later day without dusk takes no
    light. From 29 April on it stays above 6 degrees below the horizon (20.5 less a declination of
    14.5 degrees).

    In November it grazes the horizon, so heights are compared, not times; to within what the sun's
    own height at a given hour changes from one day to the next.
    """
    plan = _report(tmp_path, lat, depart).assessed.plan
    assert plan is not None
    light = plan.days[0].daylight
    assert light is not None
    midnight = pd.Timestamp(depart[:10], tz="Europe/Oslo")
    times = pd.DatetimeIndex([midnight + pd.Timedelta(seconds=light.sunrise_s)])
    height = _height_deg(times, lat)
    assert height.iloc[0] == pytest.approx(-0.833, abs=0.3)


@pytest.mark.parametrize(("lat", "day"), [(67.5, date(2027, 12, 27)), (-67.5, date(2027, 6, 27))])
def test_a_grazing_winter_sun_is_no_midnight_sun(lat: float, day: date) -> None:
    """By pvlib the sun stands at -0.83 degrees at its highest."""
    assert sun_day(25.0, lat, day, zone_at(25.0, lat)).kind is not SunKind.POLAR_DAY


def test_a_known_date_is_not_told_as_unknown(tmp_path: Path) -> None:
    plan = _report(tmp_path, 69.5, "2027-12-20T10:00").assessed.plan
    assert plan is not None
    assert not any("No date is known" in text for text in plan.words)
