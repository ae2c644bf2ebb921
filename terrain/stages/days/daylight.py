"""The light of the days of a ride."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from terrain.calc.daylight import sun_day
from terrain.text.catalogue import N_
from terrain.text.message import Message, message
from terrain.values.clock import SunKind
from terrain.values.plan import Daylight, PlanProblem, ProblemKind
from terrain.values.ride import Ride
from terrain.values.trip import Trip

# Common practice, no source.
DAYS_AHEAD = 14  # no ride of more days is planned day by day
_NO_SUNRISE = N_(
    "The sun does not rise on {polar_day} where the ride starts: all of it is in the dark or in "
    "twilight. No tracks at night; ride another time of year, or only what may be ridden in the "
    "dark."
)
_NO_SUNSET = N_(
    "The sun does not set on {polar_day} where the ride starts: days end by riding time alone."
)


def daylight_of(trip: Trip, ride: Ride, zone: ZoneInfo) -> tuple[Daylight, ...]:
    """The light of the first days of a trip, at its start; empty without a date.

    Ends before the first day on which the sun does not rise or set, or civil twilight lasts all
    night: that day has no end to keep.
    """
    if trip.depart is None:
        return ()
    lon, lat = ride.lonlat(0.0)
    found = []
    for n in range(DAYS_AHEAD):
        day = trip.depart.date() + timedelta(days=n)
        sun = sun_day(lon, lat, day, zone)
        dusk = sun.dusk or (sun.sunset if sun.dawn else None)
        if sun.sunrise is None or sun.sunset is None or dusk is None:
            break
        found.append(
            Daylight(
                sunrise_s=_since_midnight_s(sun.sunrise, day),
                sunset_s=_since_midnight_s(sun.sunset, day),
                dusk_s=_since_midnight_s(dusk, day),
            )
        )  # fmt: skip
    return tuple(found)


def polar_sun(
    trip: Trip, ride: Ride, n_days: int, zone: ZoneInfo
) -> tuple[PlanProblem | None, Message | None]:
    """A problem if the sun does not rise on a day of the ride, a word if it does not set."""
    if trip.depart is None:
        return None, None
    lon, lat = ride.lonlat(0.0)
    for n in range(max(1, n_days)):
        day = trip.depart.date() + timedelta(days=n)
        kind = sun_day(lon, lat, day, zone).kind
        if kind is SunKind.POLAR_NIGHT:
            text = message(_NO_SUNRISE, polar_day=day.isoformat())
            return PlanProblem(
                kind=ProblemKind.DAYLIGHT, from_m=0.0, to_m=ride.length_m, text=text
            ), None
        if kind is SunKind.POLAR_DAY:
            return None, message(_NO_SUNSET, polar_day=day.isoformat())
    return None, None


def _since_midnight_s(moment: datetime, day: date) -> float:
    # In a northern summer dusk comes after midnight: that is late in the day, not early.
    days = (moment.date() - day).days
    return days * 86_400.0 + moment.hour * 3600.0 + moment.minute * 60.0 + moment.second
