"""A weather service of our own on the loopback: whole, partial, broken, slow; what reports say."""

from __future__ import annotations

import functools
import json
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import terrain
import terrain.region.forecast
from terrain.calc.daylight import zone_at
from terrain.cli import main
from terrain.errors import MapDataError, UsageError
from terrain.region.forecast import Heard, Service, fetch_forecast, parse_answer
from terrain.report.data.jsonfile import report_schema
from terrain.stages.weather.along import soaked
from terrain.values.forecast import PAST_DAYS, Forecast
from terrain.values.ground import SeasonCause, SeasonRisk
from terrain.values.route import Route, RouteKind
from terrain.values.verdict import FindingKind
from terrain.values.zones import ZoneGrid
from terrain.web.settings import WebSettings
from terrain.web.work import weather_of

# Asked in the night before the ride, so that no test depends on the clock.
ASKED = datetime(2027, 3, 13, 18, 0, tzinfo=UTC)
DEPART = datetime(2027, 3, 14, 8, 0)
HOT_C = 41.0


@dataclass
class Sky:
    """What the service says, and how."""

    action: str = ""
    top_c: float = HOT_C
    rain_h_mm: float = 0.0
    past: bool = False
    ele_m: float = 0.0
    hours: int = 9 * 24
    asked: list[tuple[float, float]] = field(default_factory=list)


def answer(sky: Sky, lon: float, lat: float) -> dict[str, Any]:
    """In the form of the general forecast JSON: each hour for two days, then each six."""
    steps = []
    first = ASKED - timedelta(days=14 if sky.past else 0)
    hour = 0
    while first + timedelta(hours=hour) <= ASKED + timedelta(hours=sky.hours):
        at = first + timedelta(hours=hour)
        turn = np.cos((at.hour + lon / 15.0 - 14.0) / 24.0 * 2.0 * np.pi)
        details = {"air_temperature": round(sky.top_c - 8.0 + 8.0 * turn, 1)}
        details["relative_humidity"] = 30.0
        far = at >= ASKED + timedelta(hours=48)
        n = 6 if far else 1
        data: dict[str, Any] = {"instant": {"details": details}}
        data[f"next_{n}_hours"] = {"details": {"precipitation_amount": sky.rain_h_mm * n}}
        if far:
            data["next_6_hours"]["details"]["air_temperature_max"] = details["air_temperature"]
        steps.append({"time": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "data": data})
        hour += n
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [lon, lat, sky.ele_m]},
        "properties": {
            "meta": {
                "updated_at": "2027-03-13T17:12:00Z",
                "units": {"air_temperature": "celsius", "precipitation_amount": "mm"},
            },
            "timeseries": steps,
        },
    }


class Handler(BaseHTTPRequestHandler):
    sky: Sky

    def log_message(self, *_: object) -> None:
        return

    def do_GET(self) -> None:
        sky = self.sky
        asked = parse_qs(urlsplit(self.path).query)
        lon, lat = float(asked["lon"][0]), float(asked["lat"][0])
        sky.asked.append((lon, lat))
        body = json.dumps(answer(sky, lon, lat)).encode()
        status = 200
        if sky.action.isdigit():
            status, body = int(sky.action), b"no"
        elif sky.action == "half" and len(sky.asked) > 1:
            status, body = 404, b"not there"
        elif sky.action == "later" and len(sky.asked) > 1:
            status, body = 500, b"no"
        elif sky.action in BAD:
            body = BAD[sky.action]
        self.send_response(status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        for at in range(0, len(body), 1000) if sky.action == "slow" else ():
            try:
                self.wfile.write(body[at : at + 1000])
                self.wfile.flush()
            except OSError:
                return
            time.sleep(0.05)
        if sky.action != "slow":
            self.wfile.write(body)


BAD = {
    "page": b"<html>Welcome</html>",
    "list": b"[1, 2]",
    "deep": b"[" * 100_000,
    "empty": json.dumps(answer(Sky(hours=-1), 0.0, 0.0)).encode(),
    "kelvin": json.dumps(answer(Sky(top_c=310.0), 0.0, 0.0)).encode(),
    "huge": b" " * 5_000_000,
    "nan": json.dumps(answer(Sky(top_c=float("nan")), 0.0, 0.0)).encode(),
    "unit": json.dumps(answer(Sky(), 0.0, 0.0)).replace("celsius", "kelvin").encode(),
}


@pytest.fixture
def sky() -> Sky:
    return Sky()


@pytest.fixture
def url(sky: Sky) -> Iterator[str]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), type("Own", (Handler,), {"sky": sky}))
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}/complete"
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.fixture(scope="module")
def region(island_home: Path) -> terrain.Region:
    return terrain.open_region("island", island_home)


