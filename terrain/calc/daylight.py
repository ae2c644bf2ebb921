"""Local time and the light of a day, over astral and tzfpy."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from terrain.calc.sun import sun_position_deg
from terrain.values.clock import ClockChange, SunDay, SunKind
from terrain.values.zones import ZoneGrid

# Sunrise: 34 minutes of refraction and 16 of the half sun; civil twilight: 6 degrees, both by
# definition (almanacs, from memory).
_RIM_DEG = -0.833  # sun's upper edge on the horizon, with refraction
_TWILIGHT_DEG = 6.0
_LOOK_AHEAD_H = 36  # no day of a ride lasts longer


def zone_at(lon: float, lat: float, zones: ZoneGrid | None = None) -> ZoneInfo:
    """The time zone of a place; UTC if none is known of it.

    zones : those of the region; the map of the world is opened where they do not tell
    """
    name = None if zones is None else zones.name_at(lon, lat)
    if name is None:
        from tzfpy import get_tz

        name = get_tz(math.remainder(lon, 360.0), lat)
    return _zone_named(name or "UTC")


@cache
def _zone_named(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


def clock_changes(first: date, n_days: int, zone: ZoneInfo) -> tuple[ClockChange, ...]:
    """When the clock is moved on each day or in the night after it, to a quarter of an hour."""
    found = []
    for n in range(n_days):
        midnight = datetime.combine(first + timedelta(n), time(), zone)
        before = midnight.utcoffset() or timedelta()
        for quarter in range(1, 4 * _LOOK_AHEAD_H):
            moment = datetime.fromtimestamp(midnight.timestamp() + 900.0 * quarter, zone)
            by = (moment.utcoffset() or timedelta()) - before
            if by:
                found.append(ClockChange(day=n, at_s=900.0 * quarter, by_s=by.total_seconds()))
                break
    return tuple(found)


def sun_day(lon: float, lat: float, day: date, zone: ZoneInfo) -> SunDay:
    """Dawn, sunrise, sunset and dusk of one local day, in this order.

    The sunrise is the one of that date. Where the sun sets late, sunset and dusk come after
    midnight and so bear the next date, or dawn the one before.
    Within 36 s of the NREL solar position algorithm (astral, six places over twelve months).
    """
    from astral import Observer, SunDirection
    from astral.sun import time_at_elevation

    lon = math.remainder(lon, 360.0)  # lines across the date line go beyond 180
    # At the very pole astral divides by zero.
    observer = Observer(latitude=min(max(lat, -89.8), 89.8), longitude=lon)

    def at(height_deg: float, direction: SunDirection) -> datetime | None:
        try:
            moment = time_at_elevation(
                observer, height_deg, day, direction, tzinfo=zone, with_refraction=False
            )
        except ValueError:
            return None
        # Far from the zone's own meridian astral may give the neighbouring day's event.
        while moment.date() < day:
            moment += timedelta(days=1)
        while moment.date() > day:
            moment -= timedelta(days=1)
        return moment

    sunrise, sunset = at(_RIM_DEG, SunDirection.RISING), at(_RIM_DEG, SunDirection.SETTING)
    kind = SunKind.USUAL
    if sunrise is None or sunset is None:
        sunrise = sunset = None
        kind = _polar_kind(lon, lat, day)
    dawn, dusk = at(-_TWILIGHT_DEG, SunDirection.RISING), at(-_TWILIGHT_DEG, SunDirection.SETTING)
    sunset = _not_before(sunset, sunrise)
    return SunDay(
        day=day,
        zone=zone.key,
        kind=kind,
        dawn=_not_after(dawn, sunrise),
        sunrise=sunrise,
        sunset=sunset,
        dusk=_not_before(dusk, sunset),
    )


def _not_before(moment: datetime | None, other: datetime | None) -> datetime | None:
    if moment is None or other is None or moment >= other:
        return moment
    return moment + timedelta(days=1)


def _not_after(moment: datetime | None, other: datetime | None) -> datetime | None:
    if moment is None or other is None or moment <= other:
        return moment
    return moment - timedelta(days=1)


def _polar_kind(lon: float, lat: float, day: date) -> SunKind:
    # Noon and midnight together tell summer from winter: on a winter day whose sun just grazes the
    # horizon noon alone would make it one on which the sun does not set.
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC) - timedelta(hours=lon / 15.0)
    twice = np.array([noon.timestamp(), noon.timestamp() + 43_200.0])
    height, _ = sun_position_deg(twice, np.full(2, lon), np.full(2, lat))
    return SunKind.POLAR_DAY if height.sum() > 0 else SunKind.POLAR_NIGHT
