"""Sun, daylight and the shape of a day against NREL's algorithm and published values."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from terrain.calc.daylight import sun_day, zone_at
from terrain.calc.sun import (
    clear_sky_w_m2,
    daylight_h,
    direct_share,
    extraterrestrial_mj_m2,
    solar_hour,
    sun_position_deg,
)
from terrain.stages.heat.climate import campbell_norman_c, daily_curve_c, parton_logan_c
from terrain.values.clock import SunKind

ANDORRA = (1.5218, 42.5063)
KATHMANDU = (85.3240, 27.7172)


def _position(moment: datetime, lon: float, lat: float) -> tuple[float, float]:
    height, azimuth = sun_position_deg(
        np.array([moment.timestamp()]), np.array([lon]), np.array([lat])
    )
    return float(height[0]), float(azimuth[0])


def test_nrel_example() -> None:
    """NREL/TP-560-34302, A.5: zenith 50.11162 with refraction (0.0163), azimuth 194.34024."""
    moment = datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC)
    height, azimuth = _position(moment, -105.1786, 39.742476)
    assert height == pytest.approx(90 - 50.11162 - 0.0163, abs=0.01)
    assert azimuth == pytest.approx(194.34024, abs=0.01)


@pytest.mark.parametrize(
    ("moment", "place", "height"),
    [
        # pvlib 0.16.1 spa_python, true height.
        (datetime(2025, 6, 21, 12, tzinfo=UTC), ANDORRA, 70.91),
        (datetime(2025, 12, 21, 12, tzinfo=UTC), ANDORRA, 24.03),
        (datetime(2025, 7, 15, 15, tzinfo=UTC), ANDORRA, 47.04),
        (datetime(2025, 5, 15, 6, 15, tzinfo=UTC), KATHMANDU, 81.22),
    ],
)
def test_heights_of_the_sun(moment: datetime, place: tuple[float, float], height: float) -> None:
    assert _position(moment, *place)[0] == pytest.approx(height, abs=0.02)


@pytest.mark.filterwarnings("ignore")
def test_sun_against_pvlib_all_year_and_all_over() -> None:
    """pvlib.solarposition.spa_python: 200 moments and places, 0.02 degrees."""
    pandas = pytest.importorskip("pandas")
    spa = pytest.importorskip("pvlib.solarposition").spa_python
    rng = np.random.default_rng(11)
    start = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
    worst = 0.0
    for _ in range(20):
        lon, lat = float(rng.uniform(-180, 180)), float(rng.uniform(-65, 75))
        unix = start + rng.uniform(0, 3 * 365 * 86400, 10)
        theirs = spa(pandas.to_datetime(unix, unit="s", utc=True), lat, lon)
        ours, azimuth = sun_position_deg(unix, np.full(10, lon), np.full(10, lat))
        worst = max(worst, float(np.abs(ours - theirs["elevation"].to_numpy()).max()))
        apart = (azimuth - theirs["azimuth"].to_numpy() + 180) % 360 - 180
        assert np.abs(apart * np.cos(np.radians(ours))).max() < 0.03
    assert worst < 0.02


@pytest.mark.parametrize(
    ("place", "day", "times"),
    [
        # astral 3.2, dawn at -6 degrees; pvlib's SPA within 20 s.
        (ANDORRA, date(2025, 6, 21), ("03:41", "04:17", "19:35", "20:10")),
        (ANDORRA, date(2025, 12, 21), ("06:48", "07:20", "16:24", "16:56")),
        (KATHMANDU, date(2025, 11, 15), ("00:15", "00:40", "11:26", "11:52")),
    ],
)
def test_daylight(place: tuple[float, float], day: date, times: tuple[str, ...]) -> None:
    got = sun_day(*place, day, ZoneInfo("UTC"))
    for moment, text in zip((got.dawn, got.sunrise, got.sunset, got.dusk), times, strict=True):
        assert moment is not None
        wanted = datetime.fromisoformat(f"{day.isoformat()}T{text}+00:00")
        assert abs((moment - wanted).total_seconds()) <= 60
    assert got.kind is SunKind.USUAL


@pytest.mark.filterwarnings("ignore")
def test_sunrise_against_pvlib() -> None:
    """pvlib sun_rise_set_transit_spa, six places over twelve months: within a minute."""
    pandas = pytest.importorskip("pandas")
    events = pytest.importorskip("pvlib.solarposition").sun_rise_set_transit_spa
    places = (ANDORRA, KATHMANDU, (-70.65, -33.45), (10.75, 59.9), (36.8, -1.3), (151.2, -33.9))
    days = [date(2026, m, 12) for m in range(1, 13)]
    for lon, lat in places:
        # The local day is asked for, so that both mean the same morning.
        zone = zone_at(lon, lat)
        noon = pandas.DatetimeIndex(
            [datetime(d.year, d.month, d.day, 12, tzinfo=zone) for d in days]
        )
        theirs = events(noon, lat, lon)
        for i, day in enumerate(days):
            ours = sun_day(lon, lat, day, zone)
            for mine, name in ((ours.sunrise, "sunrise"), (ours.sunset, "sunset")):
                assert mine is not None
                other = theirs[name].iloc[i].to_pydatetime()
                assert abs((mine - other).total_seconds()) < 60


def test_polar_day_and_polar_night() -> None:
    """Tromso, 69.65 N: the sun does not set in June nor rise in December."""
    zone = ZoneInfo("Europe/Oslo")
    summer = sun_day(18.95, 69.65, date(2026, 6, 21), zone)
    assert summer.kind is SunKind.POLAR_DAY
    assert summer.daylight_s == 86_400
    assert summer.to_dict()["sunset"] is None
    winter = sun_day(18.95, 69.65, date(2026, 12, 21), zone)
    assert winter.kind is SunKind.POLAR_NIGHT
    assert winter.daylight_s == 0
    assert winter.dusk is not None  # civil twilight comes at noon


def test_events_fall_on_the_local_day_everywhere() -> None:
    for lon, lat in ((178.4, -18.1), (-175.2, -21.1), (-157.9, 21.3), (144.8, 13.5)):
        got = sun_day(lon, lat, date(2026, 1, 3), zone_at(lon, lat))
        assert got.sunrise is not None and got.sunset is not None
        assert got.sunrise.date() == got.sunset.date() == date(2026, 1, 3)
        assert 10 * 3600 < got.daylight_s < 15 * 3600


@pytest.mark.parametrize(
    ("lon", "lat", "day"),
    [
        (-6.77, 62.01, date(2027, 7, 14)),  # Faroe Islands: dusk after midnight
        (-21.9, 64.15, date(2027, 6, 21)),  # Reykjavik: the sun itself sets after midnight
        (26.7, 60.47, date(2027, 6, 21)),
    ],
)
def test_a_northern_summer_day_ends_late_not_early(lon: float, lat: float, day: date) -> None:
    """The light ends after the day, at the heights of the sun that the almanacs define."""
    got = sun_day(lon, lat, day, zone_at(lon, lat))
    assert got.sunrise is not None and got.sunset is not None
    assert got.sunrise.date() == day
    assert 18 * 3600 < got.daylight_s < 24 * 3600
    assert got.dusk is None or got.dusk > got.sunset
    assert got.dawn is None or got.dawn < got.sunrise
    for moment, height_deg in ((got.sunset, -0.833), (got.dusk, -6.0), (got.dawn, -6.0)):
        if moment is not None:
            up, _ = sun_position_deg(
                np.array([moment.timestamp()]), np.array([lon]), np.array([lat])
            )
            assert up[0] == pytest.approx(height_deg, abs=0.15)


def test_a_line_across_the_date_line_has_the_same_sun() -> None:
    zone = zone_at(-175.2, -21.1)
    assert sun_day(184.8, -21.1, date(2026, 1, 3), zone) == sun_day(
        -175.2, -21.1, date(2026, 1, 3), zone
    )


def test_time_zones() -> None:
    assert zone_at(*ANDORRA).key == "Europe/Andorra"
    assert zone_at(*KATHMANDU).key == "Asia/Kathmandu"
    assert zone_at(361.5, 42.5).key == "Europe/Andorra"  # a line that crossed the date line


def test_extraterrestrial_radiation() -> None:
    """FAO-56, examples 8 and 9: 3 September at 20 S, 32.2 MJ/m2 and 11.7 h of daylight."""
    day, lat = np.array([246.0]), np.array([-20.0])
    assert extraterrestrial_mj_m2(lat, day)[0] == pytest.approx(32.2, abs=0.1)
    assert daylight_h(lat, day)[0] == pytest.approx(11.7, abs=0.05)


def test_polar_radiation_is_none_in_winter() -> None:
    assert extraterrestrial_mj_m2(np.array([75.0]), np.array([355.0]))[0] == pytest.approx(
        0, abs=1e-6
    )
    assert daylight_h(np.array([75.0]), np.array([172.0]))[0] == pytest.approx(24.0)


def test_clear_sky_and_its_beam() -> None:
    """Haurwitz: overhead 1098 exp(-0.057) = 1037 W/m2; nothing below the horizon."""
    height = np.array([90.0, 30.0, 0.0, -20.0])
    sky = clear_sky_w_m2(height, np.zeros(4))
    assert sky[0] == pytest.approx(1037, abs=1)
    assert sky[1] == pytest.approx(1098 * 0.5 * np.exp(-0.057 / 0.5), abs=1)
    assert sky[2] == sky[3] == 0
    assert clear_sky_w_m2(height[:1], np.array([3000.0]))[0] > sky[0] * 1.05
    share = direct_share(sky, height)
    assert np.all((share >= 0) & (share <= 0.9))
    assert share[0] > 0.8 and share[3] == 0


@pytest.mark.parametrize(
    ("clearness", "share"), [(0.25, 0.0196), (0.5, 0.3791), (0.75, 0.8146), (0.84, 0.9)]
)
def test_direct_share_is_the_published_curve(clearness: float, share: float) -> None:
    """exp(3 - 1.34 S - 1.65 / S), at most 0.9, worked by hand for S of 1367 W/m2 sin h."""
    sky = np.array([clearness * 1367.0 * np.sin(np.radians(40.0))])
    assert direct_share(sky, np.array([40.0]))[0] == pytest.approx(share, abs=2e-4)


def test_solar_noon() -> None:
    """At 15 E the sun is 14.2 min late on 11 February and 16.4 min early on 3 November, the
    extremes of the equation of time (almanacs)."""
    for moment, minutes in (
        (datetime(2026, 2, 11, 11, tzinfo=UTC), -14.2),
        (datetime(2026, 11, 3, 11, tzinfo=UTC), 16.4),
    ):
        got = solar_hour(np.array([moment.timestamp()]), np.array([15.0]))[0]
        assert (got - 12.0) * 60 == pytest.approx(minutes, abs=0.8)


def test_campbell_norman_example() -> None:
    """Minimum 10, maximum 30, at 11 h: 25.09 (R package NicheMapR pages)."""
    got = campbell_norman_c(np.array([11.0]), np.array([10.0]), np.array([30.0]))
    assert got[0] == pytest.approx(25.09, abs=0.01)


def test_parton_logan_shape() -> None:
    """Parton & Logan 1981: minimum 0.17 h before sunrise, peak a + c = 1.69 h after noon, falling
    all night."""
    hour = np.arange(0, 24, 0.01)
    curve = parton_logan_c(hour, np.full(2400, 12.0), np.full(2400, 28.0), np.full(2400, 12.0))
    assert curve.max() == pytest.approx(28.0, abs=0.01)
    assert hour[curve.argmax()] == pytest.approx(13.69, abs=0.02)
    assert 5.8 <= hour[curve.argmin()] <= 5.9
    assert curve.min() == pytest.approx(12.0, abs=0.05)
    night = curve[(hour > 18.1) | (hour < 5.7)]
    assert np.all(np.diff(curve[hour > 18.1]) < 0) and len(night) > 1000
    # No jump at sunset or dawn.
    assert np.abs(np.diff(curve)).max() < 0.06


def test_two_models_of_the_day_agree() -> None:
    """Campbell & Norman fix the peak near 15 h for any season; at the equinox the two curves
    lie within 3 K of each other for a range of 16 K by day."""
    hour = np.arange(7.0, 18.0, 0.5)
    n = len(hour)
    low, high = np.full(n, 12.0), np.full(n, 28.0)
    ours = parton_logan_c(hour, low, high, np.full(n, 12.0))
    assert np.abs(ours - campbell_norman_c(hour, low, high)).max() < 3.2


def test_polar_days_have_a_curve() -> None:
    hour = np.arange(0, 24, 0.5)
    n = len(hour)
    for light in (0.0, 24.0):
        curve = daily_curve_c(hour, np.full(n, -2.0), np.full(n, 6.0), np.full(n, light))
        assert np.isfinite(curve).all()
        assert curve.max() <= 6.3 and curve.min() >= -2.3