@pytest.fixture(scope="module")
def route(island_home: Path) -> Route:
    return terrain.read_route(island_home / "demo" / "routes" / "high-tracks.gpx")


def _fetched(route: Route, url: str, depart: datetime = DEPART) -> Forecast:
    service = Service(url=url, credit="A weather office")
    return fetch_forecast(route, service, depart, now=lambda: ASKED)


def _report(route: Route, region: terrain.Region, forecast: Forecast | None) -> terrain.Report:
    trip = terrain.Trip(depart=DEPART)
    return terrain.assess(route, region, trip, forecast=forecast, made_at=ASKED)


def test_the_forecast_takes_the_place_of_the_month_in_heat(
    sky: Sky, url: str, route: Route, region: terrain.Region
) -> None:
    plain = _report(route, region, None).assessed.heat.rider
    forecast = _fetched(route, url)
    told = _report(route, region, forecast)
    rider, weather = told.assessed.heat.rider, told.assessed.weather
    assert plain is not None and rider is not None and weather is not None
    # The service's height is the sea's and the ride is above it, by 6.5 K a km (ISO 2533).
    lowest = float(np.nanmin(told.assessed.relief.ele_m))
    assert HOT_C - 0.0065 * lowest - 4.0 < rider.max_air_temp_c < HOT_C
    assert rider.max_air_temp_c > plain.max_air_temp_c + 3.0
    assert weather.heat_share == 1.0
    facts = told.to_dict()
    Draft202012Validator(report_schema()).validate(facts)
    assert facts["weather"]["made_at"] == "2027-03-13T17:12+00:00"
    assert any("A weather office" in line for line in facts["weather"]["words"])
    assert "forecast" in str(told.assessed.heat.basis["text"])
    # Rain before today is not told: it may not be taken as none.
    assert facts["weather"]["rain_past_14_days"] is None
    assert facts["weather"]["rain_next_7_days"] == {"least_mm": 0.0, "most_mm": 0.0}
    ground = told.assessed.ground.stretches
    month = _report(route, region, None).assessed.ground.stretches
    assert [s.season_risk for s in ground] == [s.season_risk for s in month]
    # The service learns places to a hundredth of a degree, and few of them.
    assert len(sky.asked) <= 12
    assert all(lon == round(lon, 2) and lat == round(lat, 2) for lon, lat in sky.asked)


def test_a_danger_of_the_air_names_the_forecast_and_its_hour(
    sky: Sky, url: str, route: Route, region: terrain.Region
) -> None:
    def told(kind: FindingKind, top_c: float, rain_h_mm: float = 0.0) -> str:
        sky.top_c, sky.rain_h_mm = top_c, rain_h_mm
        report = _report(route, region, _fetched(route, url))
        (found,) = (item for item in report.verdict.findings if item.kind is kind)
        kit = {row.code for row in report.assessed.advice.spares}
        assert ("rain" in kit) is (rain_h_mm > 0.0)
        return f"{found.what} {found.do.rider}".replace("\xa0", " ")

    hot, frost = told(FindingKind.HEAT, HOT_C), told(FindingKind.COLD, -10.0)
    for text in (hot, frost):
        assert "Weather forecast of 13 March 2027" in text and "A weather office." in text
    assert "mean day" not in frost and "Snow" not in frost
    assert "Snow or rain that freezes is forecast" in told(FindingKind.COLD, -10.0, 0.5)


