"""A weather forecast along a route, from a service that the operator names.

The answers are JSON of the "general forecast" form that a national weather service documents and
serves under an open licence: a GeoJSON Feature whose `properties.timeseries` holds `time` and
`data`, with `instant.details` at that time and `next_1_hours`, `next_6_hours` from it.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any, NamedTuple
from urllib.parse import urlencode, urlsplit
from zoneinfo import ZoneInfo

import numpy as np

from terrain.calc.daylight import zone_at
from terrain.calc.geodesy import along_m
from terrain.calc.humid_heat import saturation_g_m3
from terrain.errors import MapDataError, UsageError
from terrain.region.download import NotOnServerError, read_answer
from terrain.tables.forecast import FORECAST, ForecastRules
from terrain.text.message import Message, message
from terrain.values.arrays import FloatArray
from terrain.values.forecast import AHEAD_DAYS, PAST_DAYS, Forecast
from terrain.values.route import Route
from terrain.values.zones import ZoneGrid

_MOST_BYTES = 4_000_000
_PLACE_EVERY_M = 25_000.0
_MOST_PLACES = 12
_DAYS = PAST_DAYS + AHEAD_DAYS
# Answers of one run: how many are kept, and how long a service that failed is left alone.
_MOST_KEPT, _LEAVE_S = 256, 300.0
_LONGEST_GAP_H = 6
# Hours a day's maximum and minimum are looked for in [local]; a day that lacks one is not told.
_WARM_H, _COLD_H = range(11, 18), range(3, 9)
_PERCENTILES_TO_BAND = 1.645 / 1.2816  # from 10..90 % to 5..95 % of a normal distribution
_SANE_C, _SANE_MM = (-90.0, 60.0), (0.0, 400.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """Where forecasts come from.

    url : the address that takes lat= and lon=; credit : whom to name, the server if empty
    timeout_s : for one answer to begin; in_all_s : for all answers together
    """

    url: str
    credit: str = ""
    timeout_s: float = 8.0
    in_all_s: float = 25.0

    def __post_init__(self) -> None:
        if urlsplit(self.url).scheme not in ("http", "https") or not urlsplit(self.url).hostname:
            raise UsageError(
                message("{url} is no web address", url=repr(self.url)),
                "forecast",
                message("Begin it with https://."),
            )

    @property
    def source(self) -> str:
        return self.credit or str(urlsplit(self.url).hostname)


@dataclass(slots=True)
class Heard:
    """What a service said to a run of many routes: each place is asked for once, and a service
    that fails is not waited for again by every route.

    answers : by address; why : how it failed, None if it did not
    again_s : of time.monotonic(), when it may be asked again
    """

    answers: dict[str, bytes] = field(default_factory=dict)
    why: Message | None = None
    again_s: float = 0.0

    def read(self, url: str, timeout_s: float, until_s: float) -> bytes:
        """Raises as read_answer, and MapDataError for a service that failed a short while ago."""
        if url in self.answers:
            return self.answers[url]
        if self.why and time.monotonic() < self.again_s:
            raise MapDataError(self.why, url, "")
        data = read_answer(url, most_bytes=_MOST_BYTES, timeout_s=timeout_s, until_s=until_s)
        if len(self.answers) >= _MOST_KEPT:
            self.answers.clear()
        self.answers[url] = data
        return data

    def fails(self, url: str, why: Message) -> None:
        self.answers.pop(url, None)
        if not self.why or time.monotonic() >= self.again_s:
            self.why, self.again_s = why, time.monotonic() + _LEAVE_S


def fetch_forecast(
    route: Route,
    service: Service | str,
    depart: datetime,
    *,
    zones: ZoneGrid | None = None,
    heard: Heard | None = None,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> Forecast:
    """The days about a departure at places along a route; never an error of the network.

    service : or its address; zones : those of the region, which spare opening the world's
    heard : what it said to the routes before, of a run of many
    Places are told to the service to a hundredth of a degree. What cannot be had stands in `why`,
    and a report takes the month's mean there. Raises UsageError for an address that is none.
    """
    service = Service(url=service) if isinstance(service, str) else service
    heard = heard or Heard()
    zone = zone_at(float(route.lon[0]), float(route.lat[0]), zones)
    asked_at = now()
    today = asked_at.astimezone(zone).date()
    local = depart if depart.tzinfo is None else depart.astimezone(zone)
    away = (local.date() - today).days
    why: Message | str = ""
    if not 0 <= away < AHEAD_DAYS:
        why = message("the day of departure is not within the next {n} days", n=AHEAD_DAYS)
        return _forecast(service, asked_at, today, [], 0, why)
    lon, lat = _places(route)
    found: list[_Place] = []
    until_s = time.monotonic() + service.in_all_s
    for x, y in zip(lon.tolist(), lat.tolist(), strict=True):
        url = f"{service.url}{'&' if '?' in service.url else '?'}" + urlencode(
            {"lat": f"{y:.2f}", "lon": f"{(x + 180.0) % 360.0 - 180.0:.2f}"}
        )
        try:
            data = heard.read(url, service.timeout_s, until_s)
            found.append(parse_answer(data, url, zone, asked_at))
        except NotOnServerError:
            why = message("the service does not reach there")
        except MapDataError as exc:
            # The next place would most likely wait as long for nothing.
            why = exc.what
            heard.fails(url, exc.what)
            break
    return _forecast(service, asked_at, today, found, len(lon), why)


def _places(route: Route) -> tuple[FloatArray, FloatArray]:
    """Positions each 25 km or 1/12 of the line, to a hundredth of a degree, each once."""
    at_m = along_m(route.lon, route.lat)
    n = int(np.clip(np.ceil(at_m[-1] / _PLACE_EVERY_M) + 1, 1, _MOST_PLACES))
    wanted = np.linspace(0.0, at_m[-1], n)
    lonlat = np.stack([np.interp(wanted, at_m, route.lon), np.interp(wanted, at_m, route.lat)], 1)
    once = np.array(list(dict.fromkeys(map(tuple, np.round(lonlat, 2).tolist()))))
    return once[:, 0], once[:, 1]


class _Place(NamedTuple):
    """One answer; the columns of a Forecast, shape (days,) each."""

    made_at: datetime
    lon: float
    lat: float
    ele_m: float
    tmax_c: FloatArray
    tmin_c: FloatArray
    half_k: FloatArray
    vapour_g_m3: FloatArray
    rain_mm: FloatArray


def _forecast(
    service: Service,
    asked_at: datetime,
    today: date,
    found: list[_Place],
    n_asked: int,
    why: Message | str,
) -> Forecast:
    def column(values: list[float]) -> FloatArray:
        return np.array(values, dtype=np.float64)

    def table(values: list[FloatArray]) -> FloatArray:
        return np.array(values, dtype=np.float64).reshape(-1, _DAYS)

    return Forecast(
        source=service.source, asked_at=asked_at,
        made_at=min((p.made_at for p in found), default=None),
        first=today - timedelta(days=PAST_DAYS),
        lon=column([p.lon for p in found]), lat=column([p.lat for p in found]),
        ele_m=column([p.ele_m for p in found]), tmax_c=table([p.tmax_c for p in found]),
        tmin_c=table([p.tmin_c for p in found]), half_k=table([p.half_k for p in found]),
        vapour_g_m3=table([p.vapour_g_m3 for p in found]),
        rain_mm=table([p.rain_mm for p in found]), n_asked=n_asked, why=why,
    )  # fmt: skip


def parse_answer(data: bytes, source: str, zone: ZoneInfo, asked_at: datetime) -> _Place:
    """One answer as days of the zone. Raises MapDataError if it is not of the form."""
    try:
        root = json.loads(data)
        facts, where = root["properties"], root["geometry"]["coordinates"]
        units = facts["meta"].get("units", {})
        made_at = _time(facts["meta"]["updated_at"])
        steps = [_step(row) for row in facts["timeseries"]]
        lon, lat = float(where[0]), float(where[1])
        ele_m = float(where[2]) if len(where) > 2 else np.nan
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError) as exc:
        raise _no_forecast(source) from exc
    kinds = (units.get("air_temperature", "celsius"), units.get("precipitation_amount", "mm"))
    in_order = all(a.at < b.at for a, b in pairwise(steps))
    if not steps or kinds != ("celsius", "mm") or not in_order or not -90.0 <= lat <= 90.0:
        raise _no_forecast(source)
    first = asked_at.astimezone(zone).date() - timedelta(days=PAST_DAYS)
    return _days(steps, zone, first, asked_at)._replace(
        made_at=made_at, lon=lon, lat=lat, ele_m=ele_m
    )


def _no_forecast(source: str) -> MapDataError:
    return MapDataError(message("the answer is no forecast of the known form"), source, "")


class _Step(NamedTuple):
    """A time [h since 1970 UTC] and what is told of it; NaN where nothing is."""

    at: float
    temp_c: float
    spread_k: float
    vapour_g_m3: float
    rain_1h_mm: float
    rain_6h_mm: float
    max_6h_c: float
    min_6h_c: float


def _step(row: Any) -> _Step:
    data = row["data"]
    now = data["instant"]["details"]
    six = data.get("next_6_hours", {}).get("details", {})
    one = data.get("next_1_hours", {}).get("details", {})
    temp_c = _number(now, "air_temperature", _SANE_C)
    low, high = (_number(now, f"air_temperature_percentile_{n}", _SANE_C) for n in (10, 90))
    damp = _number(now, "relative_humidity", (0.0, 110.0)) / 100.0
    return _Step(
        at=_time(row["time"]).timestamp() / 3600.0,
        temp_c=temp_c,
        spread_k=(high - low) / 2.0 * _PERCENTILES_TO_BAND,
        vapour_g_m3=min(damp, 1.0) * float(saturation_g_m3(np.array(temp_c))),
        rain_1h_mm=_number(one, "precipitation_amount", _SANE_MM),
        rain_6h_mm=_number(six, "precipitation_amount", _SANE_MM),
        max_6h_c=_number(six, "air_temperature_max", _SANE_C),
        min_6h_c=_number(six, "air_temperature_min", _SANE_C),
    )


def _time(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None or not 1970 <= moment.year <= 2200:
        raise ValueError(text)
    return moment


def _number(facts: dict[str, Any], key: str, sane: tuple[float, float]) -> float:
    """NaN where it is not told. Raises ValueError for what cannot be."""
    if key not in facts or facts[key] is None:
        return np.nan
    value = float(facts[key])
    if not sane[0] <= value <= sane[1]:
        raise ValueError(f"{key} {value}")
    return value


def _days(
    steps: list[_Step],
    zone: ZoneInfo,
    first: date,
    asked_at: datetime,
    rules: ForecastRules = FORECAST,
) -> _Place:
    """Steps as days of the zone, from `first` on."""
    midnight = datetime.combine(first, datetime.min.time(), zone)
    begin = int(midnight.timestamp() // 3600)
    hours = begin + np.arange(_DAYS * 24 + 25)
    local = [datetime.fromtimestamp(h * 3600.0, zone) for h in hours.tolist()]
    day = np.array([(at.date() - first).days for at in local])
    clock = np.array([at.hour for at in local])
    at = np.array([s.at for s in steps])
    temp = _hourly(hours, at, np.array([s.temp_c for s in steps]))
    spread = _hourly(hours, at, np.array([s.spread_k for s in steps]))
    vapour = _hourly(hours, at, np.array([s.vapour_g_m3 for s in steps]))
    rain = _hourly_rain(hours, steps)
    out = {key: np.full(_DAYS, np.nan) for key in ("tmax", "tmin", "half", "vapour", "rain")}
    gone = np.floor(asked_at.timestamp() / 3600.0)
    within = [(s, (_index(hours, s.at), _index(hours, s.at + 5))) for s in steps]
    for n in range(_DAYS):
        of_day = day == n
        warm, cold = of_day & np.isin(clock, _WARM_H), of_day & np.isin(clock, _COLD_H)
        six = [s for s, (first, last) in within if of_day[first] and of_day[last]]
        if warm.any() and not np.isnan(temp[warm]).any():
            top = int(np.nanargmax(np.where(of_day, temp, np.nan)))
            out["tmax"][n] = np.nanmax([temp[top], *(s.max_6h_c for s in six)])
            lead = max(n - PAST_DAYS, 0)
            usual = rules.first_half_k + rules.more_half_k * lead
            out["half"][n] = usual if np.isnan(spread[top]) else spread[top]
            if not np.isnan(vapour[warm]).any():
                out["vapour"][n] = vapour[warm].mean()
        if cold.any() and not np.isnan(temp[cold]).any():
            out["tmin"][n] = np.nanmin([np.nanmin(temp[of_day]), *(s.min_6h_c for s in six)])
        # Of today what is left of it: what has fallen already is seldom told.
        left = of_day & (hours >= gone) if n == PAST_DAYS else of_day
        if left.any() and not np.isnan(rain[left]).any():
            out["rain"][n] = rain[left].sum()
    return _Place(
        made_at=asked_at, lon=np.nan, lat=np.nan, ele_m=np.nan, tmax_c=out["tmax"],
        tmin_c=out["tmin"], half_k=out["half"], vapour_g_m3=out["vapour"], rain_mm=out["rain"],
    )  # fmt: skip


def _index(hours: np.ndarray, at: float) -> int:
    return int(min(max(at - hours[0], 0), len(hours) - 1))


def _hourly(hours: np.ndarray, at: FloatArray, values: FloatArray) -> FloatArray:
    """Values at whole hours, between neighbours at most six hours apart; NaN elsewhere."""
    known = ~np.isnan(values)
    at, values = at[known], values[known]
    if not len(at):
        return np.full(len(hours), np.nan)
    right = np.clip(np.searchsorted(at, hours), 0, len(at) - 1)
    left = np.clip(np.searchsorted(at, hours, side="right") - 1, 0, len(at) - 1)
    near = (at[right] - at[left] <= _LONGEST_GAP_H) & (hours >= at[0]) & (hours <= at[-1])
    return np.where(near, np.interp(hours, at, values), np.nan)


def _hourly_rain(hours: np.ndarray, steps: list[_Step]) -> FloatArray:
    """Rain of each hour; six hours told together are spread evenly where no single hour is."""
    rain = np.full(len(hours), np.nan)
    for step in steps:
        for total, n in ((step.rain_6h_mm, 6), (step.rain_1h_mm, 1)):
            i = round(step.at) - int(hours[0])
            if np.isnan(total) or i < 0:
                continue
            part = rain[i : i + n]
            part[:] = np.where(np.isnan(part), total / n, part) if n > 1 else total
    return rain
