"""What rain and snow of each month do to a ride whose ground is judged already."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.stages.ground.season import means_for_snow, season_codes, snow_may_close
from terrain.tables.climate.sites import rain_mm_by_month
from terrain.values.arrays import FloatArray
from terrain.values.ground import SeasonRisk
from terrain.values.relief import Relief
from terrain.values.ride import Ride
from terrain.values.views import RoadsView


class MonthGround(NamedTuple):
    """Lengths to take as shut, that may be impassable after rain, shut by snow, not known [m]."""

    shut_m: float
    soft_m: float
    snow_m: float
    unknown_m: float


def ground_by_month(ride: Ride, roads: RoadsView, relief: Relief) -> tuple[MonthGround, ...]:
    """The season of the ride's land in each month, January first."""
    stretches = ride.stretches
    way = np.array([s.way for s in stretches], dtype=np.int64)
    length_m = ride.to_m - ride.from_m
    middle_m = (ride.from_m + ride.to_m) / 2.0
    match = ride.match
    lon = np.interp(middle_m, match.at_m, match.lon)
    lat = np.interp(middle_m, match.at_m, match.lat)
    height = relief.ele_at(middle_m)
    rain = rain_mm_by_month(lon, lat)
    temp_c = means_for_snow(lon, lat, height)
    row = np.maximum(way, 0)
    on_land = ~np.isnan(ride.p[:, 0])
    p = np.where((way >= 0)[:, None], ride.p, np.nan)
    found = []
    for month in range(1, 13):
        snow = snow_may_close(roads.ways, row, temp_c, height, month) & (way >= 0)
        risk, _ = season_codes(
            roads.ways, way, p, rain[:, month - 1], snow=snow, mean_c=temp_c[:, month - 1]
        )
        shut, soft = (
            risk == list(SeasonRisk).index(kind)
            for kind in (SeasonRisk.CONFIRM_FIRST, SeasonRisk.DOUBTFUL)
        )
        unknown = (risk < 0) & on_land
        found.append(
            MonthGround(
                shut_m=_sum(length_m, shut), soft_m=_sum(length_m, soft),
                snow_m=_sum(length_m, shut & snow), unknown_m=_sum(length_m, unknown),
            )
        )  # fmt: skip
    return tuple(found)


def _sum(length_m: FloatArray, mask: np.ndarray) -> float:
    return float(length_m[mask].sum())