def test_its_own_band_and_percentiles(route: Route) -> None:
    zone = zone_at(float(route.lon[0]), float(route.lat[0]))
    plain = answer(Sky(), 87.0, 13.0)
    days = parse_answer(json.dumps(plain).encode(), "x", zone, ASKED)
    first, later = days.half_k[PAST_DAYS + 1], days.half_k[PAST_DAYS + 6]
    assert 0.0 < first < later
    for row in plain["properties"]["timeseries"]:
        details = row["data"]["instant"]["details"]
        details["air_temperature_percentile_10"] = details["air_temperature"] - 1.0
        details["air_temperature_percentile_90"] = details["air_temperature"] + 1.0
    days = parse_answer(json.dumps(plain).encode(), "x", zone, ASKED)
    # Normal distribution: 10..90 % is 1.2816 sigma each way, 5..95 % is 1.645.
    assert days.half_k[PAST_DAYS + 1] == pytest.approx(1.645 / 1.2816, abs=0.01)
    assert np.isnan(days.tmax_c[PAST_DAYS - 1]) and np.isnan(days.tmax_c[-1])


def test_rain_of_the_days_before_decides_soft_ground(
    sky: Sky, url: str, route: Route, region: terrain.Region
) -> None:
    def risks(forecast: Forecast | None) -> set[SeasonRisk | None]:
        rows = _report(route, region, forecast).assessed.ground.stretches
        return {s.season_risk for s in rows if s.season_cause in (None, SeasonCause.RAIN)}

    sky.past, sky.rain_h_mm = True, 0.5  # 12 mm a day: 365 mm a month
    wet = _fetched(route, url)
    assert SeasonRisk.CONFIRM_FIRST in risks(wet)
    report = _report(route, region, wet)
    assert any("as wet as in a month of 365 mm" in str(s.evidence.season)
               for s in report.assessed.ground.stretches)  # fmt: skip
    assert report.assessed.weather is not None
    assert report.assessed.weather.rain_past_mm == pytest.approx((168.0, 168.0))
    sky.rain_h_mm = 0.0
    dry = _fetched(route, url)
    assert not risks(dry) & {SeasonRisk.DOUBTFUL, SeasonRisk.CONFIRM_FIRST}


def test_days_that_are_told_in_part_never_make_the_ground_drier(
    sky: Sky, url: str, route: Route
) -> None:
    at, month = np.zeros(1), np.array([100.0])
    here = np.array([route.lon[0]]), np.array([route.lat[0]])
    partly = soaked(_fetched(route, url), *here, at, DEPART.date(), month)
    assert partly.month_mm[0] == 100.0 and not partly.told[0]
    sky.past = True
    whole = soaked(_fetched(route, url), *here, at, DEPART.date(), month)
    assert whole.month_mm[0] == 0.0 and whole.told[0]
    sky.past, sky.rain_h_mm = False, 2.0
    wetter = soaked(_fetched(route, url), *here, at, DEPART.date(), month)
    # Of the last week today's rest and tomorrow are told: 60 mm or so, and five days of the month.
    assert 200.0 < wetter.month_mm[0] < 400.0 and wetter.told[0]


@pytest.mark.parametrize("action", ["500", "slow", *BAD])
def test_without_an_answer_the_month_stays_and_the_report_says_so(
    action: str, sky: Sky, url: str, route: Route, region: terrain.Region
) -> None:
    sky.action = action
    service = Service(url=url, timeout_s=5.0, in_all_s=0.2 if action == "slow" else 20.0)
    begun = time.monotonic()
    forecast = fetch_forecast(route, service, DEPART, now=lambda: ASKED)
    assert time.monotonic() - begun < 5.0 and len(sky.asked) == 1
    assert len(forecast) == 0 and forecast.why
    if action not in ("500", "slow", "page"):
        return
    report, plain = _report(route, region, forecast), _report(route, region, None)
    assert report.assessed.heat.to_dict() == plain.assessed.heat.to_dict()
    (unknown,) = [item for item in report.verdict.unknown if item.key == "weather"]
    assert str(forecast.why) in str(unknown.why) and "month's means" in str(unknown.why)
    Draft202012Validator(report_schema()).validate(report.to_dict())


