"""Heat, cold and height along a ride, for rider and engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from terrain.calc.daylight import sun_day
from terrain.stages.heat.air import (
    ClimateAlong,
    air_along,
    climate_along,
    coldest_along,
    forecast_told,
    still_airs_along,
)
from terrain.stages.heat.engine import (
    Steps,
    clutch_runs,
    fan_seconds,
    grades_known,
    judge_engine,
    ride_steps,
)
from terrain.stages.heat.passage import Passage, departure, passage_of
from terrain.stages.heat.rider import judge_rider, rider_cautions
from terrain.stages.heat.words import Unknown, heat_words
from terrain.tables.climate import ATTRIBUTION
from terrain.text.message import message
from terrain.values.climate import ClimateGrid
from terrain.values.clock import SHARE_OF_STOPS, RideClock
from terrain.values.fleet import BikeClass, Cooling, Fleet
from terrain.values.forecast import Forecast
from terrain.values.heat import AirAlong, Heat, MonthHeat, StretchAir
from terrain.values.places import RideNode
from terrain.values.relief import Relief
from terrain.values.ride import Ride
from terrain.values.trip import Trip
from terrain.values.views import PlacesView

# Common practice, no source.
_MORNING_H = 7.0  # earliest departure assumed where none is known
_HOTTEST_H = 15.0  # clock time near the day's maximum
_ANY_YEAR = 2025  # the sun of the year's middle days hardly changes from year to year
_MONTH_STEP_M = 250.0
_MONTH_SAMPLES = 150
_ASK_DATE = message(
    "When do you set off? With date and hour, heat and daylight are judged for that day."
)
# Hot days lie 3 to 6 K and more above the mean: common practice, no source.
_NOT_WEATHER = message(
    "These are means of many years at the hour you pass, under a clear sky: no forecast. A hot "
    "day can be several degrees warmer."
)
_WEATHER = message(
    "This is the forecast at the hour you pass, with the sun of a clear sky; a forecast may fail."
)


def judge_heat(
    ride: Ride,
    relief: Relief,
    clock: RideClock,
    *,
    trip: Trip,
    fleet: Fleet,
    own: ClimateGrid | None = None,
    places: PlacesView | None = None,
    nodes: Sequence[RideNode] = (),
    forecast: Forecast | None = None,
) -> Heat:
    """Heat, cold and height along a ride, for rider and engine.

    places : of the region; nodes : on the ride: where one stands with the engine running
    own : the operator's monthly climate grids
    forecast : takes the place of the month's mean for the days it tells
    """
    inputs = passage_of(ride, relief, clock, places, nodes)
    return heat_along(inputs, trip=trip, fleet=fleet, own=own, forecast=forecast)


def heat_along(
    inputs: Passage,
    *,
    trip: Trip,
    fleet: Fleet,
    own: ClimateGrid | None = None,
    forecast: Forecast | None = None,
) -> Heat:
    """The ride's heat on its day, or month by month where no day is known.

    own, forecast : as in judge_heat
    """
    climate = climate_along(inputs, own)
    zone = inputs.zone
    knows = grades_known(inputs)
    bikes = fleet.classes
    coarse = replace(climate, at_m=np.linspace(0.0, inputs.length_m, _MONTH_SAMPLES))
    months = _months(inputs, coarse, trip, bikes)
    if trip.depart is None:
        cautions = rider_cautions(None, inputs)
        return Heat(
            basis=_basis(inputs, climate, None),
            air=None,
            rider=None,
            stretches=None,
            engines=(),
            clutch=clutch_runs(ride_steps(inputs)) if knows else (),
            months=months,
            sun=None,
            cautions=cautions,
            asks=(_ASK_DATE,),
            words=heat_words(None, (), months, unknown=_unknown(inputs)),
        )
    start = _first_start(inputs, trip.depart)
    air = air_along(inputs, climate, start, forecast)
    told_share, rain_mm = forecast_told(inputs, air, forecast)
    rider = judge_rider(inputs, air, zone, used_to_heat=climate.used_to_heat(start.month))
    steps = ride_steps(inputs)
    engines = tuple(judge_engine(bike, steps, air, trip) for bike in bikes)
    return Heat(
        basis=_basis(inputs, climate, start, told_share),
        air=air,
        rider=rider,
        stretches=_stretches(inputs, air),
        engines=engines,
        clutch=clutch_runs(steps) if knows else (),
        months=months,
        sun=sun_day(float(inputs.lon[0]), float(inputs.lat[0]), start.date(), zone),
        cautions=rider_cautions(air, inputs),
        asks=(),
        words=heat_words(rider, engines, months, unknown=_unknown(inputs)),
        forecast_share=told_share,
        rain_mm=rain_mm,
    )


def _unknown(inputs: Passage) -> Unknown | None:
    """What the ride lacks to judge engines."""
    if grades_known(inputs):
        return None
    return Unknown.GRADES if inputs.height_known_share >= 0.5 else Unknown.HEIGHTS


def _first_start(inputs: Passage, depart: datetime) -> datetime:
    """Setting off on the first day by the clock of the days; a named zone wins over it."""
    local = departure(depart, inputs.zone)
    if depart.tzinfo is not None:
        return local
    midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight + timedelta(seconds=float(inputs.clock.start_s[0]))


def _stretches(inputs: Passage, air: AirAlong) -> StretchAir:
    middle = (inputs.from_m + inputs.to_m) / 2.0

    def at(values: np.ndarray) -> np.ndarray:
        return np.asarray(np.interp(middle, air.at_m, values), dtype=np.float64)

    return StretchAir(
        from_m=inputs.from_m,
        to_m=inputs.to_m,
        unix_s=at(air.unix_s),
        temp_c=at(air.temp_c),
        heat_index_c=at(air.heat_index_c),
        wbgt_c=at(air.wbgt_still_c),
    )


def _months(
    inputs: Passage, climate: ClimateAlong, trip: Trip, bikes: Sequence[BikeClass]
) -> tuple[MonthHeat, ...]:
    """The ride in the middle of each month: at the hour of departure, or where none is known in
    the heat of the day, with its coldest from the cold of the day."""
    off_s = float(inputs.clock.start_s[0])
    if trip.depart is None:
        off_s = 3600.0 * _hottest_start_h(inputs)
    starts = [
        datetime(_ANY_YEAR, month, 15, tzinfo=inputs.zone) + timedelta(seconds=off_s)
        for month in range(1, 13)
    ]
    fanned = [bike for bike in bikes if bike.cooling is Cooling.LIQUID]
    steps = ride_steps(inputs, _MONTH_STEP_M) if fanned else None
    return tuple(
        _month(month, inputs, climate, trip, air, (fanned, steps))
        for month, air in enumerate(still_airs_along(inputs, climate, starts), start=1)
    )


def _month(
    month: int,
    inputs: Passage,
    climate: ClimateAlong,
    trip: Trip,
    air: AirAlong,
    engines: tuple[Sequence[BikeClass], Steps | None],
) -> MonthHeat:
    fanned, steps = engines
    middle = datetime(_ANY_YEAR, month, 15, tzinfo=inputs.zone)
    cold, chill = float(air.temp_c.min()), float(air.wind_chill_c.min())
    if trip.depart is None:
        cold, chill = coldest_along(inputs, climate, float(middle.timetuple().tm_yday))
    hot = int(np.argmax(air.temp_c))
    return MonthHeat(
        month=month,
        max_air_temp_c=float(air.temp_c[hot]),
        max_air_temp_low_c=float(air.low_c[hot]),
        max_air_temp_high_c=float(air.high_c[hot]),
        min_air_temp_c=cold,
        max_heat_index_c=float(air.heat_index_c.max()),
        max_wbgt_c=float(np.nanmax(air.wbgt_still_c)),
        min_wind_chill_c=chill,
        rain_mm=climate.rain_mm(month),
        daylight_s=sun_day(
            float(inputs.lon[0]), float(inputs.lat[0]), middle.date(), inputs.zone
        ).daylight_s,
        fan_s=None
        if steps is None
        else max(fan_seconds(bike, steps, air, trip) for bike in fanned),
    )


def _hottest_start_h(inputs: Passage) -> float:
    """Departure that has the middle of the ride, or of its first day, in the heat of the day."""
    day_h = float(inputs.clock.day_riding_s[0]) * (1.0 + SHARE_OF_STOPS) / 3600.0
    return max(_HOTTEST_H - day_h / 2.0, _MORNING_H)


def _basis(
    inputs: Passage, climate: ClimateAlong, start: datetime | None, told_share: float = 0.0
) -> dict[str, Any]:
    return {
        "climate": climate.basis,
        "source": ATTRIBUTION,
        "depart": None if start is None else start.isoformat(timespec="minutes"),
        "zone": inputs.zone.key,
        "stops_share": 1.0 + SHARE_OF_STOPS,
        "heights_known": inputs.height_known_share,
        "grades_known": inputs.grade_known_share,
        "text": _WEATHER if told_share > 0.995 else _NOT_WEATHER,
    }
