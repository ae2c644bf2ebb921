"""What the month's rain and snow may do to each piece of a ride."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.stages.ways import tags
from terrain.stages.ways.shape import SERVICE, STREETS, TERTIARY, UNCLASSIFIED, rank_of
from terrain.tables.climate.sites import rain_mm_by_month, temp_c_by_month
from terrain.tables.ground import Wet
from terrain.tables.ground_season import SEASON, SeasonRules
from terrain.text.catalogue import N_
from terrain.text.message import join_messages, message, term
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import SeasonCause, SeasonRisk
from terrain.values.views import Category, WayFlag, WayTable

_UNKNOWN = -1
_RISKS = tuple(SeasonRisk)
_CAUSES = tuple(SeasonCause)
# Streets that people live on are got through in the rains; they are not shut for days.
_STREET_MOST = _RISKS.index(SeasonRisk.DOUBTFUL)  # common practice, no source
_SEASONAL = WayFlag.WINTER_ROAD | WayFlag.ICE_ROAD


class Season(NamedTuple):
    """Season risk of each piece and what it comes of, None where nothing can be said; (k,)."""

    risks: tuple[SeasonRisk | None, ...]
    causes: tuple[SeasonCause | None, ...]


def season_of(
    ways: WayTable,
    way: IntArray,
    p: FloatArray,
    rain_mm: FloatArray | None,
    rules: SeasonRules = SEASON,
    snow: BoolArray | None = None,
    mean_c: FloatArray | None = None,
) -> Season:
    """Season risk of each piece. Rain softens, snow shuts, drought does neither.

    rain_mm : mean rain of the month of the ride at each piece [mm], NaN not known; None if the
        month is not known
    snow : where snow may lie, see `snow_may_close`; whatever the ground there
    mean_c : mean of the month [C] at each piece, NaN or None not known
    Hard ground is `none` whatever the month; roads made for frost are `confirm-first`: only
    somebody local knows if it carries, and snow shuts none of them.
    """
    risk, cause = season_codes(ways, way, p, rain_mm, rules, snow, mean_c)
    return Season(
        tuple(None if c == _UNKNOWN else _RISKS[c] for c in risk.tolist()),
        tuple(None if why == _UNKNOWN else _CAUSES[why] for why in cause.tolist()),
    )


def season_codes(
    ways: WayTable,
    way: IntArray,
    p: FloatArray,
    rain_mm: FloatArray | None,
    rules: SeasonRules = SEASON,
    snow: BoolArray | None = None,
    mean_c: FloatArray | None = None,
) -> tuple[IntArray, IntArray]:
    """`season_of` as places in SeasonRisk and SeasonCause, -1 where nothing can be said; (k,)."""
    known = ~np.isnan(p[:, 0])
    row = np.where(known, way, 0)
    soft = softness_of(ways, row, np.where(known[:, None], p, 1 / 3), rules)
    rain = np.full(len(soft), np.nan) if rain_mm is None else rain_mm
    frozen = np.zeros(len(soft), bool) if mean_c is None else mean_c <= rules.frost_c
    wet, heavy = rain >= rules.wet_mm, rain > rules.heavy_mm
    steps = wet.astype(np.int64) + heavy  # 0 no wet month, 1 wet, 2 heavy
    is_soft, partly = soft >= rules.soft, soft >= rules.partly
    code = np.where(is_soft, 1 + steps, np.where(partly, steps, 0))
    code = np.where(rain < rules.dry_mm, 0, code)
    code = np.where(
        np.isin(rank_of(ways.highway, row), STREETS), np.minimum(code, _STREET_MOST), code
    )
    cause = np.where(code > 0, _CAUSES.index(SeasonCause.RAIN), _UNKNOWN)
    code = np.where(np.isnan(rain) & partly, _UNKNOWN, code)
    thaw = frozen & is_soft
    code = np.where(frozen, np.where(thaw, _RISKS.index(SeasonRisk.DAMP), 0), code)
    cause = np.where(frozen, np.where(thaw, _CAUSES.index(SeasonCause.THAW), _UNKNOWN), cause)
    flags = ways.flags[row]
    tagged, made_for_frost = (flags & WayFlag.SEASONAL) != 0, (flags & _SEASONAL) != 0
    warm = np.zeros(len(soft), bool) if mean_c is None else mean_c >= rules.summer_c
    winter, summer = (_lookup(ways.seasonal, {v: 1.0}, row) == 1.0 for v in ("winter", "summer"))
    for where, least, why in (
        (tagged & ~(winter & frozen | summer & warm), SeasonRisk.DOUBTFUL, SeasonCause.TAGGED),
        (winter & warm | summer & frozen, SeasonRisk.CONFIRM_FIRST, SeasonCause.TAGGED),
        (made_for_frost, SeasonRisk.CONFIRM_FIRST, SeasonCause.FROST),
        (
            None if snow is None else snow & ~made_for_frost & ~winter,
            SeasonRisk.CONFIRM_FIRST, SeasonCause.SNOW,
        ),
    ):  # fmt: skip
        if where is not None:
            # The gravest wins; of two alike snow, which lies over whatever rain has softened.
            over = where & (code <= _RISKS.index(least))
            code = np.where(over, _RISKS.index(least), code)
            cause = np.where(over, _CAUSES.index(why), cause)
    code = np.where(known, code, _UNKNOWN)
    return code, np.where(code > 0, cause, _UNKNOWN)


def softness_of(
    ways: WayTable, row: IntArray, p: FloatArray, rules: SeasonRules = SEASON
) -> FloatArray:
    """How much of each way softens in rain, 0..1, shape (k,). A ford counts as soft."""
    by_wet = {Wet.HARD: rules.by_hard, Wet.FIRM: rules.by_firm, Wet.SOFT: rules.by_soft}
    surface = _lookup(
        ways.surface,
        {v: by_wet.get(r.wet, np.nan) for v, r in tags.SURFACE_BY_VALUE.items()},
        row,
    )
    grades = dict(zip(tags.TRACKTYPE_BY_VALUE, rules.by_grade, strict=True))
    grade = _lookup(ways.tracktype, grades, row)
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

    temp_c : mean of each month at each piece's height, or at the sea's where that is not known
        [C], shape (k, 12); ele_m : the road's own height, NaN not known
    """
    now, before = temp_c[:, month - 1], temp_c[:, month - 2]
    lies = (now <= rules.snow_c) | ((before <= rules.snow_c) & (now <= rules.thaw_c))
    rank = rank_of(ways.highway, way)
    kept = (rank <= TERTIARY) | ((rank > UNCLASSIFIED) & (rank <= SERVICE))
    ploughed = kept & ~(ele_m >= rules.ploughed_below_m)
    return np.asarray(lies & ~ploughed)