def test_a_server_that_is_not_there() -> None:
    line = np.linspace(0.0, 0.1, 3)
    route = Route(
        name="x", kind=RouteKind.TRACK, lon=line, lat=line,
        ele_m=np.full(3, np.nan), piece=np.zeros(3, np.int32), shaping=np.zeros(3, bool),
        planned=np.zeros(3, bool),
    )  # fmt: skip
    forecast = _fetched(route, "http://127.0.0.1:9/complete")
    assert "cannot be reached" in str(forecast.why)
    with pytest.raises(UsageError, match="no web address"):
        _fetched(route, "ftp://127.0.0.1/x")


@pytest.mark.parametrize(("action", "why"), [("half", "does not reach"), ("later", "answered 500")])
def test_partial_reach_is_said(
    action: str, why: str, sky: Sky, url: str, route: Route, region: terrain.Region
) -> None:
    sky.action = action
    forecast = _fetched(route, url)
    assert len(forecast) == 1 and forecast.n_asked > 1 and why in str(forecast.why)
    report = _report(route, region, forecast)
    assert report.assessed.weather is not None
    assert any(why in str(word) for word in report.assessed.weather.words)
    assert 0.0 < report.assessed.weather.heat_share <= 1.0
    # Beyond its reach in time nothing is taken for known.
    sky.action, sky.hours = "", 20
    beyond = _report(route, region, _fetched(route, url))
    short = beyond.assessed
    days = len(short.plan.days)
    assert short.weather is not None and (short.weather.heat_share < 1.0 or days == 1)
    sky.hours = 9 * 24
    whole = _report(route, region, _fetched(route, url))
    # It is told among what is not known, in every channel.
    told = [[gap.why for gap in r.verdict.unknown if gap.key == "weather"]
            for r in (report, beyond, whole)]  # fmt: skip
    assert why in str(told[0]) and told[2] == []
    assert bool(told[1]) is (short.weather.heat_share < 0.995)


def test_nothing_is_asked_for_a_day_out_of_reach(sky: Sky, url: str, route: Route) -> None:
    for depart in (datetime(2027, 9, 1, 8), datetime(2027, 3, 1, 8)):
        forecast = _fetched(route, url, depart)
        assert "not within the next 15 days" in str(forecast.why)
    assert sky.asked == []


def test_no_answer_however_bent_is_more_than_a_refusal(route: Route) -> None:
    """Seeded changes of an answer: read, or refused as no forecast; nothing else."""
    rng = np.random.default_rng(7)
    zone = zone_at(float(route.lon[0]), float(route.lat[0]))
    whole = json.dumps(answer(Sky(hours=12), 87.0, 13.0)).encode()
    for _ in range(60):
        data = bytearray(whole)
        for at in rng.integers(0, len(data), 4):
            data[at] = rng.integers(32, 127)
        try:
            days = parse_answer(bytes(data), "x", zone, ASKED)
        except MapDataError:
            continue
        assert days.tmax_c.shape == days.rain_mm.shape


