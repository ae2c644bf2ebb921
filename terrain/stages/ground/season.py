"""What the month's rain and snow may do to each piece of a ride."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.stages.ways import tags
from terrain.stages.ways.shape import SERVICE, TERTIARY, UNCLASSIFIED, rank_of
from terrain.tables.climate.sites import height_or_countrys_m, rain_mm_by_month, temp_c_by_month
from terrain.tables.ground import Wet
from terrain.tables.ground_season import SEASON, SeasonRules
from terrain.text.catalogue import N_
from terrain.text.message import join_messages, message, term
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import SeasonRisk
from terrain.values.views import Category, WayFlag, WayTable

_UNKNOWN = -1
_RISKS = tuple(SeasonRisk)
_SEASONAL = WayFlag.WINTER_ROAD | WayFlag.ICE_ROAD


def season_risks(
    ways: WayTable,
    way: IntArray,
    p: FloatArray,
    rain_mm: FloatArray | None,
    rules: SeasonRules = SEASON,
    snow: BoolArray | None = None,
) -> tuple[SeasonRisk | None, ...]:
    """Season risk of each piece; None where nothing can be said.

    rain_mm : mean rain of the month of the ride at each piece [mm], NaN not known; None if the
        month is not known
    snow : where snow may lie, see `snow_may_close`; whatever the ground there
    Hard ground is `none` whatever the month; roads made for frost are `confirm-first`.
    """
    known = ~np.isnan(p[:, 0])
    row = np.where(known, way, 0)
    soft = softness_of(ways, row, np.where(known[:, None], p, 1 / 3), rules)
    rain = np.full(len(soft), np.nan) if rain_mm is None else rain_mm
    wet, heavy = rain >= rules.wet_mm, rain > rules.heavy_mm
    steps = wet.astype(np.int64) + heavy  # 0 dry, 1 wet, 2 heavy
    code = np.where(soft >= rules.soft, 1 + steps, np.where(soft >= rules.partly, steps, 0))
    code = np.where(np.isnan(rain) & (soft >= rules.partly), _UNKNOWN, code)
    flags = ways.flags[row]
    code = np.where((flags & _SEASONAL) != 0, _RISKS.index(SeasonRisk.CONFIRM_FIRST), code)
    seasonal = (flags & WayFlag.SEASONAL) != 0
    code = np.where(seasonal, np.maximum(code, _RISKS.index(SeasonRisk.DOUBTFUL)), code)
    if snow is not None:
        code = np.where(snow, _RISKS.index(SeasonRisk.CONFIRM_FIRST), code)
    code = np.where(known, code, _UNKNOWN)
    return tuple(None if c == _UNKNOWN else _RISKS[c] for c in code)


def softness_of(
    ways: WayTable, row: IntArray, p: FloatArray, rules: SeasonRules = SEASON
) -> FloatArray:
    """How much of each way softens in rain, 0..1, shape (k,). A ford counts as soft."""
    by_wet = {Wet.HARD: rules.by_hard, Wet.FIRM: rules.by_firm, Wet.SOFT: rules.by_soft}
    surface = _lookup(
        ways.surface,
        {v: by_wet.get(r.wet, np.nan) for v, r in tags.SURFACE_BY_VALUE.items()},
    )[row]
    grades = dict(zip(tags.TRACKTYPE_BY_VALUE, rules.by_grade, strict=True))
    grade = _lookup(ways.tracktype, grades)[row]
    usual = p @ np.asarray(rules.softness)
    soft = np.where(np.isnan(surface), np.where(np.isnan(grade), usual, grade), surface)
    return np.where((ways.flags[row] & WayFlag.FORD) != 0, 1.0, soft)


def snow_may_close(
    ways: WayTable,
    way: IntArray,
    temp_c: FloatArray,
    ele_m: FloatArray,
    month: int,
    rules: SeasonRules = SEASON,
) -> BoolArray:
    """Where snow may close the road in `month` (1..12), shape (k,); False where not known.

    temp_c : mean of each month at each piece's height [C], shape (k, 12); ele_m : that height
    """
    now, before = temp_c[:, month - 1], temp_c[:, month - 2]
    lies = (now <= rules.snow_c) | ((before <= rules.snow_c) & (now <= rules.thaw_c))
    rank = rank_of(ways.highway)[way]
    kept = (rank <= TERTIARY) | ((rank > UNCLASSIFIED) & (rank <= SERVICE))
    return np.asarray(lies & ~(kept & (ele_m < rules.ploughed_below_m)))


def season_words(
    risk: SeasonRisk | None,
    rain_mm: float | None,
    month: int | None,
    snow_c: float | None = None,
) -> str:
    """One sentence; empty where there is nothing to say. Never "is", always "may be".

    snow_c : mean of the month [C] where snow may lie, None where not
    """
    if risk is None or risk is SeasonRisk.NONE:
        return ""
    if snow_c is not None and month:
        return message(
            "May be closed by snow; take it as shut until somebody local says it is open. The "
            "mean of {in_month} there is about {mean_c}.",
            in_month=month,
            mean_c=float(round(snow_c)),
        )
    told = term(_SAID[risk])
    if rain_mm is None or np.isnan(rain_mm) or not month:
        return told
    # To 5 mm: a monthly mean is not known better.
    rain = message(
        "About {rain_mm} of rain falls in {in_month}.",
        rain_mm=float(5 * round(rain_mm / 5)),
        in_month=month,
    )
    return join_messages((told, rain))


_SAID = {
    SeasonRisk.DAMP: N_("May be soft or slippery after rain."),
    SeasonRisk.DOUBTFUL: N_("May be impassable after rain."),
    SeasonRisk.CONFIRM_FIRST: N_(
        "May be impassable for days; take it as shut until somebody local says it is open."
    ),
}


def _lookup(column: Category, table: dict[str, float]) -> FloatArray:
    values = [table.get(tags.first_word(value), np.nan) for value in column.values]
    return np.asarray([*values, np.nan], dtype=np.float64)[column.codes]


class RidePart(NamedTuple):
    """Where a part of the ride lies, shape (1,) each; ele_m NaN where not known."""

    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray


def unridden_risks(
    ways: WayTable, way: IntArray, p: FloatArray, place: RidePart, month: int | None
) -> tuple[SeasonRisk | None, ...]:
    """Season risks of ways nobody rode, at the height of the ridden way between."""
    if month is None:
        return season_risks(ways, way, p, None)
    rain = rain_mm_by_month(place.lon, place.lat)[:, month - 1]
    ele_m = height_or_countrys_m(place.lon, place.lat, place.ele_m)
    temp_c = temp_c_by_month(place.lon, place.lat, ele_m)
    n = len(way)
    snow = snow_may_close(ways, way, np.repeat(temp_c, n, axis=0), np.repeat(ele_m, n), month)
    return season_risks(ways, way, p, np.repeat(rain, n), snow=snow)