def means_for_snow(lon: FloatArray, lat: FloatArray, ele_m: FloatArray) -> FloatArray:
    """Mean of each month [C], shape (k, 12), at the road's own height, else at the sea's."""
    return temp_c_by_month(lon, lat, np.nan_to_num(ele_m, nan=0.0))


def season_words(
    risk: SeasonRisk | None,
    rain_mm: float | None,
    month: int | None,
    mean_c: float | None = None,
    cause: SeasonCause | None = SeasonCause.RAIN,
    *,
    by_days: bool = False,
) -> str:
    """One sentence; empty where there is nothing to say. Never "is", always "may be".

    mean_c : mean of the month [C], None where not known
    by_days : whether rain_mm is the wetness of the days before, by a forecast
    """
    if risk is None or risk is SeasonRisk.NONE:
        return ""
    if cause is SeasonCause.RAIN or cause is None:
        told = term(_SAID[risk])
        if rain_mm is None or np.isnan(rain_mm) or not month:
            return told
        # To 5 mm: a monthly mean is not known better.
        if by_days:
            days = message(
                "By the forecast it is as wet as in a month of {rain_mm} of rain.",
                rain_mm=float(5 * round(rain_mm / 5)),
            )
            return join_messages((told, days))
        rain = message(
            "About {rain_mm} of rain falls in {in_month}.",
            rain_mm=float(5 * round(rain_mm / 5)),
            in_month=month,
        )
        return join_messages((told, rain))
    told = term(_CAUSED[cause])
    if cause not in (SeasonCause.SNOW, SeasonCause.THAW) or mean_c is None or not month:
        return told
    mean = message(
        "The mean of {in_month} there is about {mean_c}.",
        in_month=month,
        mean_c=float(round(mean_c)),
    )
    return join_messages((told, mean))


_SAID = {
    SeasonRisk.DAMP: N_("May be soft or slippery after rain."),
    SeasonRisk.DOUBTFUL: N_("May be impassable after rain."),
    SeasonRisk.CONFIRM_FIRST: N_(
        "May be impassable for days after rain; take it as shut until somebody local says it is "
        "open."
    ),
}
_CAUSED = {
    SeasonCause.SNOW: N_(
        "May be closed by snow; take it as shut until somebody local says it is open."
    ),
    SeasonCause.THAW: N_("May be frozen, soft or slippery by turns, as frost and thaw change."),
    SeasonCause.FROST: N_(
        "Made for frost: may not be there without it; take it as shut until somebody local says "
        "it is open."
    ),
    SeasonCause.TAGGED: N_("Tagged as open at some season only: may be shut at this one."),
}


def _lookup(column: Category, table: dict[str, float], rows: IntArray) -> FloatArray:
    """What the table has for some ways, NaN for none; of several values in one tag their mean."""
    values = [
        [
            x
            for word in value.split(";")
            if not np.isnan(x := table.get(tags.first_word(word), np.nan))
        ]
        for value in column.values
    ]
    means = [sum(known) / len(known) if known else np.nan for known in values]
    return np.asarray([*means, np.nan], dtype=np.float64)[column.codes[rows]]


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
        return season_of(ways, way, p, None).risks
    rain = rain_mm_by_month(place.lon, place.lat)[:, month - 1]
    n = len(way)
    temp_c = np.repeat(means_for_snow(place.lon, place.lat, place.ele_m), n, axis=0)
    snow = snow_may_close(ways, way, temp_c, np.repeat(place.ele_m, n), month)
    mean_c = temp_c[:, month - 1]
    return season_of(ways, way, p, np.repeat(rain, n), snow=snow, mean_c=mean_c).risks
