"""The ride as a plan sees it: strain, fuel and heat growing along it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from terrain.stages.days.fuel import (
    ride_factors,
    ride_knots,
    rows_at,
    sums_from_start,
)
from terrain.values.advice import Advice
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.fleet import BikeClass, Fleet, FleetRules
from terrain.values.plan import FuelRange
from terrain.values.ride import FERRY, Ride
from terrain.values.trip import Trip

# In protective gear heat builds up slowly at 30 deg C and within about 105 minutes at 35 deg C
# (de Rome et al. 2016, Ergonomics 59(4):504): rest half as soon again, and twice as soon.
HOT_C, HOT_STRAIN = 30.0, 1.5
VERY_HOT_C, VERY_HOT_STRAIN = 35.0, 2.0


class RideSums(NamedTuple):
    """Sums from the start at knots along the ride, shape (k,), and heat of each step (k - 1,).

    strain : load on the rider as a multiple of the most allowed between stops; litres : fuel
    burnt by the class with the shortest range
    """

    at_m: FloatArray
    ride_s: FloatArray
    strain: FloatArray
    litres: FloatArray
    temp_c: FloatArray
    hot: BoolArray

    def strain_at(self, at_m: FloatArray) -> FloatArray:
        return np.asarray(np.interp(at_m, self.at_m, self.strain), dtype=np.float64)

    def litres_at(self, at_m: FloatArray) -> FloatArray:
        return np.asarray(np.interp(at_m, self.at_m, self.litres), dtype=np.float64)

    def is_hot(self, at_m: FloatArray) -> BoolArray:
        if not len(self.hot):
            return np.zeros(np.shape(at_m), dtype=bool)
        step = np.clip(np.searchsorted(self.at_m, at_m, side="right") - 1, 0, len(self.hot) - 1)
        return self.hot[step]


def fuel_ranges(bikes: Sequence[BikeClass], rules: FleetRules) -> tuple[FuelRange, ...]:
    """Range of each class, the shortest first: a group refuels by it (club rules).

    The tank less the reserve, at the worst steady consumption.
    """
    ranges = [
        FuelRange(
            bike=bike.name,
            title=bike.title,
            usable_l=bike.tank_l * (1.0 - rules.range_reserve),
            l_per_km=bike.consumption_l_100km / 100.0,
        )
        for bike in bikes
    ]
    return tuple(sorted(ranges, key=lambda item: item.range_m))


def bikes_for(trip: Trip, fleet: Fleet, advice: Advice) -> tuple[BikeClass, ...]:
    """The class a plan must suit, of those that may go: the one asked for, else the best advised.

    If none may go the plan suits all: whichever is ridden in the end, no tank runs dry.
    """
    may_go = [bike.name for bike in advice.bikes]
    names = [name for name in (trip.wanted_class, *may_go) if name in may_go]
    found = [bike for name in names if (bike := fleet.named(name)) is not None]
    return tuple(found[:1]) or fleet.classes


def course_of(
    ride: Ride,
    rules: FleetRules,
    fuel: FuelRange | None,
    *,
    heat_at_m: FloatArray,
    heat_c: FloatArray,
) -> RideSums:
    """Strain, fuel and heat along a ride.

    heat_at_m, heat_c : air temperature at the hour of passing [deg C] at some positions, NaN
        where not known; empty if nothing is known
    Strain grows at each step by the stricter of the operator's limits of time and of distance;
    heat makes it grow faster. Ferries count as rest and burn nothing.
    """
    at_m = ride_knots(ride)
    middle = (at_m[1:] + at_m[:-1]) / 2
    ride_s = ride.time_s(at_m)
    temp_c = _temperature(middle, heat_at_m, heat_c)
    load = np.where(
        temp_c >= VERY_HOT_C, VERY_HOT_STRAIN, np.where(temp_c >= HOT_C, HOT_STRAIN, 1.0)
    )
    row = rows_at(ride, middle)
    ferry = ride.ground[row] == FERRY
    step = np.maximum(
        np.diff(ride_s) * load / rules.rest_every_s, np.diff(at_m) / rules.rest_every_m
    )
    burnt = np.diff(at_m) / 1000.0 * (fuel.l_per_km if fuel else 0.0) * ride_factors(ride)[row]
    return RideSums(
        at_m=at_m,
        ride_s=ride_s,
        strain=sums_from_start(np.where(ferry, 0.0, step)),
        litres=sums_from_start(np.where(ferry, 0.0, burnt)),
        temp_c=temp_c,
        hot=temp_c >= HOT_C,
    )


def _temperature(at_m: FloatArray, heat_at_m: FloatArray, heat_c: FloatArray) -> FloatArray:
    known = ~np.isnan(heat_c)
    if not known.any():
        return np.full(len(at_m), np.nan)
    return np.asarray(np.interp(at_m, heat_at_m[known], heat_c[known]), dtype=np.float64)
