"""The ground along a ride: probabilities per leg, stretches, shares with intervals."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from terrain.stages.ground.cuts import NOTED, Grounds, RidePieces, cut_ride
from terrain.stages.ground.notes import NOTE_TRUST, AppliedNote, apply_notes, with_notes
from terrain.stages.ground.season import means_for_snow, season_of, snow_may_close
from terrain.stages.ground.shares import Laid, errors_of, share_intervals, thinness
from terrain.stages.ground.stretches import Judged, make_stretches
from terrain.stages.ground.words import ride_words
from terrain.stages.ways.severity import severity_of
from terrain.stages.weather.along import soaked
from terrain.tables.climate.sites import (
    rain_mm_by_month,
)
from terrain.values.arrays import BoolArray, FloatArray, Int8Array
from terrain.values.forecast import Forecast
from terrain.values.ground import (
    BASES,
    Alternative,
    Basis,
    Ground,
    GroundNote,
    WayGround,
)
from terrain.values.match import Match
from terrain.values.relief import Relief
from terrain.values.trip import Trip
from terrain.values.views import RoadsView


def judge_ground(
    match: Match,
    roads: RoadsView,
    way_ground: WayGround,
    relief: Relief,
    *,
    day: date,
    trip: Trip,
    notes: Sequence[GroundNote] = (),
    others: Sequence[Alternative] = (),
    forecast: Forecast | None = None,
) -> Ground:
    """The ground of a ride at its season, with its grades and heights.

    day : to which map and notes age; the trip's date tells the season, which is open without one
    forecast : its rain takes the place of the month's where it tells enough of the days before
    """
    depart = None if trip.depart is None else trip.depart.date()
    return ground_along(
        match, roads, way_ground, month=None if depart is None else depart.month,
        today=day, notes=notes, grade_pct=relief.grade_between(match.from_m, match.to_m),
        others=others, ele_m=relief.ele_at((match.from_m + match.to_m) / 2),
        forecast=None if forecast is None or depart is None else (forecast, depart),
    )  # fmt: skip


def ground_along(
    match: Match,
    roads: RoadsView,
    way_ground: WayGround,
    *,
    month: int | None = None,
    rain_mm: FloatArray | None = None,
    today: date | None = None,
    notes: Sequence[GroundNote] = (),
    grade_pct: FloatArray | None = None,
    ele_m: FloatArray | None = None,
    others: Sequence[Alternative] = (),
    forecast: tuple[Forecast, date] | None = None,
) -> Ground:
    """The ground of each leg and stretch of a ride, and the shares of the whole.

    month : of the ride, 1..12; None leaves the season open
    rain_mm : mean rain of each month [mm], shape (12,) or per leg (k, 12); None takes the
        package's own rain map
    today : day the ride is judged for; the map and the notes age towards it. None: no ageing
    notes : the operator's own; they win while they are believed
    grade_pct : mean grade of each leg [%], shape (k,); steepness adds to the severity
    ele_m : height of each leg [m], NaN not known, shape (k,); tells where snow may lie
    forecast : with the day of setting off; tells how wet the days before are
    others : other ways the ride may have gone between far-apart points
    """
    held = apply_notes(match, notes, today)
    cuts = cut_ride(match, held)
    ground = Grounds.of(cuts, way_ground, held, today)
    rain = None if month is None else _rain(match, cuts, month, rain_mm)
    by_days = None
    if rain is not None and forecast is not None:
        lon, lat = match.lonlat(cuts.middle_m)
        rain, by_days = soaked(forecast[0], lon, lat, cuts.middle_m, forecast[1], rain)
    snow, mean_c = None, None
    if month is not None and ele_m is not None:
        snow, mean_c = _snow(match, roads, cuts, month, ele_m)
    grade = None if grade_pct is None else grade_pct[cuts.leg]
    severity = severity_of(roads.ways, cuts.way, ground.p, grade)
    judged = Judged(
        cuts=cuts, ground=ground, held=held, month=month, rain_mm=rain, mean_c=mean_c,
        by_days=by_days,
        season=season_of(roads.ways, cuts.way, ground.p, rain, snow=snow, mean_c=mean_c),
        severity=_with_notes(severity, cuts, held),
    )  # fmt: skip
    laid = _laid(match, cuts, ground)
    noted = with_notes(way_ground, roads, notes, today)
    shares, choices = share_intervals(laid, roads.ways, noted, others, gaps=match.gaps)
    stretches = make_stretches(match, roads.ways, way_ground, judged)
    basis_shares = _basis_shares(cuts.length_m, ground.basis)
    n = len(match.kind)
    return Ground(
        p=_mean_of_leg(cuts, ground.p, n),
        basis=_main_of_leg(cuts, ground.basis, n),
        severity=_worst_of_leg(cuts, judged.severity, n),
        stretches=stretches,
        shares=shares,
        basis_shares=basis_shares,
        choices=choices,
        words=ride_words(
            laid.length_m,
            laid.p,
            laid.basis,
            shares,
            basis_shares,
            thin=thinness(way_ground, laid.way, laid.basis) > 0,
        ),
        ways=noted,
        errors=errors_of(stretches, match, roads.ways, noted),
    )


def _rain(match: Match, cuts: RidePieces, month: int, rain_mm: FloatArray | None) -> FloatArray:
    """Mean rain of the month at each piece [mm]."""
    if rain_mm is None:
        lon, lat = match.lonlat(cuts.middle_m)
        return np.asarray(rain_mm_by_month(lon, lat)[:, month - 1], dtype=np.float64)
    if rain_mm.ndim == 1:
        return np.full(len(cuts.leg), float(rain_mm[month - 1]))
    return np.asarray(rain_mm[cuts.leg, month - 1], dtype=np.float64)


def _snow(
    match: Match, roads: RoadsView, cuts: RidePieces, month: int, ele_m: FloatArray
) -> tuple[BoolArray, FloatArray]:
    """Where snow may lie, and the mean of the month [C], at each piece."""
    lon, lat = match.lonlat(cuts.middle_m)
    height = ele_m[cuts.leg]
    temp_c = means_for_snow(lon, lat, height)
    return snow_may_close(roads.ways, cuts.way, temp_c, height, month), temp_c[:, month - 1]


def _with_notes(severity: Int8Array, cuts: RidePieces, held: Sequence[AppliedNote]) -> Int8Array:
    """A believed note's severity replaces what the tags lead to."""
    out = severity.copy()
    for i, h in enumerate(held):
        if h.note.severity is not None and h.belief >= NOTE_TRUST.wins:
            out[cuts.note == i] = int(h.note.severity)
    return out