def test_the_command_asks_only_if_told_to(
    sky: Sky, url: str, island_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    path = island_home / "demo" / "routes" / "high-tracks.gpx"
    monkeypatch.setenv("TERRAIN_HOME", str(island_home))
    words = ["report", str(path), "--region", "island", "--out", str(tmp_path)]
    dated = [*words, "--depart", DEPART.isoformat()]
    assert main([*dated, "--forecast", "--json"]) == 2
    assert "TERRAIN_FORECAST" in capsys.readouterr().err
    monkeypatch.setenv("TERRAIN_FORECAST", url)
    monkeypatch.setenv("TERRAIN_FORECAST_CREDIT", "A weather office")
    assert main([*words, "--forecast"]) == 2
    assert "--depart" in capsys.readouterr().err
    assert main([*dated, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["weather"] is None and sky.asked == []
    asked = functools.partial(fetch_forecast, now=lambda: ASKED)
    monkeypatch.setattr(terrain.region.forecast, "fetch_forecast", asked)
    assert main([*dated, "--forecast", "--json", "--write", "html"]) == 0
    assert json.loads(capsys.readouterr().out)["weather"]["source"] == "A weather office"
    (page,) = (path.read_text(encoding="utf-8") for path in tmp_path.glob("*.html"))
    assert "Weather forecast of 13 March" in page and "A weather office" in page


def test_a_batch_asks_for_each_route_and_says_where_there_was_no_answer(
    sky: Sky, url: str, island_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    path = island_home / "demo" / "routes" / "high-tracks.gpx"
    monkeypatch.setenv("TERRAIN_HOME", str(island_home))
    asked = functools.partial(fetch_forecast, now=lambda: ASKED)
    monkeypatch.setattr(terrain.region.forecast, "fetch_forecast", asked)
    words = ["batch", str(path), "--region", "island", "--write", "json", "--out", str(tmp_path)]
    assert main([*words, "--depart", DEPART.isoformat(), "--forecast"]) == 2
    assert "TERRAIN_FORECAST" in capsys.readouterr().err
    monkeypatch.setenv("TERRAIN_FORECAST", url)
    for action, share in (("", 1.0), ("500", 0.0)):
        sky.action = action
        assert main([*words, "--depart", DEPART.isoformat(), "--forecast"]) == 0
        (file,) = tmp_path.glob("*.json")
        weather = json.loads(file.read_bytes())["weather"]
        assert weather["source"] == "127.0.0.1" and weather["heat_share"] == share
        assert bool(weather["why"]) == (action == "500")


@pytest.mark.parametrize("action", ["", "500", "later"])
def test_a_run_of_many_asks_for_a_place_once_and_a_service_that_fails_once(
    sky: Sky, url: str, route: Route, monkeypatch: pytest.MonkeyPatch, action: str
) -> None:
    sky.action, heard, ticks = action, Heard(), [1000.0]
    monkeypatch.setattr(terrain.region.forecast.time, "monotonic", lambda: ticks[0])
    first, second = (
        fetch_forecast(route, Service(url=url), DEPART, heard=heard, now=lambda: ASKED)
        for _ in range(2)
    )
    assert len(sky.asked) == {"": first.n_asked, "500": 1, "later": 2}[action]
    assert len(first) == len(second) == {"": first.n_asked, "500": 0, "later": 1}[action]
    assert str(first.why) == str(second.why)
    # It is asked again after five minutes, no later for the routes that came in between.
    sky.action = ""
    for ticks[0] in (1299.0, 1301.0):
        again = fetch_forecast(route, Service(url=url), DEPART, heard=heard, now=lambda: ASKED)
    assert len(again) == first.n_asked and not again.why


def test_days_are_those_of_the_region_s_zones(url: str, route: Route) -> None:
    zones = ZoneGrid(
        names=("Pacific/Kiritimati",), cell=np.zeros((1, 1), np.int32), west=-180.0, south=-90.0,
        step_deg=360.0,
    )  # fmt: skip
    forecast = fetch_forecast(route, url, DEPART, zones=zones, now=lambda: ASKED)
    # It is the 14th there already, 14 h east of Greenwich.
    assert forecast.column(datetime(2027, 3, 14).date()) == PAST_DAYS


def test_the_desk_asks_for_rides_with_a_day_if_a_service_is_set(
    sky: Sky, url: str, route: Route, region: terrain.Region, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    asked = functools.partial(fetch_forecast, now=lambda: ASKED)
    monkeypatch.setattr(terrain.region.forecast, "fetch_forecast", asked)
    desk = WebSettings(home=tmp_path, data=tmp_path, forecast=url)
    day = terrain.Trip(depart=DEPART)
    told = weather_of(route, day, desk)
    assert told is not None and len(told) > 0
    assert weather_of(route, terrain.Trip(), desk) is None
    assert weather_of(route, day, WebSettings(home=tmp_path, data=tmp_path)) is None
    with pytest.raises(UsageError, match="forecast"):
        WebSettings(home=tmp_path, data=tmp_path, forecast="ftp://x")
