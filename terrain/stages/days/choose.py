"""The days of a ride: where they end, and the clock that everything else goes by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from terrain.calc.daylight import clock_changes, zone_at
from terrain.stages.days.daylight import DAYS_AHEAD, daylight_of, polar_sun
from terrain.stages.days.fuel import FuelGap, pump_gap
from terrain.stages.days.groups import bed_near
from terrain.stages.days.near import LODGING, NearbyPlaces, places_near
from terrain.stages.days.nights import DEFAULT_START_S, DayStarts, Night, plan_nights
from terrain.stages.days.pins import pinned_nights
from terrain.text.catalogue import N_
from terrain.text.message import Message, message
from terrain.values.clock import LUNCH_S, SHARE_OF_STOPS, RideClock
from terrain.values.fleet import FleetRules
from terrain.values.help import Helper, HelpFields
from terrain.values.plan import Daylight, Pins, PlanProblem
from terrain.values.ride import Ride
from terrain.values.trip import Trip
from terrain.values.views import PlacesView, RoadsView

# The least rest of a driver between two days: Regulation (EC) 561/2006, article 4 (g), from memory.
REST_S = 9 * 3600.0
# Common practice, no source.
_SHORT = 0.5  # a day of less than this share of a full one is worth a word
_THEN_A_BED = N_(
    "Day {n_day} is short, {riding_s} of riding: the next lodging on the map is at {next_at_m}, "
    "{longer_s} of riding that day; a day takes {most_s} at most and ends an hour before dark."
)
_NO_MORE_BEDS = N_(
    "Day {n_day} is short, {riding_s} of riding: from there on no lodging is on the map, and the "
    "end, at {next_at_m}, is {longer_s} of riding that day; a day takes {most_s} at most and ends "
    "an hour before dark."
)


class RideDays(NamedTuple):
    """Nights and the clock that follows. sun : setting off and light by day; near : places near
    the ride; problems : nights the guide asks for that cannot be had; words : why a day is short;
    fuel : the longest way between pumps
    """

    clock: RideClock
    nights: tuple[Night, ...]
    sun: DayStarts
    near: NearbyPlaces
    problems: tuple[PlanProblem, ...]
    words: tuple[str, ...]
    fuel: FuelGap


def choose_days(
    ride: Ride,
    roads: RoadsView,
    places: PlacesView,
    fields: HelpFields,
    *,
    rules: FleetRules,
    trip: Trip,
    helpers: Sequence[Helper] = (),
    daylight: Sequence[Daylight] | None = None,
    pins: Pins | None = None,
    zone: ZoneInfo | None = None,
) -> RideDays:
    """The days by riding time, daylight, lodging in reach and what the guide asks for.

    daylight : of each day from the first, the last stands for later days; by the date if None
    zone : time zone of the start; looked up on the map of the world if None
    Chosen by a shortest path over lodgings: fewest days first, then even ones near good beds.
    """
    pins = pins or Pins()
    zone = zone or zone_at(*ride.lonlat(0.0))
    near = places_near(ride, roads, places, fields, helpers)
    sun = _sun(trip, pins, daylight_of(trip, ride, zone) if daylight is None else tuple(daylight))
    if trip.depart is not None:
        sun = sun._replace(changes=clock_changes(trip.depart.date(), DAYS_AHEAD, zone))
    asked, problems = pinned_nights(pins, ride)
    nights = plan_nights(ride, near, sun, rules, asked)
    if nights:
        # Who sets off in the evening may arrive towards morning.
        first_s = float(ride.time_s(np.array([nights[0].at_m]))[0]) * (1.0 + SHARE_OF_STOPS)
        rested_s = sun.first_start_s + first_s + REST_S - 86_400.0
        sun = sun._replace(rested_s=float(np.ceil(rested_s / 900.0) * 900.0))
    clock = RideClock(
        knot_m=ride.knot_m,
        knot_s=ride.knot_s,
        night_m=np.array([night.at_m for night in nights]),
        start_s=np.array([sun.sets_off_s(day) for day in range(len(nights) + 1)]),
        back_s=np.array([0.0, *(_back_s(night, near) for night in nights)]),
        zone=zone,
        changes=sun.changes,
    )
    dark, bright = polar_sun(trip, ride, clock.n_days, zone)
    return RideDays(
        clock=clock, nights=nights, sun=sun, near=near,
        problems=tuple(problems if dark is None else [dark, *problems]),
        words=(*(() if bright is None else (bright,)),
               *_short_days(clock, nights, sun, near, rules)),
        fuel=pump_gap(ride, near, nights),
    )  # fmt: skip


def _back_s(night: Night, near: NearbyPlaces) -> float:
    """From the bed of a night back to the ride [s]."""
    row = night.near if night.near >= 0 else bed_near(near, night.at_m)
    return float(near.off_s[row]) if row >= 0 else 0.0


def _sun(trip: Trip, pins: Pins, daylight: tuple[Daylight, ...]) -> DayStarts:
    first = later = DEFAULT_START_S
    if trip.depart is not None:
        time = trip.depart.time()
        first = time.hour * 3600.0 + time.minute * 60.0 + time.second
        # Who sets off late on the first day came that day: the days that follow begin in the
        # morning. Who sets off early does so each day (common practice, no source).
        later = min(first, DEFAULT_START_S)
    if pins.start_s is not None:
        first = later = pins.start_s
    return DayStarts(start_s=later, first_start_s=first, daylight=daylight)


def _short_days(
    clock: RideClock, nights: Sequence[Night], sun: DayStarts, near: NearbyPlaces, rules: FleetRules
) -> tuple[str, ...]:
    """Days that lodging makes short: to ride on to the next bed would break a limit."""
    beds = near.at_m[(near.bits & LODGING) != 0]
    said: list[Message] = []
    for day, night in enumerate(nights):
        riding_s = float(clock.day_riding_s[day])
        if night.pin >= 0 or riding_s >= _SHORT * rules.ride_day_s:
            continue
        further = beds[beds > night.at_m + 1.0]
        goal_m = float(further[0]) if len(further) else float(clock.ends_m[-1])
        begin_s = clock.riding_s(clock.begins_m[day : day + 1])[0]
        longer_s = float(clock.riding_s(np.array([goal_m]))[0] - begin_s)
        late = sun.sets_off_s(day) + longer_s * (1.0 + SHARE_OF_STOPS) > sun.latest_s(day)
        if longer_s <= rules.ride_day_s and not late:
            continue
        text = _THEN_A_BED if len(further) else _NO_MORE_BEDS
        said.append(
            message(
                text,
                n_day=day + 1,
                riding_s=riding_s,
                next_at_m=goal_m,
                longer_s=longer_s,
                most_s=rules.ride_day_s,
            )
        )
        rests_s = longer_s * SHARE_OF_STOPS + LUNCH_S / 2
        by_s = sun.latest_s(day) - longer_s - rests_s
        light = sun.sun(day)
        if day == 0 and longer_s <= rules.ride_day_s and light and by_s >= light.sunrise_s:
            quarters = int(by_s // 900.0)
            hour = f"{quarters // 4:02d}:{quarters % 4 * 15:02d}"
            said.append(message("Set off by {hour} to be there the same day.", hour=hour))
    return tuple(said)