def _basis_shares(length_m: FloatArray, basis: Int8Array) -> dict[Basis, float]:
    total = float(length_m[basis >= 0].sum())
    if not total > 0:
        return {b: float(b is Basis.UNMAPPED) for b in BASES}
    return {b: float(length_m[basis == i].sum()) / total for i, b in enumerate(BASES)}


def _mean_of_leg(cuts: RidePieces, p: FloatArray, n: int) -> FloatArray:
    """Length-weighted mean over the pieces of each leg, shape (n, 3)."""
    weight = np.maximum(cuts.length_m, 1e-9)
    total = np.bincount(cuts.leg, weights=weight, minlength=n)
    sums = [np.bincount(cuts.leg, weights=weight * p[:, g], minlength=n) for g in range(3)]
    return np.stack(sums, axis=1) / total[:, None]


def _main_of_leg(cuts: RidePieces, basis: Int8Array, n: int) -> Int8Array:
    """Basis of the longest piece of each leg, shape (n,)."""
    out = np.full(n, -1, dtype=np.int8)
    order = np.argsort(cuts.length_m, kind="stable")
    out[cuts.leg[order]] = basis[order]
    return out


def _worst_of_leg(cuts: RidePieces, severity: Int8Array, n: int) -> Int8Array:
    out = np.full(n, -1, dtype=np.int8)
    np.maximum.at(out, cuts.leg, severity)
    return out


def _laid(match: Match, cuts: RidePieces, ground: Grounds) -> Laid:
    on = cuts.land
    middle = cuts.middle_m[on]
    lon, lat = match.lonlat(middle)
    return Laid(
        way=cuts.way[on],
        length_m=cuts.length_m[on],
        p=ground.p[on],
        basis=ground.basis[on],
        note=np.where(ground.basis[on] == NOTED, cuts.note[on], -1),
        at_m=middle,
        lon=lon,
        lat=lat,
    )
